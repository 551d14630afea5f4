"""Which files belong together, and where a table is cut into blocks of whole gauges.

Files whose ranges of gauges overlap are read together, so that no gauge is split; the others by
themselves. A block is a range of gauges: in a file that is in order it is found by the statistics
of the row groups, and nothing else is read.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import duckdb
import numpy as np

from daq.audit.intake.pieces import Piece
from daq.audit.intake.quoting import literal

Name = int | str


@dataclass(frozen=True, slots=True)
class Cut:
    """A range of gauges, both ends included; None for all there are."""

    first: Name | None
    last: Name | None

    def where(self, key: str) -> str:
        """SQL that is true for the gauges of the range, ``key`` being SQL for the gauge."""
        if self.first is None or self.last is None:
            return ""
        return f"{key} BETWEEN {_sql(self.first)} AND {_sql(self.last)}"


@dataclass(frozen=True, slots=True)
class Group:
    """Files that are read together, their gauges in order, and how many rows each has."""

    pieces: tuple[Piece, ...]
    gauges: tuple[Name, ...]
    rows: tuple[int, ...]

    def cuts(self, block_rows: int) -> Iterator[Cut]:
        """The ranges of gauges that make blocks of about so many rows."""
        if sum(self.rows) <= block_rows:
            yield Cut(None, None)
            return
        first, held = 0, 0
        for place, rows in enumerate(self.rows):
            if held and held + rows > block_rows:
                yield Cut(self.gauges[first], self.gauges[place - 1])
                first, held = place, 0
            held += rows
        yield Cut(self.gauges[first], self.gauges[-1])


def groups_of(
    connection: duckdb.DuckDBPyConnection, pieces: Sequence[Piece], key: Callable[[Piece], str]
) -> list[Group]:
    """The files of a table in groups, by the ranges of their gauges.

    Args:
        connection: what to read them with.
        pieces: the files.
        key: SQL for a file's gauge, of the same type in all of them.
    """
    counted = []
    for piece in pieces:
        query = piece.read(f"{key(piece)} AS gauge, count(*) AS n")
        found = connection.execute(f"{query} GROUP BY 1 ORDER BY 1").fetchnumpy()
        if len(found["n"]):
            counted.append((piece, np.asarray(found["gauge"]), np.asarray(found["n"])))
    counted.sort(key=lambda each: each[1][0])
    groups: list[list[int]] = []
    last: Name | None = None
    for place, (_, gauges, _) in enumerate(counted):
        if last is None or gauges[0] > last:
            groups.append([])
        groups[-1].append(place)
        last = gauges[-1] if last is None else max(last, gauges[-1])
    return [_merged([counted[place] for place in places]) for places in groups]


def _merged(counted: list[tuple[Piece, np.ndarray, np.ndarray]]) -> Group:
    totals: dict[Name, int] = {}
    for _, gauges, rows in counted:
        for gauge, count in zip(gauges.tolist(), rows.tolist(), strict=True):
            totals[gauge] = totals.get(gauge, 0) + count
    order = sorted(totals)
    return Group(
        tuple(piece for piece, _, _ in counted), tuple(order), tuple(totals[g] for g in order)
    )


def _sql(name: Name) -> str:
    return literal(name) if isinstance(name, str) else str(name)
