"""Times in the forms that logs have them, to whole microseconds since 1970 UTC, exactly.

Digits past the microsecond are cut off, never rounded up into the next second. A local time that
comes twice or never, where clocks are put back or forward, is refused: nobody can tell which it is.
"""

import re
from collections.abc import Callable
from datetime import UTC, datetime, timedelta, timezone, tzinfo
from decimal import ROUND_FLOOR
from zoneinfo import ZoneInfo

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_NAIVE_EPOCH = datetime(1970, 1, 1)
_US = timedelta(microseconds=1)
_PLACES = {"s": 6, "ms": 3, "us": 0}
_LATEST_US = 253_402_300_800_000_000
"""The year 10000; an epoch in the wrong unit lies beyond it, or before `_EARLIEST_US`."""

_EARLIEST_US = -2_208_988_800_000_000
"""The year 1900."""


def time_reader(
    forms: tuple[str, ...], zone: str, *, last_day: bool, decimal: str
) -> Callable[[str], int]:
    """What reads a time that has one of the forms; the first that fits counts.

    Args:
        forms: ``iso``, an epoch (``s``, ``ms``, ``us``) or patterns as `datetime.strptime` has.
        zone: the time zone of times that do not say theirs.
        last_day: whether the midnight after that day is meant.
        decimal: the decimal mark of epochs.
    """
    where = zone_of(zone)

    def reading(cell: str) -> int:
        for form in forms:
            if form in _PLACES:
                us = _epoch_us(cell, form, decimal)
                if us is not None:
                    return us + (86_400_000_000 if last_day else 0)
            elif (at := _local(cell, form)) is not None:
                return us_of(at, where, last_day=last_day)
        raise ValueError(f"is no time of the form {' or '.join(forms)}")

    return reading


def zone_of(zone: str) -> tzinfo:
    """The time zone of that name, or of an offset such as ``+01:00``."""
    if zone == "UTC":
        return UTC
    if found := re.fullmatch(r"([+-])(\d\d):(\d\d)", zone):
        offset = timedelta(hours=int(found[2]), minutes=int(found[3]))
        return timezone(-offset if found[1] == "-" else offset)
    return ZoneInfo(zone)


def us_of(at: datetime, zone: tzinfo, *, last_day: bool = False) -> int:
    """Microseconds since 1970 UTC.

    Raises:
        ValueError: the local time comes twice or never.
    """
    if last_day:
        at = at.replace(hour=0, minute=0, second=0, microsecond=0) + timedelta(days=1)
    if at.tzinfo is not None:
        return (at - _EPOCH) // _US
    if zone is UTC:
        return (at - _NAIVE_EPOCH) // _US
    first, second = at.replace(tzinfo=zone), at.replace(tzinfo=zone, fold=1)
    if first.utcoffset() != second.utcoffset():
        back = first.astimezone(UTC).astimezone(zone).replace(tzinfo=None)
        raise ValueError("comes twice on that day" if back == at else "is left out on that day")
    return (first.astimezone(UTC) - _EPOCH) // _US


def _epoch_us(cell: str, form: str, decimal: str) -> int | None:
    from daq.audit.intake.convert import decimal_in

    try:
        number = decimal_in(cell.replace(",", ".") if decimal == "," else cell)
    except ValueError:
        return None
    us = int(number.scaleb(_PLACES[form]).to_integral_value(ROUND_FLOOR))
    if not _EARLIEST_US <= us < _LATEST_US:
        raise ValueError(f"is no time in the years 1900 to 9999, taken as {form} since 1970")
    return us


def _local(cell: str, form: str) -> datetime | None:
    try:
        if form == "iso":
            return datetime.fromisoformat(cell) if len(cell) >= 10 and "-" in cell else None
        return datetime.strptime(cell, form)
    except ValueError:
        return None
