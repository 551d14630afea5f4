"""The sentence of a finding, filled in for people: lengths, days and shares as they are written."""

import string
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime, timedelta
from typing import Any

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


class _Sayer(string.Formatter):
    """Fills in ``{error_nm:mm}``, ``{due_us:day}``, ``{at_us:time}``, ``{share:%}``."""

    def get_value(self, key: int | str, args: Sequence[Any], kwargs: Mapping[str, Any]) -> Any:
        return kwargs[key] if isinstance(key, str) else args[key]

    def format_field(self, value: Any, format_spec: str) -> str:
        if value is None or value == "":
            return "unknown"
        if format_spec == "mm":
            return f"{_short(float(value) / 1e6)} mm"
        if format_spec == "degC":
            return f"{float(value) / 1e3:g} °C"
        if format_spec in ("day", "time"):
            return moment(int(value), "%Y-%m-%d" if format_spec == "day" else "%Y-%m-%d %H:%M UTC")
        if format_spec == "%":
            return f"{float(value) * 100:.1f} %"
        return str(format(value, format_spec))


def said(sentence: str, row: Mapping[str, Any]) -> str:
    """The sentence with the columns of a row in their places.

    Raises:
        KeyError: the sentence names a column that the row does not have.
    """
    return _Sayer().vformat(sentence, (), row)


def moment(at_us: int, form: str) -> str:
    """A time of the log; one beyond the calendar is said as such."""
    try:
        return (_EPOCH + timedelta(microseconds=at_us)).strftime(form)
    except OverflowError:
        return "a time beyond the calendar"


def _short(mm: float) -> str:
    text = f"{mm:.6f}".rstrip("0")
    whole, _, part = text.partition(".")
    return f"{whole}.{part.ljust(3, '0')}"
