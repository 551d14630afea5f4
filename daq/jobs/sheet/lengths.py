"""How a job sheet writes lengths, limits, temperatures and words: text in, exact figures out.

Each figure keeps the text that it was written as, so that a report shows what the sheet says.
"""

import re
from dataclasses import dataclass
from decimal import Decimal
from typing import Annotated, Any

from pydantic import AfterValidator, BeforeValidator, Field

from daq.spec import DecisionRule, LengthUnit, SpecError, length_mm, limits_mm, rule_from, unit_of

_NUMBER = r"[+\-−]?[0-9]{1,3}(?:\.[0-9]{1,2})?"
_PLAIN = re.compile(r"[0-9]{1,4}(?:\.[0-9]{1,9})?")
_FROM_TO = re.compile(rf"(?P<low>{_NUMBER}) ?°?C? ?(?:to|–|\.\.) ?(?P<high>{_NUMBER}) ?°? ?C")
_ABOUT = re.compile(rf"(?P<middle>{_NUMBER}) ?°?C? ?(?:±|\+/-) ?(?P<half>{_NUMBER}) ?°? ?C")
_COLDEST_C, _HOTTEST_C = Decimal(-60), Decimal(250)
TEMPERATURE_HINT = 'write "10 to 30 °C" or "20 ± 5 °C"'


@dataclass(frozen=True, slots=True)
class Length:
    """A length as a sheet writes it: exact millimetres, and the unit and text it was written in."""

    mm: Decimal
    unit: LengthUnit
    text: str

    def __str__(self) -> str:
        return self.text


@dataclass(frozen=True, slots=True)
class Limits:
    """Limits as deviations from the nominal, in exact millimetres; None where there is none."""

    lower_mm: Decimal | None
    upper_mm: Decimal | None
    text: str

    def __str__(self) -> str:
        return self.text


@dataclass(frozen=True, slots=True)
class Temperatures:
    """From which temperature to which a figure holds, in °C, both ends included."""

    low_c: Decimal
    high_c: Decimal
    text: str

    def __str__(self) -> str:
        return self.text


def _squeezed(given: Any) -> Any:
    """Text on one line without needless blanks; anything else as it is."""
    if not isinstance(given, str):
        return given
    words = " ".join(given.split())
    if odd := [each for each in words if not each.isprintable()]:
        raise ValueError(f"it has a character that cannot be shown ({odd[0]!r}); take it out")
    return words


def _length(given: Any, *, signed: bool = False) -> Length:
    if isinstance(given, Length):
        return given
    try:
        return Length(length_mm(given, signed=signed), unit_of(given), _squeezed(given))
    except SpecError as error:
        raise ValueError(str(error)) from error


def _signed_length(given: Any) -> Length:
    return _length(given, signed=True)


def _above_zero(length: Length) -> Length:
    if length.mm <= 0:
        raise ValueError(f"{length.text!r} must be above zero")
    return length


def _limits(given: Any) -> Limits:
    if isinstance(given, Limits):
        return given
    try:
        return Limits(*limits_mm(given), _squeezed(given))
    except SpecError as error:
        raise ValueError(str(error)) from error


def _temperatures(given: Any) -> Temperatures:
    if isinstance(given, Temperatures):
        return given
    if not isinstance(given, str):
        raise ValueError(f"{given!r} has no unit; {TEMPERATURE_HINT}")
    words = " ".join(given.replace("−", "-").split())
    if match := _FROM_TO.fullmatch(words):
        low, high = Decimal(match["low"]), Decimal(match["high"])
    elif match := _ABOUT.fullmatch(words):
        middle, half = Decimal(match["middle"]), Decimal(match["half"])
        low, high = middle - half, middle + half
    else:
        raise ValueError(f"{given!r} is no range of temperature; {TEMPERATURE_HINT}")
    if not low < high:
        raise ValueError(f"{given!r} runs backwards; write the lower temperature first")
    if low < _COLDEST_C or high > _HOTTEST_C:
        raise ValueError(f"{given!r} is out of all proportion; {TEMPERATURE_HINT}")
    return Temperatures(low, high, words)


def _ratio(given: Any) -> Decimal:
    """A plain number without a unit, exactly as written; in quotes or not."""
    if isinstance(given, Decimal):
        return given
    word = repr(given) if isinstance(given, int | float) else given
    if isinstance(given, bool) or not isinstance(word, str) or not _PLAIN.fullmatch(word.strip()):
        raise ValueError(f"{given!r} is no plain number such as 1.4")
    return Decimal(word.strip())


def _rule(given: Any) -> Any:
    """A decision rule from the words that name it."""
    if not isinstance(given, str):
        return given
    try:
        return rule_from(given)
    except SpecError as error:
        raise ValueError(str(error)) from error


Words = Annotated[str, BeforeValidator(_squeezed), Field(min_length=1, max_length=300)]
"""Text for people, on one line, never empty."""

Name = Annotated[str, BeforeValidator(_squeezed), Field(min_length=1, max_length=60)]
"""What something is called on a sheet; never empty."""

Plain = Annotated[Length, BeforeValidator(_length)]
"""A length, 0 or more."""

Signed = Annotated[Length, BeforeValidator(_signed_length)]
"""A length that may be below zero, as a recession is."""

Size = Annotated[Plain, AfterValidator(_above_zero)]
"""A length above zero."""

Deviations = Annotated[Limits, BeforeValidator(_limits)]
"""Limits as ``daq.spec.limits_mm`` reads them."""

TemperatureRange = Annotated[Temperatures, BeforeValidator(_temperatures)]
"""A range of temperature: ``"10 to 30 °C"``, ``"20 ± 5 °C"``."""

Ratio = Annotated[Decimal, BeforeValidator(_ratio)]
"""A number without a unit, 0 or more, exactly as written."""

Rule = Annotated[DecisionRule, BeforeValidator(_rule)]
"""A decision rule in the words that ``daq.spec.rule_from`` reads."""
