"""Reading a chained trace back, and checking it row by row.

A trace that is still being recorded can be read. One that broke off (a crash, a power cut) may end
in the middle of a row: nobody was told that this one is kept, and it is passed over.
"""

import csv
import os
import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import BinaryIO

from daq.logbook.chain import Problem, Problems
from daq.logbook.errors import LogbookNotFoundError, LogbookReadOnlyError
from daq.logbook.trace_rows import HEADER, beginning, row_hash
from drivers.errors import TraceError
from drivers.trace import LinkMark, RawBytes

_TIME = re.compile(r"-?[0-9]{1,20}(\.[0-9]{1,20})?(e[+-][0-9]{2,3})?")
_HASH = re.compile(rb"[0-9a-f]{64}")
_BEGUN = re.compile(rb"[^,]*,,begun [0-9TZ:.-]{27} ([0-9a-f-]{36})")
_ENDED = b",,ended"
_MOST_LINE_BYTES = 1 << 26

_DOES_NOT_FIT = (
    "does not fit its hash: it, or what stood before it, was edited, moved, removed or put in"
)


@dataclass(frozen=True, slots=True)
class TraceReport:
    """What a check of a chained trace found.

    ``rows`` counts the whole rows, ``begun`` and ``ended`` among them; ``last_hash``, noted
    elsewhere, vouches for all of them. ``problems`` name rows by number from 1; ``more`` counts
    those past the first 10 000. ``is_ended`` is whether the recording was closed: if not, it is
    still going on, it broke off, or its end was cut off. ``unfinished_bytes`` stand after the last
    whole row.
    """

    trace_id: str | None
    rows: int
    last_hash: str | None
    problems: tuple[Problem, ...]
    more: int
    is_ended: bool
    unfinished_bytes: int

    @property
    def intact(self) -> bool:
        """Whether nothing was found. An unfinished end is no fault: see ``is_ended``."""
        return not self.problems


def verify_trace(
    path: str | os.PathLike[str], *, expect_last_hash: str | None = None
) -> TraceReport:
    """Check the chained trace at ``path``.

    Args:
        path: the trace.
        expect_last_hash: a hash noted earlier as the last one.

    Raises:
        LogbookNotFoundError: there is no such file.
        LogbookReadOnlyError: it cannot be read.
    """
    wanted = None if expect_last_hash is None else expect_last_hash.strip().lower().encode()
    is_wanted_seen, problems = wanted is None, Problems()
    trace_id, count, row, last_hash = None, 0, b"", beginning().encode()
    with _open(path) as file:
        if _header_of(file) != HEADER.encode():
            problems.add(None, f"does not begin with {HEADER}: it is no chained trace")
        lines = _Lines(file)
        for row, stored, fits in lines:
            count += 1
            if not fits:
                problems.add(count, _DOES_NOT_FIT)
            if count == 1 and (begun := _BEGUN.fullmatch(row)):
                trace_id = begun[1].decode()
            if stored == wanted:
                is_wanted_seen = True
            last_hash = stored
    if trace_id is None:
        problems.add(None, "does not say when it was begun: its first row is missing")
    if not is_wanted_seen:
        said = f"holds no row with the noted hash {expect_last_hash}"
        problems.add(None, f"{said}: its end was cut off or rewritten")
    return TraceReport(
        trace_id=trace_id,
        rows=count,
        last_hash=last_hash.decode(errors="replace") if count else None,
        problems=tuple(problems.found),
        more=problems.more,
        is_ended=row.endswith(_ENDED),
        unfinished_bytes=lines.unfinished_bytes,
    )


def is_chained_trace(path: str | os.PathLike[str]) -> bool:
    """Whether the file at ``path`` begins as a chained trace does.

    Raises:
        LogbookNotFoundError: there is no such file.
        LogbookReadOnlyError: it cannot be read.
    """
    with _open(path) as file:
        return _header_of(file) == HEADER.encode()


def recorded(
    path: str | os.PathLike[str], gauge: str | None = None
) -> Iterator[tuple[str, RawBytes | LinkMark]]:
    """What the chained trace at ``path`` holds, in order: which gauge, and the row of a raw trace.

    Args:
        path: the trace.
        gauge: only of the gauge with this label, as it stands in the trace; None for all.

    Raises:
        TraceError: a row does not fit its hash, or is none; those before it have been yielded.
        LogbookNotFoundError: there is no such file.
        LogbookReadOnlyError: it cannot be read.
    """
    name = os.fspath(path)
    with _open(path) as file:
        if _header_of(file) != HEADER.encode():
            raise TraceError(f"{name}:1: it does not begin with {HEADER}; it is no chained trace")
        for number, (row, _, fits) in enumerate(_Lines(file), start=2):
            if not fits:
                raise TraceError(f"{name}:{number}: row {number - 1} {_DOES_NOT_FIT}")
            time, _, rest = row.decode(errors="replace").partition(",")
            cell, _, said = rest.rpartition(",")
            label = next(csv.reader([cell]))[0] if cell.startswith('"') else cell
            of_a_gauge = said != "ended" and not said.startswith("begun ")
            if of_a_gauge and gauge in (None, label):
                yield label, _row_of(time, said, f"{name}:{number}")


class _Lines:
    """The rows of an open trace behind its header: row, stored hash, whether they fit."""

    def __init__(self, file: BinaryIO) -> None:
        self.unfinished_bytes = 0
        self._file = file

    def __iter__(self) -> Iterator[tuple[bytes, bytes, bool]]:
        previous = beginning().encode()
        while line := self._file.readline(_MOST_LINE_BYTES):
            if not line.endswith(b"\n") and len(line) < _MOST_LINE_BYTES:
                self.unfinished_bytes = len(line)
                return
            row, _, stored = line.rstrip(b"\r\n").rpartition(b",")
            fits = row_hash(previous, row) == stored
            yield row, stored, fits
            previous = stored if fits or _HASH.fullmatch(stored) else previous


def _row_of(time: str, said: str, where: str) -> RawBytes | LinkMark:
    """A row of a raw trace. What fits its hash may still have been written by anybody."""
    try:
        if not _TIME.fullmatch(time):
            raise ValueError(time)
        if said in ("opened", "lost"):
            return LinkMark(float(time), "opened" if said == "opened" else "lost")
        return RawBytes(float(time), bytes.fromhex(said))
    except ValueError:
        raise TraceError(f"{where}: {said!r:.80} at {time!r:.40} s is no row of a trace") from None


def _header_of(file: BinaryIO) -> bytes:
    return file.readline(len(HEADER) + 2).removesuffix(b"\n")


def _open(path: str | os.PathLike[str]) -> BinaryIO:
    try:
        return open(path, "rb")
    except FileNotFoundError as error:
        raise LogbookNotFoundError(path) from error
    except OSError as error:
        raise LogbookReadOnlyError(path, str(error)) from error
