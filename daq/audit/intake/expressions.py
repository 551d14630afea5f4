"""Columns of a Parquet file as SQL in the open format, or that they must be read row by row.

Floats are taken to whole nanometres by ``rint(value * factor)``, half to even; one that is no
number or does not fit 64 bits makes its row a rejected one. (``isfinite`` must say so: any other
question is answered from a file's statistics, which leave out what is no number. `pieces` asks it
so that they do not answer that one either.) Text that has to be taken apart into a number or a
time, and exact decimals, are not done here but row by row, exactly.
"""

from collections.abc import Callable
from dataclasses import dataclass

from daq.audit.intake.convert import FACTORS, reader_for
from daq.audit.intake.known import Known
from daq.audit.intake.mapping import ColumnFrom
from daq.audit.intake.quoting import literal, quoted
from daq.audit.intake.times import zone_of
from daq.audit.layout import NULL, Column

INTEGERS = ("TINYINT", "SMALLINT", "INTEGER", "BIGINT", "UTINYINT", "USMALLINT", "UINTEGER")
FLOATS = ("FLOAT", "DOUBLE")
_INSTANTS = ("TIMESTAMP", "TIMESTAMP WITH TIME ZONE", "TIMESTAMP_S", "TIMESTAMP_MS", "TIMESTAMP_NS")
_EPOCH_FACTORS = {"s": 1_000_000, "ms": 1_000, "us": 1}
_DAY_US = 86_400_000_000


class ByRowError(Exception):
    """The column can only be read row by row."""


@dataclass(frozen=True, slots=True)
class Expression:
    """A column of the open format as SQL over a foreign file.

    ``sql`` gives a BIGINT (null if missing), or for text a VARCHAR or, if ``whole``, a whole number
    that is the name. ``bad`` is true where the row must be rejected, with its ``reason``; None if
    that cannot be. ``source`` is the foreign column; None for a constant. ``is_sound`` tells by
    what is known of that column whether surely no row is bad; None if that can never be told.
    ``full``: no value is missing in the file; ``natural``: nor is one below zero.
    """

    sql: str
    whole: bool = False
    bad: str | None = None
    reason: str = ""
    source: str | None = None
    is_sound: Callable[[Known], bool] | None = None
    full: bool = False
    natural: bool = False


def expression(column: Column, given: ColumnFrom, kind: str) -> Expression:
    """How a column is read.

    Args:
        column: the column of the open format.
        given: where it comes from.
        kind: the foreign column's type in DuckDB; empty for a constant.

    Raises:
        ByRowError: it can only be read row by row.
    """
    if given.column is None:
        value = reader_for(column, given, ".")(given.value or "")
        return Expression(literal(value) if isinstance(value, str) else _whole(value))
    name = quoted(given.column)
    if column.kind == "text":
        return _text(column, given, kind, name)
    read = _time if column.unit == "µs" else _number
    sql, bad, is_sound = read(given, kind, name)
    reason = "is no number that fits"
    if column.needed:
        bad = f"({name} IS NULL{' OR ' + bad if bad else ''})"
        reason = "is empty, or no number that fits"
    return Expression(sql, bad=bad, reason=reason, source=given.column, is_sound=is_sound)


def _text(column: Column, given: ColumnFrom, kind: str, name: str) -> Expression:
    if kind in INTEGERS and not column.words and not given.words:
        bad = f"{name} IS NULL" if column.needed else None
        return Expression(
            name, whole=True, bad=bad, reason="is empty", source=given.column, is_sound=_is_full
        )
    text = name if kind == "VARCHAR" else f"CAST({name} AS VARCHAR)"
    words = {**{word: word for word in column.words}, **given.words}
    empty = f"({name} IS NULL OR {text} = '')"
    if not words:
        bad = empty if column.needed else None
        is_sound = Known.is_filled if text == name else None
        return Expression(text, bad=bad, reason="is empty", source=given.column, is_sound=is_sound)
    cases = " ".join(
        f"WHEN {literal(old)} THEN {literal(new)}" for old, new in words.items() if old
    )
    other = "NULL" if column.words else text
    unknown = f"{text} NOT IN ({', '.join(literal(old) for old in words)})"
    found = [
        *([empty] if column.needed else []),
        *([f"(NOT {empty} AND {unknown})"] if column.words else []),
    ]
    return Expression(
        f"CASE {text} {cases} ELSE {other} END",
        bad=" OR ".join(found) or None,
        reason="is none of the words it may be",
        source=given.column,
    )


_Read = tuple[str, str | None, Callable[[Known], bool] | None]
"""SQL for the value, SQL that is true where it is bad (missing is not), and `is_sound`."""


def _is_full(known: Known) -> bool:
    return known.full


def _number(given: ColumnFrom, kind: str, name: str) -> _Read:
    unit = given.unit or "count"
    if kind in FLOATS and unit != "count":
        value = name if kind == "DOUBLE" else f"CAST({name} AS DOUBLE)"
        factor = 1000 / 1.8 if unit == "degF" else float(FACTORS[unit])
        scaled = (
            f"(({value} - 32) * 5000 / 9)" if unit == "degF" else f"({value} * {FACTORS[unit]:f})"
        )
        most = f"{9.2e18 / factor:e}"
        bad = f"(NOT isfinite({name}) OR NOT ({value} BETWEEN -{most} AND {most}))"
        return f"TRY_CAST({scaled} AS BIGINT)", bad, None
    if kind in INTEGERS and unit != "degF":
        factor = int(FACTORS[unit])
        if factor == 1:
            return f"CAST({name} AS BIGINT)", None, _is_full
        largest = (2**63 - 1) // factor
        bad = f"({name} IS NOT NULL AND {name} NOT BETWEEN {-largest} AND {largest})"
        return (
            f"CASE WHEN {bad} THEN NULL ELSE CAST({name} AS BIGINT) * {factor} END",
            bad,
            lambda known: known.is_within(-largest, largest),
        )
    raise ByRowError


def _time(given: ColumnFrom, kind: str, name: str) -> _Read:
    zone = zone_of(given.zone)
    if kind in _INSTANTS or kind == "DATE":
        if kind != "TIMESTAMP WITH TIME ZONE" and zone.utcoffset(None) is None:
            raise ByRowError  # a zone that changes its clocks
        at = name
        if given.last_day:
            at = f"date_trunc('day', {name})"
        if kind == "TIMESTAMP WITH TIME ZONE" or zone.utcoffset(None) is None:
            shift = 0
        else:
            offset = zone.utcoffset(None)
            assert offset is not None
            shift = -int(offset.total_seconds()) * 1_000_000
        shift += _DAY_US if given.last_day else 0
        instant = f"epoch_us({at})"
        sql = f"({instant} + {shift})" if shift else instant
        return sql, f"isinf({name})", lambda known: known.full and known.is_finite()
    form = given.time[0]
    if len(given.time) == 1 and form in _EPOCH_FACTORS and kind in INTEGERS:
        factor = _EPOCH_FACTORS[form]
        shift = _DAY_US if given.last_day else 0
        earliest, latest = -2_208_988_800_000_000 // factor, 253_402_300_800_000_000 // factor
        bad = f"({name} IS NOT NULL AND NOT ({name} >= {earliest} AND {name} < {latest}))"
        return (
            f"CAST({name} AS BIGINT) * {factor} + {shift}",
            bad,
            lambda known: known.is_within(earliest, latest - 1),
        )
    raise ByRowError


def _whole(value: int) -> str:
    return "CAST(NULL AS BIGINT)" if value == NULL else f"CAST({value} AS BIGINT)"
