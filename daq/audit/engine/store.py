"""The intermediates of the kernel as tables that the rules ask, on disk where memory is short.

A store that is to be kept is a file; any other lies in memory, and its folder has what does not
fit, since writing a file takes as long as all the rest of the store.

Missing values are nulls here, numbers of names stay numbers, and fixed words are text: the tables
are those of ``docs/auditing.md``.
"""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import duckdb
import numpy as np
import numpy.typing as npt

from daq.audit.kernel import Table
from daq.audit.kernel.columns import NAMES
from daq.audit.layout import FOUND, KINDS_OF_GAUGE, NULL, TABLES
from daq.audit.source import Source

FILE, SPILL = "audit.duckdb", "audit-spill"
"""The store's file in its folder, and the folder for what does not fit."""

SOURCES = ("points", "captures")
DISORDER = ("comes again after others", "a number after a larger one", "a number twice")
KINDS = (
    "overdue",
    "before first",
    "during",
    "after failed",
    "after doubtful check",
)
"""What a window of time is; the numbers are places in this row."""

_SPELT_OUT = frozenset({"rule"})
"""Columns of names that rules ask for by their text; there are few of them."""

_TOGETHER = 120_000
"""Rows that are written together: about a row group of the file."""

WORDS: Mapping[str, Mapping[str, tuple[str, ...]]] = {
    "passes": {"found": FOUND},
    "disorder": {"what": DISORDER, "source": SOURCES},
    "gaps": {"source": SOURCES},
    "clock": {"source": SOURCES},
    "breaks": {"source": SOURCES},
    "windows": {"kind": KINDS},
    "asked": {"asked_kind": KINDS_OF_GAUGE},
}
"""By table of the kernel: its columns of fixed words."""


class Store:
    """A DuckDB database in a folder of its own, with a limit of memory.

    Args:
        folder: where the file and what does not fit is put; it is there, and is taken away by
            whoever made it.
        memory_mb: what DuckDB may use.
        kept: whether there is a file, to be opened again.
    """

    def __init__(self, folder: Path, memory_mb: int, *, kept: bool = False) -> None:
        self.connection = duckdb.connect(str(folder / FILE) if kept else ":memory:")
        # It is read once, so it is not worth the time to make it small.
        spill = str(folder / SPILL).replace("'", "''")
        for setting in (
            f"memory_limit = '{memory_mb}MB'",
            "threads = 1",
            f"temp_directory = '{spill}'",
            "TimeZone = 'UTC'",
            "enable_progress_bar = false",
            "force_compression = 'uncompressed'",
            "preserve_insertion_order = false",
            "autoinstall_known_extensions = false",
        ):
            self.connection.execute(f"SET {setting}")
        self._kinds: dict[str, str] = {}
        self._waiting: dict[str, list[Table]] = {}
        self._sizes: dict[str, int] = {}

    def add(self, name: str, rows: Table) -> None:
        """Rows to a table; the first ones make it, and may be none.

        They are gathered and written together, once they are many; `flush` writes the rest.
        """
        kinds = "".join(values.dtype.kind for values in rows.values())
        # A column made whole would round what comes later.
        assert self._kinds.setdefault(name, kinds) == kinds, (name, kinds, self._kinds[name])
        size = next(iter(rows.values())).size
        if name not in self._waiting:
            self._waiting[name] = []
            self._make(name, rows)
        elif size:
            # Copies, since a view would hold on to the whole block it was taken from.
            self._waiting[name].append({each: values.copy() for each, values in rows.items()})
            self._sizes[name] = self._sizes.get(name, 0) + size
            if self._sizes[name] >= _TOGETHER:
                self._write(name)

    def flush(self) -> None:
        """Writes what is still gathered; the tables are whole then."""
        for name in self._waiting:
            self._write(name)

    def _make(self, name: str, rows: Table) -> None:
        given = dict(rows)
        kept = _kept(name)
        columns = ", ".join(as_read(column, values) for column, values in given.items())
        self.connection.execute(f"CREATE TABLE IF NOT EXISTS {kept} AS SELECT {columns} FROM given")
        if words := WORDS.get(name):
            shown = ", ".join(as_said(column, words.get(column)) for column in given)
            self.connection.execute(
                f"CREATE VIEW IF NOT EXISTS {name} AS SELECT {shown} FROM {kept}"
            )

    def _write(self, name: str) -> None:
        self._sizes[name] = 0
        parts, self._waiting[name] = self._waiting[name], []
        if parts:
            given = {each: np.concatenate([part[each] for part in parts]) for each in parts[0]}
            columns = ", ".join(as_read(column, values) for column, values in given.items())
            self.connection.execute(f"INSERT INTO {_kept(name)} SELECT {columns} FROM given")

    def add_small(self, source: Source, name: str) -> None:
        """A small table of a log, with all the columns of the layout, missing ones as nulls.

        Of several rows of a gauge the last is taken.
        """
        table = TABLES[name]
        given = {
            column: np.ascontiguousarray(values) for column, values in source.small(name).items()
        }
        given["place_"] = np.arange(next(iter(given.values()), np.zeros(0)).size)
        chosen = []
        for column in table.columns:
            if column.name not in given:
                kind = "VARCHAR" if column.words or column.name in _SPELT_OUT else "BIGINT"
                chosen.append(f"CAST(NULL AS {kind}) AS {column.name}")
            elif column.words:
                chosen.append(as_said(column.name, column.words))
            elif column.name in _SPELT_OUT:
                chosen.append(_spelt(source, column.name, given[column.name]))
            else:
                chosen.append(as_read(column.name, given[column.name]))
        query = f"SELECT {', '.join(chosen)} FROM given"
        if name == "gauges" and "gauge" in given:
            last = "SELECT max(place_) FROM given GROUP BY gauge"
            query += f" WHERE place_ IN ({last})"
        self.connection.execute(f"CREATE TABLE {name} AS {query}")

    def run(self, sql: str) -> None:
        """A statement that makes something."""
        self.connection.execute(sql)

    def arrays(self, sql: str) -> dict[str, npt.NDArray[Any]]:
        """What a query gives, as plain arrays; it must give no nulls."""
        return {
            name: np.ma.getdata(values)
            for name, values in self.connection.execute(sql).fetchnumpy().items()
        }

    def rows(self, sql: str) -> list[dict[str, Any]]:
        """What a query gives, row by row."""
        found = self.connection.execute(sql)
        names = [each[0] for each in found.description or ()]
        return [dict(zip(names, row, strict=True)) for row in found.fetchall()]

    def number(self, sql: str) -> int:
        """The one whole number that a query gives."""
        row = self.connection.execute(sql).fetchone()
        return int(row[0]) if row and row[0] is not None else 0

    def close(self) -> None:
        """Let go of the file."""
        self.connection.close()


def _kept(name: str) -> str:
    return f"{name}_kept" if name in WORDS else name


def as_read(column: str, values: npt.NDArray[Any]) -> str:
    """SQL that reads a column of an array, missing values as nulls."""
    if column in NAMES:
        return f"nullif({column}, -1) AS {column}" if (values == -1).any() else column
    if values.dtype == np.int64 and values.size and values.min() == NULL:
        return f"nullif({column}, CAST({NULL + 1} AS BIGINT) - 1) AS {column}"
    return column


def as_said(column: str, words: tuple[str, ...] | None) -> str:
    """SQL that says a column of places in words as those words."""
    if words is None:
        return column
    cases = " ".join(f"WHEN {place} THEN '{word}'" for place, word in enumerate(words) if word)
    return f"CASE {column} {cases} END AS {column}"


def _spelt(source: Source, column: str, values: npt.NDArray[Any]) -> str:
    """SQL that says a column of names as their texts."""
    codes = np.unique(values)
    texts = [text.replace("'", "''") for text in source.names(column, codes)]
    cases = " ".join(
        f"WHEN {code} THEN '{text}'"
        for code, text in zip(codes.tolist(), texts, strict=True)
        if code != -1
    )
    return (
        f"CASE {column} {cases} END AS {column}" if cases else f"CAST(NULL AS VARCHAR) AS {column}"
    )
