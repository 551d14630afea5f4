"""Rows of a log on a worker: foreign columns into whole numbers, by the SQL that one machine uses.

Each worker has a DuckDB of its own, so that a name has the same number everywhere. Nothing here
imports pyspark.
"""

import re
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any
from urllib.parse import unquote

import duckdb
import numpy as np

from daq.audit.source import Ints

FILE, ROW, BAD = "rp_file", "rp_row", "rp_bad"
"""Columns beside those of the layout: number of the file, row in it from 0, and what is bad (0:
sound; else 1 + place in `Reading.bad`)."""

LINK, NEXT = "rp_link", "rp_next"
"""Of a log chained row to row: numbers for a row's link, and for what the link of the next row must
be (`NULL` if that cannot be said)."""

Batches = Iterable[Any]
"""Batches of Arrow."""


@dataclass(frozen=True, slots=True)
class Reading:
    """How the files of a table are read.

    ``coded`` is SQL by column of the layout that gives a whole number, never null; ``texts`` is SQL
    by column of names for the text; ``bad`` is SQL that is true for a row to be rejected, with the
    foreign column and the reason. ``files`` are all files; ``probe`` is DuckDB's hash of a known
    text, which must be the same on all machines.
    """

    table: str
    coded: dict[str, str]
    texts: dict[str, str]
    bad: tuple[tuple[str, str, str], ...]
    files: tuple[str, ...]
    probe: int
    chain: dict[str, str] = field(default_factory=dict)
    """SQL for `LINK` and `NEXT`; empty if the table is not chained."""

    def schema(self) -> str:
        """The columns that `converted` gives, as Spark has it."""
        names = [*self.coded, *self.chain, FILE, ROW, BAD]
        return ", ".join(f"`{name}` bigint" for name in names)


def probe() -> int:
    """DuckDB's hash of a known text: another version may have another."""
    with duckdb.connect() as connection:
        row = connection.execute("SELECT hash('restpoint')").fetchone()
    assert row is not None
    return int(row[0])


def converted(reading: Reading) -> Callable[[Batches], Iterator[Any]]:
    """Rows of a table as whole numbers.

    Those to be rejected are marked, and spread over all parts of the cluster by a made-up gauge.
    """

    def work(batches: Batches) -> Iterator[Any]:
        cases = " ".join(f"WHEN {sql} THEN {n + 1}" for n, (sql, _, _) in enumerate(reading.bad))
        bad = f"CASE {cases} ELSE 0 END" if cases else "0"
        chosen = [
            f"CAST({_spread(sql, bad) if name == 'gauge' else _sound(sql, bad)} AS BIGINT) "
            f'AS "{name}"'
            for name, sql in {**reading.coded, **reading.chain}.items()
        ]
        chosen += [f'"{FILE}"', f'"{ROW}"', f'CAST({bad} AS BIGINT) AS "{BAD}"']
        yield from _selected(reading, f"SELECT {', '.join(chosen)} FROM batch", batches)

    return work


def _sound(sql: str, bad: str) -> str:
    return sql if bad == "0" else f"CASE WHEN ({bad}) > 0 THEN 0 ELSE {sql} END"


def _spread(sql: str, bad: str) -> str:
    return sql if bad == "0" else f'CASE WHEN ({bad}) > 0 THEN "{ROW}" ELSE {sql} END'


def number_of(text: str) -> str:
    """SQL for the number of a text that is never null, as that of a name."""
    return f"CAST(hash({text}) >> 1 AS BIGINT)"


def names_among(reading: Reading, wanted: dict[str, Ints]) -> Callable[[Batches], Iterator[Any]]:
    """The texts of the numbers that are wanted: ``column, code, text``, some more than once."""

    def work(batches: Batches) -> Iterator[Any]:
        import pyarrow as pa

        codes = {name: pa.table({"code": values}) for name, values in wanted.items()}
        parts = [
            f"SELECT DISTINCT '{name}' AS \"column\", code, text FROM "
            f"(SELECT CAST({reading.coded[name]} AS BIGINT) AS code, "
            f"({reading.texts[name]})::VARCHAR AS text FROM batch) "
            f"SEMI JOIN wanted_{name} USING (code)"
            for name in wanted
        ]
        tables = {f"wanted_{name}": table for name, table in codes.items()}
        yield from _selected(reading, " UNION ALL ".join(parts), batches, tables)

    return work


def _selected(
    reading: Reading, sql: str, batches: Batches, tables: dict[str, Any] | None = None
) -> Iterator[Any]:
    import pyarrow as pa

    if probe() != reading.probe:
        raise RuntimeError(
            "DuckDB on this worker hashes otherwise than on the driver. "
            "Install the same version of duckdb on all machines."
        )
    place = {name: number for number, name in enumerate(reading.files)}
    with duckdb.connect() as connection:
        connection.execute("SET threads = 1; SET TimeZone = 'UTC'")
        for name, table in (tables or {}).items():
            connection.register(name, table)
        for batch in batches:
            given = pa.Table.from_batches([batch])
            if FILE in batch.schema.names:
                at = given.schema.get_field_index(FILE)
                given = given.set_column(at, FILE, _file_numbers(given.column(at), place))
            connection.register("batch", given)
            yield from connection.sql(sql).to_arrow_table().to_batches()
            connection.unregister("batch")


def _file_numbers(names: Any, place: dict[str, int]) -> Any:
    import pyarrow as pa

    coded = names.combine_chunks().dictionary_encode()
    numbers = np.array([place[plain(each)] for each in coded.dictionary.to_pylist()], np.int64)
    return pa.array(numbers[coded.indices.to_numpy()])


@lru_cache(maxsize=10_000)
def plain(uri: str) -> str:
    """A file's address, of Spark's making, as one writes it: a local one as a path."""
    text = unquote(uri)
    return "/" + text[5:].lstrip("/") if text.startswith("file:") else text


def as_pattern(path: str) -> str:
    """A path as Spark must be given it, which else takes some of its signs for a pattern."""
    return re.sub(r"[\\{}\[\]*?]", r"\\\g<0>", path)
