"""Figures of an audit as people read them: days, lengths, chances, counts."""

import math
from datetime import UTC, datetime, timedelta

from daq.audit.layout import NULL

EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
YEAR_US = 365.25 * 86_400e6
"""Microseconds of a year of 365.25 days."""

_RAISED = str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹")
_THIN = "\u202f"


def count(number: int) -> str:
    """A count, its thousands apart."""
    return f"{number:,}".replace(",", _THIN)


def counted(number: int, one: str, many: str = "") -> str:
    """A count with its noun: ``1 gauge``, ``12 gauges``."""
    return f"{count(number)} {one if number == 1 else many or one + 's'}"


def beyond(left: int, one: str, many: str = "") -> str:
    """What is left out, in words; empty for none."""
    if left <= 0:
        return ""
    noun, verb = (one, "is") if left == 1 else (many or one + "s", "are")
    return f"{count(left)} more {noun} {verb} not shown here."


def moment(at_us: int | None) -> datetime | None:
    """A time in microseconds as a time; None where it is missing, or beyond the calendar."""
    if at_us is None or at_us == NULL:
        return None
    try:
        return EPOCH + timedelta(microseconds=int(at_us))
    except OverflowError:
        return None


def day(at_us: int | None, none: str = "not known") -> str:
    """The day of a time, in UTC."""
    at = moment(at_us)
    return none if at is None else f"{at:%Y-%m-%d}"


def signed(value: float, places: int) -> str:
    """A figure with its sign; 0 has none."""
    text = f"{value:+.{places}f}"
    return text[1:] if float(text) == 0 else text.replace("-", "−")


def length(nm: float) -> str:
    """A length in nanometres as millimetres, to the tenth of a micrometre or what it has."""
    text = f"{nm / 1e6:.6f}".rstrip("0")
    whole, _, part = text.partition(".")
    return f"{whole}.{part.ljust(3, '0')} mm".replace("-", "−")


def places_for(values: list[float]) -> int:
    """With how many decimals lengths in millimetres are told, so that the smallest is still one."""
    least = min((abs(value) for value in values if value and math.isfinite(value)), default=1e-3)
    return min(max(1 - math.floor(math.log10(least)), 3), 6)


def percent(share: float) -> str:
    """A share in per cent. Not all is never told as 100, nor something as 0."""
    text = f"{100 * share:.1f}"
    if text == "100.0":
        return "100" if share == 1 else "> 99.9"
    if text == "0.0":
        return "0" if share == 0 else "< 0.1"
    return text


def chance(p: float) -> str:
    """A chance: ``p = 0.0031``, ``p = 4 × 10⁻⁹``."""
    if p >= 0.001:
        return f"p = {p:.2g}"
    if p < 1e-300:
        return "p < 10⁻³⁰⁰"
    digits, _, power = f"{p:.1e}".partition("e")
    return f"p = {digits} × 10{str(int(power)).translate(_RAISED)}"
