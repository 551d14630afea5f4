"""The shapes of IEEE 488.2 numbers: one for each sign, number of digits and exponent."""

from collections.abc import Iterator

from drivers.blocks.body import NO_ZERO, Body
from drivers.blocks.rows import DIGITS
from drivers.blocks.shape import MOST_COUNT, Sketch
from drivers.layouts import NumericLayout
from drivers.layouts.numeric import LONGEST_MM

ZERO = frozenset(b"0")

MOST_WHOLE, MOST_DECIMALS, MOST_DIGITS = 9, 12, 18
"""Digits before the point, behind it, and what a block can read of one number."""


def numeric_sketches(layout: NumericLayout, before: int) -> Iterator[Sketch]:
    """The sketch of each number, for frames with ``before`` bytes in front of it.

    The place of a digit says what it is worth, and the exponent stands in the sketch: so digits
    that would be less than a display step can only be zeros, and need no arithmetic.
    """
    if not 0 <= -int(layout.step.as_tuple().exponent) <= MOST_DECIMALS:
        return
    for whole in [layout.whole] if layout.whole else _whole_digits(layout):
        for decimals in _decimal_digits(layout):
            for exponent in _exponents(layout, whole):
                if whole + decimals <= MOST_DIGITS:
                    yield from _sketches(layout, whole, decimals, exponent, before)


def _whole_digits(layout: NumericLayout) -> range:
    return range(1, 2 if layout.form == "NR3" else MOST_WHOLE + 1)


def _decimal_digits(layout: NumericLayout) -> list[int]:
    if layout.form == "NR1":
        return [0]
    if layout.decimals is not None:
        return [layout.decimals]
    return list(range(1, MOST_DECIMALS + 1))


def _exponents(layout: NumericLayout, whole: int) -> range:
    """The exponents of every number from one display step to ``LONGEST_MM``."""
    if layout.form != "NR3":
        return range(1)
    most = LONGEST_MM / layout.unit.in_mm / layout.worth
    return range((layout.step / layout.worth).adjusted() - whole + 1, most.adjusted() - whole + 2)


def _sketches(
    layout: NumericLayout, whole: int, decimals: int, exponent: int, before: int
) -> Iterator[Sketch]:
    """The sketches with that many digits and that exponent, zero's among them."""
    shown = -int(layout.step.as_tuple().exponent)
    # The power of ten that the last whole digit stands for, in last places of the display.
    power = exponent + layout.worth.adjusted() + shown
    used = min(whole + decimals, max(0, whole + power))
    worth = 10 ** max(0, power - decimals)
    is_read = used > 0 and worth * 10**used <= MOST_COUNT
    digits = [DIGITS] * used + [ZERO] * (whole + decimals - used)
    if layout.form == "NR3" or (layout.whole is None and whole > 1):
        digits[0] &= NO_ZERO
    if layout.decimals is None and decimals > 1:
        digits[-1] &= NO_ZERO
    is_read = is_read and all(digits)
    zeros = [ZERO] * (whole + decimals)
    for sign in ["+-"] if layout.sign == "always" else ["", "-"]:
        if is_read:
            sketch = _body(layout, sign, digits, whole, exponent, used).sketch(
                layout.unit, shown, before
            )
            sketch.worth, sketch.longest_mm = worth, LONGEST_MM
            yield sketch
        if layout.form == "NR3" and exponent == 0 and decimals == _decimal_digits(layout)[0]:
            yield _body(layout, sign, zeros, whole, 0, 1).sketch(layout.unit, shown, before)


def _body(
    layout: NumericLayout,
    sign: str,
    digits: list[frozenset[int]],
    whole: int,
    exponent: int,
    used: int,
) -> Body:
    """What stands in the payload; the number are the first ``used`` digits."""
    body = Body().then_sign(sign)
    for place, allowed in enumerate(digits):
        if place == whole:
            body = body.then_text(".")
        body = body.then_digits(allowed) if place < used else body.then(allowed)
    if layout.form != "NR3":
        return body
    plus = "+" if layout.exponent_sign == "always" else ""
    size = f"{abs(exponent):0{layout.exponent_digits}d}"
    return body.then_text(f"E{'-' if exponent < 0 else plus}{size}")
