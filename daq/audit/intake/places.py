"""Where rows stand in the files of a log: for many stretches of rows at once, in one read."""

from collections.abc import Iterable
from typing import NamedTuple

import duckdb

from daq.audit.source import Ints


class Stretch(NamedTuple):
    """Rows in a file, from 1; of a text file lines. Between them other rows may stand."""

    file: str
    first: int
    last: int
    rows: int


_STRETCHES = """
SELECT place, min(seq), min(line), max(line), count(*) FROM ({rows}) AS r
JOIN wanted AS w ON r.gauge = w.gauge AND r.seq BETWEEN w.lo AND w.hi GROUP BY place
"""


def stretches_of(
    connection: duckdb.DuckDBPyConnection,
    files: Iterable[tuple[str, str]],
    wanted: dict[str, Ints],
) -> list[list[Stretch]]:
    """For each stretch that is wanted, where its rows stand, by file, in the order of the rows.

    Args:
        connection: what to read the files with.
        files: their names, each with SQL for its ``gauge`` (as a number), ``seq`` and ``line``.
        wanted: ``place`` (0, 1, 2 …), ``gauge``, and ``lo`` and ``hi`` of ``seq``, both included.
    """
    found: list[list[tuple[int, Stretch]]] = [[] for _ in wanted["place"]]
    for name, rows in files:
        told = connection.execute(_STRETCHES.format(rows=rows)).fetchall()
        for place, seq, first, last, count in told:
            found[place].append((seq, Stretch(name, first, last, count)))
    return [[each for _, each in sorted(one)] for one in found]
