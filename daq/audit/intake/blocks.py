"""Which files belong together, and where a table is cut into blocks of whole gauges.

Files whose ranges of gauges overlap are read together, so that no gauge is split; the others by
themselves. A block is a range of gauges. A file whose gauges stand in order is read from its
beginning to its end, and cut after so many rows; of others each range is looked up.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import duckdb
import numpy as np
import numpy.typing as npt

from daq.audit.intake.arrow import Batch, streamed
from daq.audit.intake.pieces import Piece
from daq.audit.intake.quoting import literal

Name = int | str


@dataclass(frozen=True, slots=True)
class Cut:
    """A range of gauges, both ends included (None for all there are), and how many rows it has."""

    first: Name | None
    last: Name | None
    rows: int

    def where(self, key: str) -> str:
        """SQL that is true for the gauges of the range, ``key`` being SQL for the gauge."""
        if self.first is None or self.last is None:
            return ""
        return f"{key} BETWEEN {_sql(self.first)} AND {_sql(self.last)}"


@dataclass(frozen=True, slots=True)
class Group:
    """Files that are read together, their gauges in order, and how many rows each has.

    ``in_order``: it is one file, all of whose rows are sound, and its gauges stand in this order,
    the rows of each together.
    """

    pieces: tuple[Piece, ...]
    gauges: tuple[Name, ...]
    rows: tuple[int, ...]
    in_order: bool

    def cuts(self, block_rows: int) -> Iterator[Cut]:
        """The ranges of gauges that make blocks of about so many rows."""
        if sum(self.rows) <= block_rows:
            yield Cut(None, None, sum(self.rows))
            return
        first, held = 0, 0
        for place, rows in enumerate(self.rows):
            if held and held + rows > block_rows:
                yield Cut(self.gauges[first], self.gauges[place - 1], held)
                first, held = place, 0
            held += rows
        yield Cut(self.gauges[first], self.gauges[-1], held)


def groups_of(
    connection: duckdb.DuckDBPyConnection, pieces: Sequence[Piece], key: Callable[[Piece], str]
) -> list[Group]:
    """The files of a table in groups, by the ranges of their gauges.

    Args:
        connection: what to read them with.
        pieces: the files.
        key: SQL for a file's gauge, of the same type in all of them.
    """
    counted = [each for piece in pieces if len((each := _counted(connection, piece, key)).gauges)]
    counted.sort(key=lambda each: each.gauges[0])
    groups: list[list[Group]] = []
    last: Name | None = None
    for each in counted:
        if last is None or each.gauges[0] > last:  # type: ignore[operator]
            groups.append([])
        groups[-1].append(each)
        last = each.gauges[-1] if last is None else max(last, each.gauges[-1])
    return [_merged(each) for each in groups]


def _counted(
    connection: duckdb.DuckDBPyConnection, piece: Piece, key: Callable[[Piece], str]
) -> Group:
    """A file by itself, its gauges in the order of their names."""
    whole = piece.columns["gauge"].whole and key(piece) == piece.columns["gauge"].sql
    read = _stretches if whole else _summed
    gauges, rows, together = read(connection, piece, key(piece))
    in_order = together and not piece.sound
    return Group((piece,), tuple(gauges.tolist()), tuple(rows.tolist()), in_order)


_Counts = tuple[npt.NDArray[Any], npt.NDArray[np.int64], bool]
"""Gauges in order, how many rows each has, and whether the file has them so, each together."""


def _summed(connection: duckdb.DuckDBPyConnection, piece: Piece, key: str) -> _Counts:
    place = "file_row_number"
    query = piece.read(f"{key} AS gauge, count(*) AS n, min({place}) AS a, max({place}) AS b")
    found = connection.execute(f"{query} GROUP BY 1 ORDER BY 1").fetchnumpy()
    gauges, rows, first, last = (np.asarray(found[name]) for name in ("gauge", "n", "a", "b"))
    together = np.array_equal(last - first + 1, rows) and bool(np.all(first[1:] > last[:-1]))
    return gauges, rows, together


def _stretches(connection: duckdb.DuckDBPyConnection, piece: Piece, key: str) -> _Counts:
    """As `_summed`, of gauges that are whole numbers: those are quicker looked at row by row."""
    gauges, rows = [], []
    for part in streamed(connection, piece.read(f"{key} AS gauge")):
        gauge = part["gauge"]
        if gauge.size:
            starts = np.append(0, np.flatnonzero(gauge[1:] != gauge[:-1]) + 1)
            gauges.append(gauge[starts])
            rows.append(np.diff(np.append(starts, gauge.size)))
    if not gauges:
        return np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.int64), True
    gauge, many = np.concatenate(gauges), np.concatenate(rows)
    together = bool(np.all(gauge[1:] >= gauge[:-1]))
    found, place = np.unique(gauge, return_inverse=True)
    return found, np.bincount(place, weights=many).astype(np.int64), together


def _merged(groups: Sequence[Group]) -> Group:
    if len(groups) == 1:
        return groups[0]
    totals: dict[Name, int] = {}
    for group in groups:
        for gauge, count in zip(group.gauges, group.rows, strict=True):
            totals[gauge] = totals.get(gauge, 0) + count
    order = sorted(totals)
    pieces = tuple(piece for group in groups for piece in group.pieces)
    return Group(pieces, tuple(order), tuple(totals[each] for each in order), in_order=False)


def _sql(name: Name) -> str:
    return literal(name) if isinstance(name, str) else str(name)


def in_order(block: Batch, *, gauges_too: bool = False) -> Batch:
    """A block sorted by gauge and number; as it is, if it is so.

    Args:
        block: some rows.
        gauges_too: whether a gauge's rows may be apart.
    """
    gauge, seq = block["gauge"], block["seq"]
    back = np.flatnonzero(seq[1:] < seq[:-1])
    is_so = bool(np.all(gauge[back] != gauge[back + 1]))
    if is_so and gauges_too and len(gauge):
        starts = gauge[np.append(0, np.flatnonzero(gauge[1:] != gauge[:-1]) + 1)]
        is_so = len(np.unique(starts)) == len(starts)
    if is_so:
        return block
    place = np.lexsort((seq, gauge))
    return {name: each[place] for name, each in block.items()}
