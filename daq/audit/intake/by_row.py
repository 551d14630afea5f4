"""Files that are read row by row (CSV, JSON lines, Parquet with text to be taken apart), made into
a Parquet file in the open format: exact, with the line of each row, sorted by gauge and sequence.
"""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import duckdb
import numpy as np

from daq.audit.intake.convert import Reader, Value, reader_for
from daq.audit.intake.lines import Row, csv_rows, jsonl_rows
from daq.audit.intake.mapping import ColumnFrom, TableFrom
from daq.audit.intake.quoting import literal, quoted
from daq.audit.intake.rejects import Rejects
from daq.audit.layout import NULL, Table

BATCH = 50_000
"""Rows that are held as text at a time."""

_OWN_ROW = "row"


def rows_of(
    path: Path, given: TableFrom, wanted: list[str], rejects: Rejects, name: str
) -> Iterator[Row]:
    """The rows of a text file; what is no row goes to ``rejects``."""

    def reject(line: int, column: str, reason: str, value: str) -> None:
        rejects.add(name, line, column, reason, value)

    read = csv_rows if given.format == "csv" else jsonl_rows
    return read(path, given, wanted, reject)


def foreign_columns(given: TableFrom) -> list[str]:
    """The foreign columns that a table needs, each once."""
    names = [each.column for each in given.columns.values() if each.column is not None]
    return list(dict.fromkeys(names))


class ByRow:
    """Makes rows of cells into a Parquet file in the open format.

    Args:
        connection: where the rows are held and sorted; it spills to its own folder.
        table: the table that they are of.
        given: where its columns come from.
        name: the file's name, for rejected rows.
    """

    def __init__(
        self,
        connection: duckdb.DuckDBPyConnection,
        table: Table,
        given: TableFrom,
        name: str,
        rejects: Rejects,
    ) -> None:
        self._connection = connection
        self._rejects = rejects
        self._name = name
        self._columns = [table.column(each) for each in table.names if each in given.columns]
        self._order = [each for each in table.order if each in given.columns]
        foreign = foreign_columns(given)
        self._readers: list[tuple[int | None, str, Reader]] = []
        for column in self._columns:
            source: ColumnFrom = given.columns[column.name]
            decimal = given.decimal if source.value is None else "."
            place = None if source.column is None else foreign.index(source.column)
            reader = reader_for(column, source, decimal)
            self._readers.append((place, source.column or column.name, reader))
        self._constants = [
            None if source.value is None else reader(source.value)
            for source, (_, _, reader) in zip(
                (given.columns[column.name] for column in self._columns), self._readers, strict=True
            )
        ]
        self.rows = 0
        self.in_order = True
        self._last: tuple[Value, ...] = ()

    def write(self, rows: Iterator[Row], to: Path) -> int:
        """Write every sound row to ``to``; returns how many there are."""
        kinds = {"text": "VARCHAR", "integer": "BIGINT"}
        columns = [f"{quoted(column.name)} {kinds[column.kind]}" for column in self._columns]
        self._connection.execute(
            f"CREATE OR REPLACE TABLE by_row ({', '.join(columns)}, {quoted(_OWN_ROW)} BIGINT)"
        )
        batch: list[Row] = []
        for row in rows:
            batch.append(row)
            if len(batch) == BATCH:
                self._keep(batch)
                batch = []
        self._keep(batch)
        order = ", ".join(quoted(each) for each in (*self._order, _OWN_ROW))
        self._connection.execute(
            f"COPY (SELECT * FROM by_row ORDER BY {order}) TO {literal(str(to))} (FORMAT parquet)"
        )
        self._connection.execute("DROP TABLE by_row")
        return self.rows

    def _keep(self, batch: list[Row]) -> None:
        """Convert a batch column by column, take out what cannot be converted, and store it."""
        columns, bad = self._converted(batch)
        lines = [line for line, _ in batch]
        if bad:
            for place in sorted(bad):
                column, reason, value = bad[place]
                self._rejects.add(self._name, lines[place], column, reason, value)
            sound = [place for place in range(len(batch)) if place not in bad]
            columns = [[column[place] for place in sound] for column in columns]
            lines = [lines[place] for place in sound]
        if not lines:
            return
        self._watch_order(columns)
        self.rows += len(lines)
        arrays: dict[str, Any] = {}
        chosen = []
        for place, (layout, values) in enumerate(zip(self._columns, columns, strict=True)):
            if layout.kind == "text":
                arrays[f"c{place}"] = np.array(values, dtype=object)
                chosen.append(f"c{place}")
            else:
                arrays[f"c{place}"] = np.array(values, dtype=np.int64)
                chosen.append(f"nullif(c{place}, {NULL + 1} - 1)")
        arrays["line"] = np.array(lines, dtype=np.int64)
        self._connection.execute(f"INSERT INTO by_row SELECT {', '.join(chosen)}, line FROM arrays")

    def _converted(
        self, batch: list[Row]
    ) -> tuple[list[list[Value]], dict[int, tuple[str, str, str]]]:
        """The values by column, and by row of the batch what cannot be converted."""
        columns: list[list[Value]] = []
        bad: dict[int, tuple[str, str, str]] = {}
        for (place, name, reader), constant in zip(self._readers, self._constants, strict=True):
            if place is None or constant is not None:
                columns.append([constant if constant is not None else ""] * len(batch))
                continue
            cells = [row[place] for _, row in batch]
            try:
                columns.append(list(map(reader, cells)))
            except ValueError:
                columns.append(_one_by_one(cells, reader, name, bad))
        return columns, bad

    def _watch_order(self, columns: list[list[Value]]) -> None:
        """See whether rows come in order, batch by batch, so that it can be said if not."""
        if not self.in_order or not self._order:
            return
        names = [column.name for column in self._columns]
        keys = list(zip(*(columns[names.index(each)] for each in self._order), strict=True))
        before = [self._last, *keys[:-1]] if self._last else keys[:-1]
        after = keys if self._last else keys[1:]
        self.in_order = all(a <= b for a, b in zip(before, after, strict=True))
        self._last = keys[-1]


def _one_by_one(
    cells: list[str], reader: Reader, name: str, bad: dict[int, tuple[str, str, str]]
) -> list[Value]:
    values: list[Value] = []
    for place, cell in enumerate(cells):
        try:
            values.append(reader(cell))
        except ValueError as error:
            values.append("")
            bad.setdefault(place, (name, str(error), cell))
    return values
