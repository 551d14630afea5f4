"""The door for lengths: text to exact millimetres, and exact millimetres to text.

Inside restpoint a length is millimetres. Text is taken apart here, strictly; pint only says how
many millimetres a unit's name stands for, and is imported when a unit other than plain ``mm`` or
``in`` is first met. Nothing is evaluated. The result is exact or it is refused.
"""

import re
from collections.abc import Iterable
from decimal import ROUND_HALF_EVEN, Context, Decimal, Inexact, InvalidOperation
from fractions import Fraction
from functools import lru_cache
from typing import Literal

from daq.spec.errors import SpecError

LengthUnit = Literal["mm", "in"]
"""The units a screen and a report can be in."""

LONGEST_MM = Decimal(100_000)
"""No length here is longer than 100 m. More is a slip of the pen or of a unit."""

FLOAT_STEP_MM = Decimal("1e-9")
"""A binary float is read to this step (a picometre); see ``exact_mm``."""

MOST_DECIMALS_MM = 60
"""No length here has more decimals. It bounds the work that exact arithmetic can be asked for."""

EXACT = Context(prec=100, traps=[Inexact, InvalidOperation])
"""Decimal arithmetic that raises rather than lose a digit."""

_ROUNDING = Context(prec=100, rounding=ROUND_HALF_EVEN, traps=[InvalidOperation])

# Two ratios are kept here so that the common case does not wait for pint to load (about half a
# second). Both are exact: 1 in = 25.4 mm by definition (NIST SP 811, B.6). A test asks pint too.
_PLAIN_RATIOS = {"mm": Fraction(1), "in": Fraction(127, 5), '"': Fraction(127, 5)}
_INCH = _PLAIN_RATIOS["in"]

# What pint calls the units this trade writes. Its other lengths are refused: nobody specifies a
# clearance in feet or parsecs, but "5 cin" and "5 dm" are typing mistakes.
_TRADE_UNITS = frozenset(
    {"millimeter", "centimeter", "meter", "micrometer", "micron", "nanometer"}
    | {"inch", "thou", "microinch"}
)
_UNIT_HINT = "the units are mm, cm, m, µm (um), nm, in, thou"

_PLAIN_NUMBER = r"(?:[0-9]+(?:\.[0-9]+)?|\.[0-9]+)"
_RULE_FRACTION = r"(?:[0-9]{1,4} )?[0-9]{1,3}/[0-9]{1,3}"
_LENGTH = re.compile(
    rf"(?P<sign>[+\-−]?) ?(?P<number>{_RULE_FRACTION}|{_PLAIN_NUMBER}) ?(?P<unit>[A-Za-zµμ]+|\")"
)
_BARE_NUMBER = re.compile(rf"[+\-−]? ?{_PLAIN_NUMBER}")
_DECIMAL_COMMA = re.compile(r"[+\-−]? ?[0-9]*,[0-9]+ ?[A-Za-zµμ]*")
_PERHAPS_THOUSANDS = re.compile(r"[+\-−]? ?[1-9][0-9]{0,2},[0-9]{3}[^0-9]*")
_NOT_FINITE = re.compile(r"[+\-−]?(nan|inf|infinity)\b", re.IGNORECASE)
_MOST_WHOLE_DIGITS = 6
_MOST_DECIMALS = 12


def length_mm(text: str, *, signed: bool = False) -> Decimal:
    """The length that ``text`` names, in millimetres, exactly.

    Args:
        text: a number with a unit: ``"12.7 mm"``, ``"0.5 in"``, ``"25 um"``, ``"2 thou"``. Inches
            may be a rule's fraction (halves to 128ths): ``"1/2 in"``, ``"1 1/2 in"``.
        signed: whether a negative length makes sense here, as it does for a deviation.

    Returns:
        Millimetres, with every digit: ``"0.0005 in"`` gives 0.0127.

    Raises:
        SpecError: it is no such length. A bare number is refused, not taken as millimetres; so
            are NaN, infinity, a decimal comma, an expression, and a unit that is no length.
    """
    if not isinstance(text, str):
        kind = type(text).__name__
        raise SpecError(f"{text!r} (a {kind}) has no unit; write it in quotes: '{text} mm'")
    squeezed = " ".join(text.split())
    match = _LENGTH.fullmatch(squeezed)
    if match is None:
        raise SpecError(_why_not(text, squeezed))
    ratio = _unit_ratio(match["unit"], text)
    mm = _number(match["number"], ratio, text) * ratio
    if match["sign"] in ("-", "−"):
        mm = -mm
    if mm < 0 and not signed:
        raise SpecError(f"{text!r} is below zero, and a length is not")
    if abs(mm) > LONGEST_MM:
        raise SpecError(f"{text!r} is longer than 100 m; check the number and the unit")
    # The number's own last place is kept where it can be: 76.20 mm stays 76.20.
    return _as_decimal(mm, places=len(match["number"].partition(".")[2]))


def unit_of(text: str) -> LengthUnit:
    """The unit someone thinks in who wrote the length ``text``: ``"in"`` for inches and thou.

    Raises:
        SpecError: as ``length_mm``.
    """
    length_mm(text, signed=True)
    match = _LENGTH.fullmatch(" ".join(text.split()))
    assert match is not None
    # Only inch units have a factor 127 in their ratio.
    return "in" if _unit_ratio(match["unit"], text).numerator % 127 == 0 else "mm"


def exact_mm(value_mm: Decimal | float) -> Decimal:
    """A computed length in millimetres as a Decimal, so that limits are compared exactly.

    Args:
        value_mm: a finite length up to 100 m either way. A Decimal or int is taken as it is. A
            float is rounded to 1e-9 mm, half to even: 76.22 held in binary is
            76.2199999999999988…, and that dust must not decide on which side of a limit it lies.

    Raises:
        SpecError: NaN, infinite, longer than 100 m, or with more than 60 decimals.
    """
    exact = value_mm if isinstance(value_mm, Decimal) else Decimal(value_mm)
    if not exact.is_finite():
        raise SpecError(f"{value_mm} is not a finite length; measure again")
    if abs(exact) > LONGEST_MM:
        raise SpecError(f"{value_mm} mm is longer than 100 m; check the gauge's unit")
    if isinstance(value_mm, float):
        return _without_trailing_zeros(exact.quantize(FLOAT_STEP_MM, context=_ROUNDING))
    if _exponent(exact) < -MOST_DECIMALS_MM:
        raise SpecError(f"{value_mm} mm has more decimals than any measurement")
    return exact


def digits_in(
    value_mm: Decimal | float, unit: LengthUnit, step_mm: Decimal, *, sign: bool = True
) -> str:
    """The digits a screen or report shows for a length: ``"+0.080"``.

    Rounded once, to the nearest multiple of the step, a tie to the even multiple (ISO 80000-1:2009,
    Annex B, rule A). A value that rounds to zero has no sign.

    Args:
        value_mm: millimetres, finite. A float is read as ``exact_mm`` does.
        unit: what to show it in.
        step_mm: the display step in millimetres, above 0. In inches the step is ``step_mm`` where
            that is a plain decimal of an inch (0.0127 mm is 0.0005 in), else the next 1-2-5 step
            that is no finer (0.01 mm is 0.0005 in): no digit the gauge does not have.
        sign: whether a positive value carries a plus, as a deviation should.

    Raises:
        SpecError: the value is not finite, or the step is not above 0.
    """
    if not (step_mm.is_finite() and step_mm > 0):
        raise SpecError(f"a display step of {step_mm} mm is none; it must be above 0")
    return _digits(exact_mm(value_mm), unit, step_mm, sign)


@lru_cache(maxsize=1024)  # a screen shows the same lengths again and again
def _digits(exact: Decimal, unit: LengthUnit, step_mm: Decimal, sign: bool) -> str:
    step = step_mm if unit == "mm" else _inch_step(step_mm)
    ratio = Fraction(1) if unit == "mm" else _INCH
    # round() of a Fraction is exact and takes a tie to the even multiple.
    multiple = round(Fraction(exact) / (Fraction(step) * ratio))
    shown = EXACT.multiply(Decimal(multiple), step)
    return f"{shown:{'+' if sign and multiple else ''}f}" if multiple else f"{abs(shown):f}"


def shown_in(
    value_mm: Decimal | float, unit: LengthUnit, step_mm: Decimal, *, sign: bool = True
) -> str:
    """A length as a screen or report shows it, with its unit: ``"+0.080 mm"``.

    Arguments, rounding and errors are those of ``digits_in``.
    """
    return f"{digits_in(value_mm, unit, step_mm, sign=sign)} {unit}"


@lru_cache(maxsize=256)
def _inch_step(step_mm: Decimal) -> Decimal:
    step_in = Fraction(step_mm) / _INCH
    if (step_in * 10**7).denominator == 1:
        return _as_decimal(step_in)
    candidates: Iterable[Decimal] = (
        Decimal(lead).scaleb(exponent) for exponent in range(-9, 5) for lead in (1, 2, 5)
    )
    return next(candidate for candidate in candidates if candidate >= step_in)


def _number(number: str, ratio: Fraction, text: str) -> Fraction:
    """The number before the unit: a plain decimal, or a rule's fraction of an inch."""
    if "/" not in number:
        whole, _, decimals = number.partition(".")
        if len(whole) > _MOST_WHOLE_DIGITS or len(decimals) > _MOST_DECIMALS:
            raise SpecError(
                f"{text!r} has too many digits: at most {_MOST_WHOLE_DIGITS} before the point "
                f"and {_MOST_DECIMALS} after it"
            )
        return Fraction(number)
    *whole_inches, fraction = number.split(" ")
    top, bottom = (int(part) for part in fraction.split("/"))
    if ratio != _INCH:
        raise SpecError(f"{text!r}: fractions are for inches; write a decimal, such as 0.5 mm")
    if bottom not in (2, 4, 8, 16, 32, 64, 128) or not 0 < top < bottom:
        raise SpecError(
            f"{text!r} is not a fraction on an inch rule (halves to 128ths); write decimals"
        )
    return Fraction(top, bottom) + sum(int(inches) for inches in whole_inches)


def _why_not(text: str, squeezed: str) -> str:
    """What is wrong with ``text``, and what to write."""
    if _NOT_FINITE.match(squeezed):
        return f"{text!r} is not a finite length; write a number such as 12.7 mm"
    if _DECIMAL_COMMA.fullmatch(squeezed):
        pointed = squeezed.replace(",", ".")
        if _PERHAPS_THOUSANDS.fullmatch(squeezed):
            pointed += f", or {squeezed.replace(',', '')} if the comma marks thousands"
        return f"{text!r} has a decimal comma; use a point: {pointed}"
    if "," in squeezed:
        return f"{text!r} has a comma; use a point for decimals and no mark for thousands"
    if _BARE_NUMBER.fullmatch(squeezed):
        return f"{text!r} has no unit; write {squeezed} mm or {squeezed} in"
    return f"{text!r} is not a length such as 12.7 mm, 0.5 in or 25 µm"


def _unit_ratio(name: str, text: str) -> Fraction:
    ratio = _PLAIN_RATIOS.get(name) or _ratio_by_pint(name)
    if ratio is None:
        better = name.lower()
        hint = _UNIT_HINT
        if better != name and _ratio_by_pint(better) is not None:
            hint = f"write {better}, in small letters"
        elif better in ("mil", "mils"):
            hint = "a mil is a thousandth of an inch to some and a millimetre to others: "
            hint += "write thou or mm"
        raise SpecError(f"{text!r}: {name!r} is not a unit of length used here; {hint}")
    return ratio


@lru_cache(maxsize=64)
def _ratio_by_pint(name: str) -> Fraction | None:
    """Millimetres in one ``name``, exactly; None if pint or this trade has no such length."""
    registry = _registry()
    readings = registry.parse_unit_name(name)
    if not readings or "".join(readings[0][:2]) not in _TRADE_UNITS:
        return None
    return Fraction(registry.Quantity(Fraction(1), name).to("mm").magnitude)


@lru_cache(maxsize=1)
def _registry():  # type: ignore[no-untyped-def]  # naming pint's type would import pint
    import pint

    return pint.UnitRegistry(non_int_type=Fraction)


def _as_decimal(value: Fraction, places: int = 0) -> Decimal:
    """A fraction that ends in decimals, exactly, with at least ``places`` of them."""
    exact = EXACT.divide(Decimal(value.numerator), Decimal(value.denominator))
    return EXACT.quantize(exact, Decimal(1).scaleb(min(_exponent(exact), -places)))


def _exponent(value: Decimal) -> int:
    exponent = value.as_tuple().exponent
    assert isinstance(exponent, int)  # it is a letter only for NaN and infinity
    return exponent


def _without_trailing_zeros(value: Decimal) -> Decimal:
    return value.quantize(Decimal(1)) if value == value.to_integral() else value.normalize()
