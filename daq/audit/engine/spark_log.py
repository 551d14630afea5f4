"""A log of Parquet files on any path that Spark reads, its rows as whole numbers.

It has the same tables, numbers and names as `daq.audit.intake.LogSource`, and brings foreign files
into the open format by the same mapping and the same SQL. Files of text are not read: on a cluster
a log is Parquet.
"""

from collections.abc import Mapping as ByName
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from types import TracebackType
from typing import Any, Self

import duckdb
import numpy as np

from daq.audit.engine.spark_places import stretches_on_spark
from daq.audit.engine.spark_rows import (
    BAD,
    FILE,
    LINK,
    NEXT,
    ROW,
    Reading,
    as_pattern,
    converted,
    names_among,
    number_of,
    probe,
)
from daq.audit.errors import IntakeError
from daq.audit.intake.coding import coded, word_codes
from daq.audit.intake.expressions import ByRowError, Expression, expression
from daq.audit.intake.mapping import ChainFrom, TableFrom
from daq.audit.intake.own import own_table
from daq.audit.intake.places import Stretch
from daq.audit.intake.quoting import literal
from daq.audit.intake.rejects import Rejects
from daq.audit.kernel.columns import NAMES
from daq.audit.layout import LARGE, NULL, TABLES
from daq.audit.source import Block, Ints

_KINDS = {
    "string": "VARCHAR",
    "tinyint": "TINYINT",
    "smallint": "SMALLINT",
    "int": "INTEGER",
    "bigint": "BIGINT",
    "float": "FLOAT",
    "double": "DOUBLE",
    "boolean": "BOOLEAN",
    "date": "DATE",
    "timestamp": "TIMESTAMP WITH TIME ZONE",
    "timestamp_ntz": "TIMESTAMP",
    "binary": "BLOB",
}
"""Types of Spark as DuckDB calls them."""


@dataclass(frozen=True, slots=True)
class _Files:
    """The files of a table, and its columns in the open format."""

    frame: Any
    columns: dict[str, Expression]
    files: tuple[str, ...]


@dataclass(slots=True)
class SparkLog:
    """A log; made by `spark_open.open_on_spark`, closed by `close` or as a context manager.

    ``notes`` is what is no mistake and must be said; ``counted`` is how many sound rows each large
    table has, known when the audit is done.
    """

    session: Any
    rejects: Rejects
    chain: ChainFrom | None = None
    notes: list[str] = field(default_factory=list)
    counted: dict[str, int] = field(default_factory=dict)
    _tables: dict[str, _Files] = field(default_factory=dict)
    _names: dict[str, dict[int, str]] = field(default_factory=dict)
    _small: dict[str, Block] = field(default_factory=dict)

    def columns(self, table: str) -> tuple[str, ...]:
        """The columns that the log has of a table; none if it has no such table."""
        if table not in self._tables:
            return ()
        has = self._tables[table].columns
        return tuple(name for name in TABLES[table].names if name in has)

    def rows(self, table: str) -> int:
        """How many sound rows a table has; of a large one only after the audit."""
        if table in self.counted or table not in self._tables:
            return self.counted.get(table, 0)
        return next((each.size for each in self.small(table).values()), 0)

    def small(self, table: str) -> Block:
        """A small table whole, in its order, with the columns that it has."""
        if table not in self._small:
            self._small[table] = self._read_small(table) if table in self._tables else {}
        return self._small[table]

    def frame(self, table: str, columns: Sequence[str]) -> Any:
        """A table as a data frame of whole numbers, with file, row and what is bad of it."""
        reading = self.reading(table, columns)
        chained = self.chain.columns if reading.chain and self.chain is not None else ()
        return self._raw(table, [*columns, *chained, "link"] if chained else columns).mapInArrow(
            converted(reading), reading.schema()
        )

    def reading(self, table: str, columns: Sequence[str]) -> Reading:
        """How a table's columns are read on a worker."""
        files = self._tables[table]
        form = TABLES[table]
        return Reading(
            table,
            {
                name: coded(form.column(name), files.columns.get(name), whole=self._is_whole(name))
                for name in columns
            },
            {name: each.sql for name, each in files.columns.items() if name in NAMES},
            tuple(
                (f"coalesce({each.bad}, false)", each.source, each.reason)
                for each in files.columns.values()
                if each.bad and each.source
            ),
            files.files,
            probe(),
            self._chained(table),
        )

    def _chained(self, table: str) -> dict[str, str]:
        """SQL for the link of a row and the link that the next must have."""
        chain = self.chain
        if chain is None or chain.table != table or "link" not in self.columns(table):
            return {}
        separator = literal(chain.separator)
        text = " || ".join(f"{self._text(table, name)} || {separator}" for name in chain.columns)
        link = self._text(table, "link")
        due = number_of(f"left(sha256({text} || {link}), {chain.digits})")
        missing = f"CAST({NULL + 1} AS BIGINT) - 1"
        due = f"CASE WHEN ({text}) IS NULL THEN {missing} ELSE {due} END"
        return {LINK: number_of(link), NEXT: due}

    def _text(self, table: str, name: str) -> str:
        """SQL for a column as text, as a chain is made over; null for a missing number."""
        text = TABLES[table].column(name).kind == "text"
        if (each := self._tables[table].columns.get(name)) is None:
            return "''" if text else "CAST(NULL AS VARCHAR)"
        said = f"CAST({each.sql} AS VARCHAR)"
        return f"coalesce({said}, '')" if text else said

    def begins(self) -> int:
        """The number of the link that the first row of a chained log has."""
        digits = 0 if self.chain is None else self.chain.digits
        with duckdb.connect() as connection:
            row = connection.execute(f"SELECT {number_of(literal('0' * digits))}").fetchone()
        assert row is not None
        return int(row[0])

    def reject(self, table: str, file: int, row: int, what: int) -> None:
        """A row that a worker rejected, by the numbers that it has for file, row and reason."""
        _, source, reason = self.reading(table, ()).bad[what - 1]
        self.rejects.add(self._tables[table].files[file], row + 1, source, reason)

    def names(self, column: str, codes: Ints) -> list[str]:
        """The texts that numbers stand for in a column of names; empty for -1."""
        if (words := word_codes(column)) is not None:
            return ["" if code < 0 else words[code] for code in codes.tolist()]
        if self._is_whole(column):
            return ["" if c == -1 else str(c if c >= 0 else c + 1) for c in codes.tolist()]
        known = self._names.setdefault(column, {-1: ""})
        if any(code not in known for code in codes.tolist()):
            self.learn({column: codes})
        return [known[code] for code in codes.tolist()]

    def learn(self, wanted: ByName[str, Ints]) -> None:
        """Look up the texts of many numbers at once: one pass over each table that has them."""
        left = {}
        for column, codes in wanted.items():
            known = self._names.setdefault(column, {-1: ""})
            new = np.setdiff1d(codes, np.fromiter(known, np.int64, len(known)))
            if new.size and not self._is_whole(column) and word_codes(column) is None:
                left[column] = new
        for table in sorted(self._tables, key=lambda name: name in LARGE):
            here = {name: codes for name, codes in left.items() if name in self.columns(table)}
            if not here:
                continue
            reading = self.reading(table, list(here))
            found = self._raw(table, list(here), bad=False).mapInArrow(
                names_among(reading, here), "`column` string, code bigint, text string"
            )
            found = found.distinct() if table in LARGE else found.coalesce(1)
            for column, code, text in found.collect():
                self._names[column][code] = text
            for column, codes in here.items():
                known = self._names[column]
                left[column] = np.array([c for c in codes.tolist() if c not in known], np.int64)
                if not left[column].size:
                    del left[column]

    def where_all(self, table: str, gauge: Ints, seq_lo: Ints, seq_hi: Ints) -> list[list[Stretch]]:
        """Where stretches of rows stand, for each of them; one read of the table."""
        rows = self.frame(table, ["gauge", "seq"])
        return stretches_on_spark(rows, self._tables[table].files, gauge, seq_lo, seq_hi)

    def close(self) -> None:
        """Let go of the session."""
        self.rejects.close()
        self.session.stop()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def _is_whole(self, column: str) -> bool:
        found = [
            files.columns[column].whole
            for files in self._tables.values()
            if column in files.columns
        ]
        return bool(found) and all(found)

    def _raw(self, table: str, columns: Sequence[str], *, bad: bool = True) -> Any:
        """The foreign columns that are needed, with file and row."""
        from pyspark.sql import functions as f

        files = self._tables[table]
        wanted = [files.columns[name].source for name in columns if name in files.columns]
        if bad:
            wanted += [each.source for each in files.columns.values() if each.bad]
        chosen = [
            f.col("`" + name.replace("`", "``") + "`") for name in dict.fromkeys(wanted) if name
        ]
        where = [
            f.col("_metadata.file_path").alias(FILE),
            f.col("_metadata.row_index").alias(ROW),
        ]
        return files.frame.select(*chosen, *where)

    def _read_small(self, table: str) -> Block:
        names = self.columns(table)
        found = self.frame(table, names).coalesce(1).toArrow()
        block = {name: found.column(name).to_numpy() for name in found.column_names}
        placed = np.lexsort((block[ROW], block[FILE]))
        block = {name: values[placed] for name, values in block.items()}
        for place in np.flatnonzero(block[BAD]).tolist():
            self.reject(table, *(int(block[name][place]) for name in (FILE, ROW, BAD)))
        sound = block[BAD] == 0
        block = {name: block[name][sound] for name in names}
        order = [block[name] for name in reversed(TABLES[table].order) if name in block]
        sorted_ = np.lexsort(order)
        return {name: values[sorted_] for name, values in block.items()}

    def take(self, table: str, given: TableFrom | None, files: Sequence[str]) -> None:
        """Make files the log's files of a table.

        Raises:
            IntakeError: they cannot be read together, or not on a cluster.
        """
        frame = self._frame_of(table, files)
        kinds = {each.name: _kind(each.dataType.simpleString()) for each in frame.schema.fields}
        form = TABLES[table]
        if given is None:
            if missing := [name for name in form.needed if name not in kinds]:
                for file in files:
                    self.rejects.lose(file, f"is no table of {table}: it has no {missing[0]}")
                return
            given = own_table(form, Path(files[0]), list(kinds))
        columns = {}
        for column in form.columns:
            if (each := given.columns.get(column.name)) is None:
                continue
            if each.column is not None and each.column not in kinds:
                raise IntakeError(f'The files of {table} have no column "{each.column}".')
            try:
                columns[column.name] = expression(column, each, kinds.get(each.column or "", ""))
            except ByRowError:
                raise IntakeError(
                    f"{table}.{column.name}: has to be taken apart row by row, which is not done "
                    "on a cluster. Bring these files into the open log format first."
                ) from None
        self._tables[table] = _Files(frame, columns, tuple(files))

    def _frame_of(self, table: str, files: Sequence[str]) -> Any:
        from pyspark.errors import PySparkException

        reader = self.session.read.option("recursiveFileLookup", "true")
        try:
            return reader.option("mergeSchema", str(len(files) > 1)).parquet(
                *map(as_pattern, files)
            )
        except PySparkException as error:
            why = str(error).splitlines()[0]
            raise IntakeError(f"The files of {table} cannot be read together: {why}") from error


def _kind(spark: str) -> str:
    return _KINDS.get(spark, spark.upper() if spark.startswith("decimal") else "OTHER")
