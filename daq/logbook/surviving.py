"""Reads on where a logbook's file is damaged, and saves what can still be read of it."""

import os
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from daq.logbook.chain import Row, chain_hash
from daq.logbook.connection import connect_to_read
from daq.logbook.errors import DAMAGE, LogbookDamagedError
from daq.logbook.export import write_lines

_ROWS = "SELECT sequence, previous, hash, body FROM records WHERE sequence >= ? ORDER BY sequence"
_LEAST_NUMBER = -(2**63)
_MOST_NUMBER = 2**63 - 1


@dataclass(frozen=True, slots=True)
class Rescued:
    """How many records were saved, and the numbers that were not, as first and last."""

    records: int
    missing: tuple[tuple[int, int], ...]


def rescue(path: str | os.PathLike[str], out: Path) -> Rescued:
    """Write every record that can be read, and that fits its own hash, as JSON lines.

    Args:
        path: the logbook, damaged or not.
        out: a file that is not there yet; ``verify_jsonl`` checks it.

    Raises:
        LogbookError: nothing at all can be read of it.
        ExportError: ``out`` is there already, or cannot be written.
    """
    real = Path(os.path.realpath(path))
    kept: list[int] = []
    missing: list[tuple[int, int]] = []

    def lines(connection: sqlite3.Connection) -> Iterator[bytes]:
        for sequence, previous, stored, body in surviving(connection, lambda *_: None):
            try:
                if sequence < 1 or chain_hash(sequence, previous, body) != stored:
                    continue
            except TypeError:  # a number where text belongs, or the other way round
                continue
            after = kept[-1] + 1 if kept else 1
            if sequence > after:
                missing.append((after, sequence - 1))
            kept.append(sequence)
            yield b'{"hash":"%b","previous":"%b","record":%b,"sequence":%d}\n' % (
                stored,
                previous,
                body,
                sequence,
            )

    with closing(connect_to_read(real)) as connection:
        try:
            count = write_lines(lines(connection), out)
        except DAMAGE as error:
            raise LogbookDamagedError(real, str(error)) from error
    return Rescued(count, tuple(missing))


def surviving(
    connection: sqlite3.Connection, unreadable: Callable[[int, int], None]
) -> Iterator[Row]:
    """The rows of a logbook in their order; where the file is damaged, those behind the damage.

    Args:
        connection: the logbook's, to read.
        unreadable: told the first and the last number of what cannot be read, in its place.

    Raises:
        sqlite3.DatabaseError: there is no table of records.
    """
    first, seen = _LEAST_NUMBER, 0
    while first < _MOST_NUMBER:
        try:
            for row in connection.execute(_ROWS, (first,)):
                seen = _number_of(row, seen)
                yield row
            return
        except DAMAGE as error:
            if getattr(error, "sqlite_errorcode", None) == sqlite3.SQLITE_ERROR:
                raise  # the question itself fails
        # Rows are fetched one ahead, so the last good one was lost with the error.
        while rows := _row_from(connection, seen + 1):
            seen = _number_of(rows[0], seen)
            yield rows[0]
        first = _behind_damage(connection, seen + 1)
        unreadable(seen + 1, first - 1)
        seen = first - 1


def _number_of(row: Row, seen: int) -> int:
    """The number up to which there is nothing more to come; whatever stands in ``row``."""
    number: object = row[0]
    return max(number, seen) if isinstance(number, int) else seen + 1


def _behind_damage(connection: sqlite3.Connection, bad: int) -> int:
    """The number from which rows can be read again, given that from ``bad`` on they cannot.

    Gallops to a place that can be read, then halves the way back.
    """
    try:
        (top,) = connection.execute("SELECT max(sequence) + 1 FROM records").fetchone()
    except DAMAGE:
        top = None
    end = top if isinstance(top, int) and top > bad else _MOST_NUMBER
    low, high, stride = bad, min(bad + 1, end), 1
    while high < end and _row_from(connection, high) is None:
        low, stride = high, 2 * stride
        high = min(low + stride, end)
    while high - low > 1:
        middle = (low + high) // 2
        if _row_from(connection, middle) is None:
            low = middle
        else:
            high = middle
    return high


def _row_from(connection: sqlite3.Connection, first: int) -> list[Row] | None:
    """The row at ``first`` or the next behind it, in a list; None where it cannot be read."""
    try:
        return connection.execute(f"{_ROWS} LIMIT 1", (first,)).fetchall()
    except DAMAGE:
        return None
