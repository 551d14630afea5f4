"""The files of a table, each ready to be read as a Parquet file in the open format.

A text file, and a Parquet file with columns that must be taken apart, is made into a working file
row by row. A Parquet file whose rows are in order is read where it is. One that is not, and is too
large to be put in order block by block, is sorted into a working file.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from itertools import pairwise
from pathlib import Path

import duckdb

from daq.audit.intake.by_row import ByRow, foreign_columns, rows_of
from daq.audit.intake.expressions import FLOATS, ByRowError, Expression, expression
from daq.audit.intake.known import Known, known_of, rows_in
from daq.audit.intake.lines import NotReadableError, Row
from daq.audit.intake.mapping import TableFrom
from daq.audit.intake.own import names_in_text, own_table
from daq.audit.intake.quoting import literal, quoted
from daq.audit.intake.rejects import Rejects
from daq.audit.layout import Table


@dataclass(frozen=True, slots=True)
class Piece:
    """A file of a table, as it can be read.

    ``path`` is the Parquet file that is read, ``origin`` the file that it comes from;
    ``columns`` are in the open format, ``row`` is SQL for the line (of Parquet the row) in
    ``origin``; ``sound`` is SQL that is true for rows that are not rejected, empty if all are.
    """

    path: Path
    origin: Path
    columns: dict[str, Expression]
    rows: int
    row: str = "file_row_number + 1"
    sound: str = ""
    notes: tuple[str, ...] = field(default=())

    def read(self, chosen: str, where: str = "") -> str:
        """A query over the piece's sound rows, in the order of the file."""
        wheres = [each for each in (self.sound, where) if each]
        said = f" WHERE {' AND '.join(wheres)}" if wheres else ""
        numbered = ", file_row_number=true" if "file_row_number" in chosen + said else ""
        return f"SELECT {chosen} FROM {parquet(self.path, numbered)}{said}"


def parquet(path: Path, more: str = "") -> str:
    """SQL for a Parquet file as a table; what its folders are called is no column of it."""
    return f"read_parquet({literal(str(path))}, hive_partitioning=false{more})"


class PieceMaker:
    """Makes files into pieces.

    Args:
        connection: DuckDB with its limits set.
        folder: where working files go.
        small: rows up to which a file is not sorted into a working file.
    """

    def __init__(
        self, connection: duckdb.DuckDBPyConnection, folder: Path, rejects: Rejects, small: int
    ) -> None:
        self._connection = connection
        self._folder = folder
        self._rejects = rejects
        self._small = small
        self._made = 0

    def piece(self, path: Path, table: Table, given: TableFrom) -> Piece | None:
        """The piece of a file; None if it cannot be read at all, which is told to the rejects."""
        try:
            if given.format == "parquet":
                return self._of_parquet(path, table, given)
            return self._row_by_row(path, table, given)
        except (NotReadableError, OSError) as error:
            self._rejects.lose(str(path), f"cannot be read: {error}")
        except duckdb.OutOfMemoryException:
            raise
        except duckdb.Error as error:
            why = str(error).splitlines()[0][:200]
            self._rejects.lose(str(path), f"is no whole Parquet file: {why}")
        return None

    def own(self, path: Path, table: Table) -> Piece | None:
        """The piece of a file in the open format; as `piece`."""
        try:
            is_parquet = path.suffix == ".parquet"
            names = list(self._kinds(path)) if is_parquet else names_in_text(path)
        except (OSError, duckdb.Error):
            names = list(table.needed)  # what is wrong with it comes out when it is read
        if missing := [name for name in table.needed if name not in names]:
            self._rejects.lose(str(path), f"is no table of {table.name}: it has no {missing[0]}")
            return None
        return self.piece(path, table, own_table(table, path, names))

    def _of_parquet(self, path: Path, table: Table, given: TableFrom) -> Piece:
        kinds = self._kinds(path)
        for name in foreign_columns(given):
            if name not in kinds:
                raise NotReadableError(f'it has no column "{name}"')
        try:
            columns = {
                column.name: expression(column, each, kinds.get(each.column or "", ""))
                for column in table.columns
                if (each := given.columns.get(column.name)) is not None
            }
        except ByRowError:
            return self._row_by_row(path, table, given, kinds)
        known = known_of(self._connection, path)
        columns = {name: _as_known(each, known) for name, each in columns.items()}
        piece = self._checked(Piece(path, path, columns, 0), known)
        if "seq" in columns and piece.rows > self._small and not _is_clustered(piece, known):
            return self._sorted(piece)
        return piece

    def _kinds(self, path: Path) -> dict[str, str]:
        query = f"DESCRIBE SELECT * FROM {parquet(path)}"
        return {row[0]: row[1] for row in self._connection.execute(query).fetchall()}

    def _checked(self, piece: Piece, known: Mapping[str, Known]) -> Piece:
        """The piece with its rows counted, and those that cannot be read told and left out."""
        rows = rows_in(self._connection, piece.path)
        tests = [each for each in piece.columns.values() if self._has_bad(piece, each, known)]
        if not tests:
            return replace(piece, rows=rows)
        any_bad = _asked_of_rows(" OR ".join(f"coalesce({each.bad}, false)" for each in tests))
        chosen = ", ".join(
            f"coalesce({each.bad}, false), CAST({quoted(str(each.source))} AS VARCHAR)"
            for each in tests
        )
        cursor = self._connection.execute(piece.read(f"{piece.row}, {chosen}", any_bad))
        bad = 0
        while batch := cursor.fetchmany(10_000):
            bad += len(batch)
            for row, *cells in batch:
                place = next(p for p in range(len(tests)) if cells[2 * p])
                bad_one, value = tests[place], cells[2 * place + 1]
                source, reason = str(bad_one.source), bad_one.reason
                self._rejects.add(str(piece.path), row, source, reason, value or "")
        return replace(piece, rows=rows - bad, sound=f"NOT {any_bad}")

    def _has_bad(self, piece: Piece, each: Expression, known: Mapping[str, Known]) -> bool:
        """Whether a column makes any row a bad one; each by itself, so that no other is read."""
        if not each.bad or each.source is None:
            return False
        there = known.get(each.source)
        if there is not None and each.is_sound is not None and each.is_sound(there):
            return False
        query = piece.read("1", _asked_of_rows(each.bad))
        return bool(self._connection.execute(f"{query} LIMIT 1").fetchall())

    def _sorted(self, piece: Piece) -> Piece:
        to = self._new_file()
        chosen = ", ".join(f"{each.sql} AS {quoted(name)}" for name, each in piece.columns.items())
        order = f"{piece.columns['gauge'].sql}, {piece.columns['seq'].sql}, {piece.row}"
        query = piece.read(f'{chosen}, {piece.row} AS "row"')
        self._connection.execute(
            f"COPY ({query} ORDER BY {order}) TO {literal(str(to))} (FORMAT parquet)"
        )
        columns = {
            name: replace(each, sql=quoted(name), bad=None, source=name)
            for name, each in piece.columns.items()
        }
        note = f"{piece.origin} is not in the order of gauge and seq; it was sorted"
        return Piece(to, piece.origin, columns, piece.rows, '"row"', notes=(note,))

    def _row_by_row(
        self, path: Path, table: Table, given: TableFrom, kinds: dict[str, str] | None = None
    ) -> Piece:
        wanted = foreign_columns(given)
        if kinds is None:
            rows = rows_of(path, given, wanted, self._rejects, str(path))
        else:
            rows = self._parquet_rows(path, wanted, kinds, given.decimal)
        to = self._new_file()
        maker = ByRow(self._connection, table, given, str(path), self._rejects)
        count = maker.write(rows, to)
        columns = {
            name: Expression(quoted(name), source=name)
            for name in table.names
            if name in given.columns
        }
        note = f"{path} is not in the order of {' and '.join(table.order)}; it was sorted"
        notes = () if maker.in_order else (note,)
        return Piece(to, path, columns, count, '"row"', notes=notes)

    def _parquet_rows(
        self, path: Path, wanted: list[str], kinds: dict[str, str], decimal: str
    ) -> Iterator[Row]:
        chosen = ", ".join(
            f"replace(CAST({quoted(name)} AS VARCHAR), '.', {literal(decimal)})"
            if kinds[name] in FLOATS or kinds[name].startswith("DECIMAL")
            else f"CAST({quoted(name)} AS VARCHAR)"
            for name in wanted
        )
        cursor = self._connection.cursor()
        cursor.execute(f"SELECT {chosen} FROM {parquet(path)}")
        number = 0
        while batch := cursor.fetchmany(10_000):
            for cells in batch:
                number += 1
                yield number, ["" if cell is None else cell for cell in cells]

    def _new_file(self) -> Path:
        self._made += 1
        return self._folder / f"piece-{self._made:06d}.parquet"


def _asked_of_rows(sql: str) -> str:
    """A question that is true or false of a row, so put that every row has to be looked at.

    DuckDB answers one about a single column from a row group's statistics where these have the same
    least and greatest value, and other writers leave what is no number (NaN) out of them.
    """
    return f"({sql} OR file_row_number < 0)"


def _as_known(each: Expression, known: Mapping[str, Known]) -> Expression:
    """A column with what is known of it."""
    there = None if each.source is None else known.get(each.source)
    if there is None or not there.full:
        return each
    return replace(each, full=True, natural=each.whole and there.is_within(0, 2**63 - 1))


def _is_clustered(piece: Piece, known: Mapping[str, Known]) -> bool:
    """Whether row groups follow each other in the order of gauges, by their statistics."""
    gauge = piece.columns["gauge"]
    if gauge.source is None:
        return True
    if gauge.source not in known:
        return False
    ends = [
        (_key(low, gauge.whole), _key(high, gauge.whole)) for low, high in known[gauge.source].ends
    ]
    if any(low is None or high is None for low, high in ends):
        return False
    return all(a[1] <= b[0] for a, b in pairwise(ends))  # type: ignore[operator]


def _key(text: str | None, whole: bool) -> int | str | None:
    return int(text) if whole and text is not None else text
