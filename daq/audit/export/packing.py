"""The columns of an exported file as packed whole numbers, each read by itself, in parts.

So no more than a part of a column is held at a time. A name costs as much as a number: DuckDB gives
the hash of it, which comes out of the file's own dictionary, and equal hashes that follow each
other are looked up once. That no two names of a column share a hash is proved for each file.
"""

from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING

from daq.audit.errors import AuditError
from daq.audit.export.chain import Packed, packed_texts
from daq.audit.intake.own import names_in_text
from daq.audit.intake.quoting import literal, quoted
from daq.audit.layout import NULL, Table

if TYPE_CHECKING:
    import duckdb
    import numpy as np
    import numpy.typing as npt

    Ints = npt.NDArray[np.int64]


def connected() -> "duckdb.DuckDBPyConnection":
    """DuckDB, to read any number of files with; on one thread. It must be closed."""
    import duckdb

    connection = duckdb.connect()
    connection.execute("SET threads = 1")
    with suppress(duckdb.CatalogException):  # older ones have no such setting
        connection.execute("SET parquet_metadata_cache = true")
    return connection


@contextmanager
def opened_file(
    connection: "duckdb.DuckDBPyConnection", path: Path, table: Table
) -> "Iterator[ExportedFile]":
    """A file of the open format, to be read column by column.

    A file that was exported before a column came to the layout does not have it.

    Raises:
        AuditError: it cannot be read, now or within the ``with``, or lacks a column.
    """
    import duckdb

    try:
        with connection.cursor() as cursor:
            # Text is taken apart once, not once a column.
            kind = "VIEW" if path.suffix == ".parquet" else "TABLE"
            cursor.execute(f"CREATE TEMP {kind} file AS SELECT * FROM {_reader(path, table)}")
            yield ExportedFile(cursor, table)
    except duckdb.Error as error:
        raise AuditError(str(error).splitlines()[0]) from error


class ExportedFile:
    """A file of the open format; made by `opened_file`."""

    def __init__(self, connection: "duckdb.DuckDBPyConnection", table: Table) -> None:
        self._connection = connection
        there = {name for name, *_ in connection.execute("DESCRIBE file").fetchall()}
        self._columns = [
            each for each in table.columns if each.name in there or each.name in table.needed
        ]
        ((self.rows,),) = connection.execute("SELECT count(*) FROM file").fetchall()

    def columns(self) -> dict[str, Packed]:
        """All columns that there are but ``link``; each may be gone through once."""
        return {
            each.name: self._text(each.name) if each.kind == "text" else self._numbers(each.name)
            for each in self._columns
            if each.name != "link"
        }

    def links(self) -> set[str]:
        """The distinct texts in ``link``; none if there is no such column."""
        has_links = any(each.name == "link" for each in self._columns)
        return {name for name, _ in self._names("link")} if has_links else set()

    def _numbers(self, name: str) -> Packed:
        number = f"coalesce(CAST({quoted(name)} AS BIGINT), {NULL + 1} - 1)"
        return Packed(self._parts(number))

    def _text(self, name: str) -> Packed:
        found = sorted(self._names(name))
        names = [each for each, _ in found]
        hashes = [each for _, each in found]
        if len(set(hashes)) < len(names):
            query = f"SELECT {_text(name)} FROM file"
            return packed_texts(each for (each,) in self._connection.execute(query).fetchall())
        return Packed(_places(self._parts(_hash(name)), hashes), names)

    def _names(self, name: str) -> list[tuple[str, int]]:
        """The distinct texts of a column, each with its hash."""
        query = (
            f"SELECT text, {_hash('text')} FROM (SELECT DISTINCT {_text(name)} AS text FROM file)"
        )
        return self._connection.execute(query).fetchall()

    def _parts(self, sql: str) -> "Iterator[Ints]":
        from daq.audit.intake.arrow import batches, is_offered

        query = f"SELECT {sql} AS part FROM file"
        relation = self._connection.sql(query)
        if is_offered(relation):
            for batch in batches(relation):
                yield batch["part"]
        else:
            yield self._connection.execute(query).fetchnumpy()["part"]


def _text(name: str) -> str:
    return f"coalesce({quoted(name)}, '')"


def _hash(name: str) -> str:
    """SQL for a hash of a text that fits a signed whole number."""
    return f"CAST(hash({_text(name)}) >> 1 AS BIGINT)"


def _places(parts: "Iterator[Ints]", hashes: list[int]) -> "Iterator[Ints]":
    """The place in ``hashes`` of every number; all are there."""
    import numpy as np

    known = np.array(hashes, dtype=np.int64)
    order = np.argsort(known)
    in_order = known[order]
    for part in parts:
        starts = np.flatnonzero(np.concatenate(([True], part[1:] != part[:-1])))
        places = order[np.searchsorted(in_order, part[starts])]
        yield np.repeat(places, np.diff(starts, append=part.size))


def _reader(path: Path, table: Table) -> str:
    has = names_in_text(path) if path.suffix == ".jsonl" else []
    kinds = ", ".join(
        f"{quoted(each.name)}: '{'VARCHAR' if each.kind == 'text' else 'BIGINT'}'"
        for each in table.columns
        if each.name in has or each.name in table.needed
    )
    at = literal(str(path))
    # The site is what the rows say, not what the folder is called.
    own = ", hive_partitioning=false"
    return {
        ".parquet": f"read_parquet({at}{own})",
        ".csv": f"read_csv({at}, all_varchar=true, header=true, delim=','{own})",
        ".jsonl": f"read_json({at}, format='newline_delimited', columns={{{kinds}}}{own})",
    }[path.suffix]
