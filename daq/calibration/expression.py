"""A model written as arithmetic: ``ls + d - ls*(da*t + a*dt)``, worked out by nothing but this.

Allowed are names, numbers, brackets, ``+ - * / **`` and the functions of `FUNCTIONS`. Nothing else
of the language it is read with is: no attribute, no index, no text, no call of anything else.
Numbers are floats, so that no power grows beyond what a float holds.
"""

import ast
import math
import warnings
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from daq.calibration.errors import CalibrationError

FUNCTIONS = ("sqrt", "sin", "cos", "tan", "exp", "log", "abs")
"""Angles are in radians; log is the natural logarithm."""

LONGEST = 1000
"""Characters of an expression; a model of a length has some tens."""

_DEEPEST = 60

_OPERATORS: dict[type[ast.operator], Callable[[Any, Any], Any]] = {
    ast.Add: lambda a, b: a + b,
    ast.Sub: lambda a, b: a - b,
    ast.Mult: lambda a, b: a * b,
    ast.Div: lambda a, b: a / b,
}


@dataclass(frozen=True, slots=True)
class Expression:
    """Arithmetic over named inputs. It is a model: call it with values by name.

    text: as it was written. names: of the inputs it uses, in their first order.
    """

    text: str
    names: tuple[str, ...]
    tree: ast.expr

    def __call__(self, values: Mapping[str, Any]) -> Any:
        """The value, from floats or from arrays of one shape.

        Raises:
            ArithmeticError, ValueError: it has none there, such as a root of a negative number.
        """
        return _value(self.tree, values)


def expression_from(text: str) -> Expression:
    """The expression that ``text`` holds.

    Raises:
        CalibrationError: it is no such arithmetic; with the part that is not.
    """
    if len(text) > LONGEST:
        raise CalibrationError(f"the model has more than {LONGEST} characters; shorten it")
    squeezed = " ".join(text.split())
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error")  # what Python would merely grumble at is refused
            tree = ast.parse(squeezed, mode="eval").body
    except (SyntaxError, ValueError, RecursionError, MemoryError):
        raise CalibrationError(
            f"'{squeezed}' is no arithmetic; write it like l0 + d*(t - 20), with * for times"
        ) from None
    names: dict[str, None] = {}
    _check(tree, squeezed, names, 0)
    return Expression(squeezed, tuple(names), tree)


def _check(node: ast.expr, text: str, names: dict[str, None], depth: int) -> None:
    """Refuse whatever is not allowed; collect the names."""
    if depth > _DEEPEST:
        raise CalibrationError("the model has too many brackets in brackets; simplify it")
    for part in _parts(node, text):
        _check(part, text, names, depth + 1)
    if isinstance(node, ast.Name):
        # As it was typed: the parser changes some letters, such as one µ into another.
        node.id = ast.get_source_segment(text, node) or node.id
        names.setdefault(node.id)


def _parts(node: ast.expr, text: str) -> tuple[ast.expr, ...]:
    """What an allowed node is made of."""
    match node:
        case ast.Name(id=name):
            if name in FUNCTIONS:
                raise CalibrationError(f"'{name}' needs brackets: {name}(…)")
            return ()
        case ast.Constant(value=int() | float() as number):
            if not isinstance(number, bool) and _is_float(number):
                return ()
        case ast.UnaryOp(op=ast.UAdd() | ast.USub(), operand=operand):
            return (operand,)
        case ast.BinOp(op=ast.Add() | ast.Sub() | ast.Mult() | ast.Div() | ast.Pow()):
            return (node.left, node.right)
        case ast.Call(func=ast.Name(id=name), args=[argument], keywords=[]) if name in FUNCTIONS:
            return (argument,)
    said = ast.get_source_segment(text, node) or text
    hint = " (a power is **)" if isinstance(node, ast.BinOp) else ""
    raise CalibrationError(
        f"'{said}' may not stand in a model{hint}; allowed are names, numbers, brackets, "
        f"+ - * / ** and {', '.join(FUNCTIONS)}"
    )


def _is_float(number: float) -> bool:
    try:
        return math.isfinite(float(number))
    except OverflowError:
        return False


def _value(node: ast.expr, values: Mapping[str, Any]) -> Any:
    match node:
        case ast.Name(id=name):
            return values[name]
        case ast.Constant(value=int() | float() as number):
            return float(number)
        case ast.UnaryOp(op=op, operand=operand):
            inner = _value(operand, values)
            return -inner if isinstance(op, ast.USub) else inner
        case ast.BinOp(left=left, op=ast.Pow(), right=right):
            return _power(_value(left, values), _value(right, values))
        case ast.BinOp(left=left, op=op, right=right):
            return _OPERATORS[type(op)](_value(left, values), _value(right, values))
        case ast.Call(func=ast.Name(id=name), args=[argument]):
            return _applied(name, _value(argument, values))
    raise AssertionError(node)  # expression_from lets nothing else through


def _power(base: Any, exponent: Any) -> Any:
    result = base**exponent
    if isinstance(result, complex):
        raise ValueError(f"{base:g} to the power of {exponent:g} is no real number")
    return result


def _applied(name: str, value: Any) -> Any:
    if name == "abs":
        return abs(value)
    if isinstance(value, float | int):
        return getattr(math, name)(value)
    import numpy as np

    return getattr(np, name)(value)
