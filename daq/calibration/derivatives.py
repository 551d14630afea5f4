"""Derivatives of a model function by differences, at the estimates of its inputs.

A model takes a mapping of input names to values and gives the measurand's value. Written with
plain arithmetic, or with numpy's functions, it serves a Monte Carlo run too.
"""

import math
from collections.abc import Callable, Mapping
from typing import Any

from daq.calibration.errors import CalibrationError

Model = Callable[[Mapping[str, Any]], Any]
"""From values by input name to the value of the measurand; floats, or numpy arrays of one shape."""

_SHRINK = 2.0
_ROUNDS = 14
_WIDEST_RELATIVE = 0.02

_FRACTION_OF_U = 0.125
"""Wide enough that rounding does no harm, narrow enough for a derivative at the estimate."""


def value_at(model: Model, at: Mapping[str, float]) -> float:
    """The model's value, as a float.

    Raises:
        CalibrationError: the model fails there, or gives no finite number.
    """
    try:
        value = float(model(at))
    except (ArithmeticError, ValueError) as error:
        raise CalibrationError(f"the model has no value at {dict(at)}: {error}") from error
    if not math.isfinite(value):
        raise CalibrationError(f"the model gives {value} at {dict(at)}; it must give a number")
    return value


def sensitivity(model: Model, at: Mapping[str, float], name: str, u: float) -> float:
    """The partial derivative of ``model`` by ``name``: how much the result moves with that input.

    Central differences over a step that is halved from some u downwards, extrapolated to step
    zero; of all the extrapolations the one that agrees best with its neighbours is taken. For a
    smooth model that is good to about 1e-10 of the derivative, unless the result is far larger
    than its change: let the model give a deviation from the nominal, rather than the whole length.

    Raises:
        CalibrationError: the model has no value near the estimates.

    Source: JCGM 100:2008, 5.1.3; the extrapolation is that of Richardson.
    """
    step = max(4 * u, _WIDEST_RELATIVE * abs(at[name])) or _WIDEST_RELATIVE
    for _ in range(60):
        try:
            return _extrapolated(model, at, name, step)
        except CalibrationError:
            step /= 4
    raise CalibrationError(
        f"the model has no values on both sides of {name} = {at[name]:g}, so no sensitivity; "
        "give the sensitivity"
    )


def _extrapolated(model: Model, at: Mapping[str, float], name: str, step: float) -> float:
    previous: list[float] = []
    best, least = math.nan, math.inf
    for row in range(_ROUNDS):
        current = [_central(model, at, name, step / _SHRINK**row)]
        for order, before in enumerate(previous, start=1):
            factor = _SHRINK ** (2 * order)
            current.append((factor * current[-1] - before) / (factor - 1))
            doubt = max(abs(current[-1] - current[-2]), abs(current[-1] - before))
            if doubt < least:
                least, best = doubt, current[-1]
        if least == 0 or (row > 3 and abs(current[-1] - previous[-1]) > 100 * least):
            break  # rounding has taken over
        previous = current
    return best


def _central(model: Model, at: Mapping[str, float], name: str, step: float) -> float:
    above, below = at[name] + step, at[name] - step
    rise = value_at(model, {**at, name: above}) - value_at(model, {**at, name: below})
    # The step that was really taken, after rounding.
    return rise / (above - below)


def second_order(
    model: Model, at: Mapping[str, float], u: Mapping[str, float]
) -> dict[tuple[str, str], float]:
    """The terms of next higher order of the variance, by pair of inputs, in the result's unit².

    Each pair of inputs i ≠ j stands once, with both its terms (i,j) and (j,i); (i,i) stands for
    itself. A term may be below zero. They hold for independent inputs that are about normal.

    Raises:
        CalibrationError: the model has no value within u/4 of the estimates.

    Source: JCGM 100:2008, 5.1.2 note: Σ Σ [½ f_ij² + f_i f_ijj] u_i² u_j², the derivatives taken
    as differences over ±u/8.
    """
    # Differences in steps of s·u, divided by s alone: they hold the factors u_i u_j already.
    s = _FRACTION_OF_U
    middle = value_at(model, at)
    names = [name for name, each in u.items() if each > 0]

    def f(**steps: float) -> float:
        return value_at(model, {**at, **{n: at[n] + steps[n] * s * u[n] for n in steps}})

    first = {n: (f(**{n: 1}) - f(**{n: -1})) / (2 * s) for n in names}
    terms: dict[tuple[str, str], float] = {}
    for i, a in enumerate(names):
        up, down = f(**{a: 1}), f(**{a: -1})
        second = (up - 2 * middle + down) / s**2
        third = (f(**{a: 2}) - 2 * up + 2 * down - f(**{a: -2})) / (2 * s**3)
        terms[a, a] = second * second / 2 + first[a] * third
        for b in names[i + 1 :]:
            corner = {(s, t): f(**{a: s, b: t}) for s in (1, -1) for t in (1, -1)}
            both = (corner[1, 1] - corner[1, -1] - corner[-1, 1] + corner[-1, -1]) / (4 * s**2)
            b_up, b_down = f(**{b: 1}), f(**{b: -1})
            abb = (corner[1, 1] + corner[1, -1] - 2 * up) / 2
            abb -= (corner[-1, 1] + corner[-1, -1] - 2 * down) / 2
            baa = (corner[1, 1] + corner[-1, 1] - 2 * b_up) / 2
            baa -= (corner[1, -1] + corner[-1, -1] - 2 * b_down) / 2
            terms[a, b] = both * both + (first[a] * abb + first[b] * baa) / s**3
    return terms
