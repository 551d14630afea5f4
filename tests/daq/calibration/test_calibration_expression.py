"""Models written as arithmetic: what they come to, and that nothing else is ever run."""

import math
import warnings

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daq.calibration.derivatives import value_at
from daq.calibration.errors import CalibrationError
from daq.calibration.expression import FUNCTIONS, LONGEST, expression_from


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("2 + 3*4", 14.0),
        ("-(2 - 3) / 4", 0.25),
        ("2**3**2", 512.0),
        ("-2**2", -4.0),
        ("+1.5e-3", 0.0015),
        ("sqrt(2)**2", 2.0),
        ("sin(1)**2 + cos(1)**2", 1.0),
        ("tan(0.5) - sin(0.5)/cos(0.5)", 0.0),
        ("log(exp(3)) + abs(-1)", 4.0),
        ("1/3\n + 1/3 \t+ 1/3", 1.0),
        ("7 / 2", 3.5),
    ],
)
def test_arithmetic_comes_out(text, value):
    assert expression_from(text)({}) == pytest.approx(value, abs=1e-12)


def test_names_are_found_in_order_and_kept_as_they_were_typed():
    expression = expression_from("ls + µ*(δα*θ - ls)")
    assert expression.names == ("ls", "µ", "δα", "θ")
    assert expression({"ls": 1.0, "µ": 2.0, "δα": 3.0, "θ": 4.0}) == 23.0


def test_arrays_go_through_like_single_figures():
    numpy = pytest.importorskip("numpy")
    expression = expression_from("sqrt(a)*cos(b) - abs(a)/exp(b)")
    a, b = numpy.array([1.0, 4.0, 9.0]), numpy.array([0.1, 0.2, 0.3])
    singly = [expression({"a": float(x), "b": float(y)}) for x, y in zip(a, b, strict=True)]
    assert expression({"a": a, "b": b}) == pytest.approx(singly, rel=1e-14)


@pytest.mark.parametrize(
    "text",
    [
        "__import__('os').system('true')",
        "().__class__",
        "a.real",
        "a[0]",
        "[1, 2]",
        "(1, 2)",
        "'text'",
        "f'{a}'",
        "lambda: 1",
        "a if b else c",
        "a and b",
        "not a",
        "~a",
        "a < b",
        "a % b",
        "a // b",
        "a ^ 2",
        "a @ b",
        "(a := 1)",
        "sqrt",
        "sqrt()",
        "sqrt(a, b)",
        "sqrt(x=a)",
        "sqrt(*a)",
        "eval(a)",
        "open(a)",
        "a(b)",
        "sqrt(a)(b)",
        "True",
        "None",
        "...",
        "1j",
        "1e999",
        "9" * 400,
        "yield a",
        "await a",
        "{a for a in b}",
        "a; b",
        "a = b",
        "import os",
        "",
        "a +",
        "(" * 300,
        "-" * 200 + "a",
        "a\0b",
        "2 a",
        "a + " * LONGEST,
    ],
)
def test_nothing_else_is_let_through(text):
    with pytest.raises(CalibrationError):
        expression_from(text)


def test_the_message_names_the_part_that_is_wrong():
    with pytest.raises(CalibrationError, match=r"'b\.real' may not stand in a model; allowed are"):
        expression_from("a + 2*b.real")
    with pytest.raises(CalibrationError, match=r"'a\*t \^ 2' may not stand .* \(a power is \*\*\)"):
        expression_from("a*t ^ 2")
    with pytest.raises(CalibrationError, match=r"'sqrt' needs brackets: sqrt\(…\)"):
        expression_from("sqrt + 1")


@pytest.mark.parametrize(
    "text", ["9**9**9**9", "1/(a - a)", "sqrt(0 - a)", "(0 - a)**0.5", "log(a-a)"]
)
def test_what_has_no_value_is_told_and_takes_no_time(text):
    with pytest.raises(CalibrationError, match="the model has no value at"):
        value_at(expression_from(text), {"a": 1.0})


numbers = st.floats(0.1, 10).map(lambda x: repr(round(x, 3)))
sums = st.recursive(
    numbers | st.sampled_from(["a", "b"]),
    lambda inner: (
        st.tuples(inner, st.sampled_from("+-*/"), inner).map(lambda t: f"({t[0]} {t[1]} {t[2]})")
        | st.tuples(st.sampled_from(FUNCTIONS[1:3]), inner).map(lambda t: f"{t[0]}({t[1]})")
    ),
    max_leaves=12,
)


@given(sums)
def test_any_arithmetic_is_what_the_language_itself_makes_of_it(text):
    at = {"a": 1.25, "b": -0.5}
    known = {name: getattr(math, name) for name in FUNCTIONS[1:3]}
    try:
        expected = eval(text, {"__builtins__": {}, **known}, at)
    except ZeroDivisionError:
        return
    assert expression_from(text)(at) == expected


@pytest.mark.parametrize("text", ["1or b", "2and b", "0xfor x", "1if a else 2"])
def test_what_python_merely_grumbles_at_is_refused_without_a_word_of_pythons(text):
    with warnings.catch_warnings(record=True) as said:
        warnings.simplefilter("always")
        with pytest.raises(CalibrationError, match="is no arithmetic"):
            expression_from(text)
    assert said == []
