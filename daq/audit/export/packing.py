"""The columns of an exported file as packed whole numbers: of a large file column by column.

So little of it is held at a time, and a small file is asked only twice. A name costs as much as a
number: DuckDB gives the hash of it, which comes out of the file's own dictionary, and equal hashes
that follow each other are looked up once. That no two names of a column share a hash is proved for
each file.
"""

from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager, suppress
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

from daq.audit.errors import AuditError
from daq.audit.export.chain import Packed, packed_texts
from daq.audit.intake.own import names_in_text
from daq.audit.intake.quoting import literal, quoted
from daq.audit.layout import NULL, Column, Table

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
        """All columns that there are but ``link``; to be gone through once, in their order."""
        wanted = [each for each in self._columns if each.name != "link"]
        at_once = max(1, _HELD // max(1, self.rows))
        packed: dict[str, Packed] = {}
        for first in range(0, len(wanted), at_once):
            some = wanted[first : first + at_once]
            group = _Group(self._connection, [_number(each) for each in some])
            for place, each in enumerate(some):
                parts = group.parts(place)
                packed[each.name] = (
                    self._text(each.name, parts) if each.kind == "text" else Packed(parts)
                )
        return packed

    def links(self) -> set[str]:
        """The distinct texts in ``link``; none if there is no such column."""
        return set(self._names.get("link", ()))

    def _text(self, name: str, parts: "Iterator[Ints]") -> Packed:
        names, hashes = list(self._names[name]), list(self._names[name].values())
        if len(set(hashes)) < len(names):
            query = f"SELECT {_text(name)} FROM file"
            return packed_texts(each for (each,) in self._connection.execute(query).fetchall())
        return Packed(_places(parts, hashes), names)

    @cached_property
    def _names(self) -> dict[str, dict[str, int]]:
        """By column the distinct texts, sorted by code point, each with its hash."""
        columns = [each.name for each in self._columns if each.kind == "text"]
        query = " UNION ALL ".join(
            f"SELECT {place} AS place, {_text(name)} AS text, {_hash(name)} AS number "
            f"FROM file GROUP BY {quoted(name)}"
            for place, name in enumerate(columns)
        )
        found = self._connection.execute(query).fetchnumpy()
        names = {}
        for place, name in enumerate(columns):
            here = found["place"] == place
            # A missing text and an empty one are the same here.
            numbers = zip(found["text"][here].tolist(), found["number"][here].tolist(), strict=True)
            names[name] = dict(numbers)
        return {name: {text: each[text] for text in sorted(each)} for name, each in names.items()}


_HELD = 1 << 20
"""Numbers that are held at a time: what a processor keeps at hand. Of a file that has more rows,
each column is read by itself, in parts."""


class _Group:
    """Columns that are read together, when the first of them is asked for."""

    def __init__(self, connection: "duckdb.DuckDBPyConnection", numbers: list[str]) -> None:
        self._connection = connection
        self._query = ", ".join(f"{sql} AS c{place}" for place, sql in enumerate(numbers))
        self._last = len(numbers) - 1
        self._batches: Iterable[dict[str, Ints]] | None = None

    def parts(self, place: int) -> "Iterator[Ints]":
        """One of the columns; the last one is the end of it."""
        if self._batches is None:
            self._batches = self._read()
            if self._last:
                self._batches = list(self._batches)
        for batch in self._batches:
            yield batch[f"c{place}"]
        if place == self._last:
            self._batches = ()

    def _read(self) -> "Iterator[dict[str, Ints]]":
        from daq.audit.intake.arrow import batches, is_offered

        query = f"SELECT {self._query} FROM file"
        relation = self._connection.sql(query)
        if is_offered(relation):
            return batches(relation)
        return iter([self._connection.execute(query).fetchnumpy()])


def _number(column: Column) -> str:
    """SQL for a column as whole numbers: of text a hash."""
    if column.kind == "text":
        return _hash(column.name)
    return f"coalesce(CAST({quoted(column.name)} AS BIGINT), {NULL + 1} - 1)"


def _text(name: str) -> str:
    return f"coalesce({quoted(name)}, '')"


def _hash(name: str) -> str:
    """SQL for a hash of a text that fits a signed whole number."""
    return f"CAST(hash({_text(name)}) >> 1 AS BIGINT)"


def _places(parts: "Iterator[Ints]", hashes: list[int]) -> "Iterator[Ints]":
    """The place in ``hashes`` of every number; all are there."""
    import numpy as np

    place_of = _lookup(np.array(hashes, dtype=np.int64))
    for part in parts:
        if not part.size:
            continue
        starts = np.flatnonzero(np.concatenate(([True], part[1:] != part[:-1])))
        yield np.repeat(place_of(part[starts]), np.diff(starts, append=part.size))


def _lookup(known: "Ints") -> "Callable[[Ints], Ints]":
    """What gives the place of each number in ``known``."""
    import numpy as np

    ends = known & _END
    if np.unique(ends).size == known.size:  # few names: their last bits tell them apart
        table = np.zeros(_END + 1, dtype=np.int64)
        table[ends] = np.arange(known.size)
        return lambda numbers: table[numbers & _END]
    order = np.argsort(known)
    in_order = known[order]
    return lambda numbers: order[np.searchsorted(in_order, numbers)]


_END = (1 << 14) - 1


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
