"""A chained trace, row by row: what each gauge sent and when, each row bound to the one before.

    t_s,gauge,bytes,sha256
    5321.250137,,begun 2026-03-01T08:15:30.250000Z 8d0f4c1e-…,<64 hex digits>
    5321.301402,G-17,opened,<64 hex digits>
    5321.412875,G-17,2b303031322e333435206d6d0d0a,<64 hex digits>
    5327.11864,,ended,<64 hex digits>

Columns ``t_s`` and ``bytes`` are those of a raw trace (`drivers.trace`): seconds on the reader's
clock, and bytes in hex or what became of the port. ``sha256`` is the SHA-256 of the ``sha256`` of
the row before, a comma, and the row up to its own last comma. Before the first row stands the
SHA-256 of the header. The first row has the time of day and an id that no other trace has.

A row that was edited, removed, moved or put in no longer fits. The chain cannot show that all of it
was rebuilt; nor that its end was cut off, but then ``ended`` is missing.
"""

import csv
import functools
import hashlib
import io
from collections.abc import Iterable
from typing import Literal

HEADER = "t_s,gauge,bytes,sha256"

Mark = Literal["opened", "lost"]
"""The gauge's port was opened, or went away."""

Arrival = tuple[float, str, bytes | Mark]
"""When on the reader's clock, in seconds (finite); the gauge's label; what came or happened."""

_MOST_LABELS = 4096


def beginning() -> str:
    """What stands as the hash before the first row."""
    return hashlib.sha256(HEADER.encode()).hexdigest()


def row_hash(previous: bytes, row: bytes) -> bytes:
    """The hash of a row, as 64 lower-case hex digits.

    Args:
        previous: the hash of the row before, likewise.
        row: the row up to its last comma.
    """
    return hashlib.sha256(b"%b,%b" % (previous, row)).hexdigest().encode()


def chained(arrivals: Iterable[tuple[float, str, bytes | str]], previous: str) -> tuple[bytes, str]:
    """Rows as they stand in the file, and the hash of the last one.

    Times lose no digit, so that a trace replays as it was.
    """
    sha256, cell_of, time_of = hashlib.sha256, label_cell, float.__repr__
    lines = []
    for t_s, gauge, what in arrivals:
        said = what if isinstance(what, str) else what.hex()
        row = f"{time_of(t_s)},{cell_of(gauge)},{said}"
        previous = sha256(f"{previous},{row}".encode()).hexdigest()
        lines.append(f"{row},{previous}\n")
    return "".join(lines).encode(), previous


@functools.lru_cache(_MOST_LABELS)
def label_cell(label: str) -> str:
    """A gauge's label as a cell (RFC 4180), on one line: what cannot be printed is written out."""
    shown = "".join(each if each.isprintable() else ascii(each)[1:-1] for each in label)
    if not set(shown) & {",", '"'}:
        return shown
    cell = io.StringIO()
    csv.writer(cell, lineterminator="").writerow([shown])
    return cell.getvalue()
