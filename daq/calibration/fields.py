"""How a register and a plan write lengths, numbers, dates and words: text in, exact figures out."""

import re
from collections.abc import Callable
from datetime import date, datetime
from decimal import Decimal
from typing import Annotated, Any

from pydantic import AfterValidator, BeforeValidator, Field, PlainSerializer

from daq.spec import SpecError, length_mm

_NUMBER = re.compile(r"[0-9]{1,6}(?:\.[0-9]{1,9})?")
_DATE = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")


def mm_words(value_mm: Decimal) -> str:
    """A length as a file writes it, every digit kept: ``10.000 mm``."""
    return f"{value_mm:f} mm"


def brief_mm(value_mm: Decimal) -> str:
    """A length for a sentence, without zeros that say nothing: ``2.5 mm``."""
    plain = f"{value_mm:f}"
    return f"{plain.rstrip('0').rstrip('.') if '.' in plain else plain} mm"


def _mm(*, signed: bool = False, zero: bool = True) -> Callable[[Any], Decimal]:
    """A reader of lengths: exact millimetres from text with a unit, or from a Decimal."""

    def read(given: Any) -> Decimal:
        try:
            mm = given if isinstance(given, Decimal) else length_mm(given, signed=signed)
        except SpecError as error:
            raise ValueError(str(error)) from error
        if not mm.is_finite() or (mm < 0 and not signed):
            raise ValueError(f"{mm} mm is no length here; it must not be below zero")
        if mm == 0 and not zero:
            raise ValueError(f'"{mm_words(mm)}" must be above zero')
        return mm

    return read


def _number(given: Any) -> Decimal:
    """A plain number without a unit, exactly as written; in quotes or not."""
    if isinstance(given, Decimal):
        return given
    text = given.strip() if isinstance(given, str) else repr(given)
    if not _NUMBER.fullmatch(text):  # "True" and "1e-05" are none either
        raise ValueError(f"{given!r} is no plain number such as 11.5")
    return Decimal(text)


def _date(given: Any) -> date:
    hint = "write year, month, day, such as 2027-05-31"
    if isinstance(given, datetime):
        raise ValueError(f"{given} has a time of day; {hint}")
    if isinstance(given, date):
        return given
    if not isinstance(given, str) or not _DATE.fullmatch(given):
        raise ValueError(f"{given!r} is no date; {hint}")
    try:
        return date.fromisoformat(given)
    except ValueError:
        raise ValueError(f"there is no day {given}; {hint}") from None


def _words(given: Any) -> Any:
    """Text on one line without needless blanks; anything else as it is."""
    if not isinstance(given, str):
        return given
    text = " ".join(given.split())
    for each in text:
        if not each.isprintable():
            raise ValueError(f"it has a character that cannot be shown ({each!r}); take it out")
    return text


def _at_most_100(number: Decimal) -> Decimal:
    if number > 100:
        raise ValueError(f"{number} µm/(m·K) is out of all proportion; usual steel has 11.5")
    return number


_as_text = PlainSerializer(mm_words, return_type=str, when_used="json")
_as_digits = PlainSerializer(lambda number: f"{number:f}", return_type=str, when_used="json")

LengthMm = Annotated[Decimal, BeforeValidator(_mm()), _as_text]
"""A length in exact millimetres, 0 or more, written with its unit."""

SizeMm = Annotated[Decimal, BeforeValidator(_mm(zero=False)), _as_text]
"""A length above zero."""

SignedMm = Annotated[Decimal, BeforeValidator(_mm(signed=True)), _as_text]
"""A length that may be below zero."""

Number = Annotated[Decimal, BeforeValidator(_number), _as_digits]
"""A number without a unit, 0 or more, exactly as written."""

Expansion = Annotated[Number, AfterValidator(_at_most_100)]
"""A coefficient of expansion, or its standard uncertainty, in µm for a metre and a kelvin."""

Day = Annotated[date, BeforeValidator(_date)]
"""A day, as TOML writes it or in quotes."""

Words = Annotated[str, BeforeValidator(_words), Field(min_length=1, max_length=300)]
"""Text for people, on one line, never empty."""

Name = Annotated[str, BeforeValidator(_words), Field(min_length=1, max_length=60)]
"""What something is called; never empty."""

Months = Annotated[int, Field(strict=True, ge=1, le=120)]
"""A number of months, up to ten years."""

Count = Annotated[int, Field(strict=True, ge=1, le=100)]
"""How often."""
