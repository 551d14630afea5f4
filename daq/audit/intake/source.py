"""A log that is ready to be audited: its tables in the open format, within a limit of memory.

Small tables are given whole, large ones in blocks of whole gauges sorted by (gauge, seq). A name is
given as a number that is the same in all tables of the source: the name itself where the log has
whole numbers for names, else the upper 63 bits of DuckDB's 64-bit hash of the text. Times, lengths
and temperatures are as in `daq.audit.layout`.
"""

import shutil
import tempfile
from collections.abc import Iterator, Sequence
from functools import partial
from pathlib import Path
from types import TracebackType
from typing import Any, NamedTuple, Self

import numpy as np
import numpy.typing as npt

from daq.audit.intake.arrow import arrays, cut_into, joined, streamed
from daq.audit.intake.blocks import Cut, Group, groups_of, in_order
from daq.audit.intake.coding import coded, is_whole, word_codes
from daq.audit.intake.identity import identity_of
from daq.audit.intake.limits import Limits, connected
from daq.audit.intake.mapping import ChainFrom, Mapping, TableFrom
from daq.audit.intake.pieces import Piece, PieceMaker
from daq.audit.intake.places import Stretch, stretches_of
from daq.audit.intake.quoting import literal, quoted
from daq.audit.intake.rejects import Rejects
from daq.audit.intake.windows import Windows, rows_within
from daq.audit.layout import LARGE, TABLES, Table

Ints = npt.NDArray[np.int64]
Block = dict[str, Ints]


class Where(NamedTuple):
    """Where a row stands in the log: file, and line from 1 (of Parquet the row)."""

    seq: int
    file: str
    line: int


class LogSource:
    """A log; made by `daq.audit.intake.open_source`, closed by `close` or as a context manager."""

    def __init__(
        self,
        limits: Limits,
        rejects: Rejects,
        mapping: Mapping | None,
        chain: ChainFrom | None = None,
    ) -> None:
        self.rejects = rejects
        self.chain = chain if mapping is None else mapping.chain
        """How a foreign log is bound row to row, if the mapping says so, or a file beside it."""
        self.notes: list[str] = []
        """What is no mistake and must be said: files that were sorted, columns that some lack."""
        self.files: dict[str, list[Path]] = {}
        """The files that were read, by table."""
        self._limits = limits
        self._mapping = mapping
        self._folder = Path(tempfile.mkdtemp(prefix="restpoint-", dir=limits.folder))
        self.connection = connected(limits, self._folder)
        self._pieces: dict[str, list[Piece]] = {}
        self._groups: dict[str, list[Group]] = {}
        self._names: dict[str, dict[int, str]] = {}

    def columns(self, table: str) -> tuple[str, ...]:
        """The columns that the log has of a table; none if it has no such table."""
        pieces = self._pieces.get(table, [])
        return tuple(
            name for name in TABLES[table].names if any(name in each.columns for each in pieces)
        )

    def rows(self, table: str) -> int:
        """How many sound rows a table has; 0 if it is not there."""
        return sum(piece.rows for piece in self._pieces.get(table, []))

    def small(self, table: str) -> Block:
        """A small table whole, in its order, with the columns that it has."""
        names = self.columns(table)
        parts = [self._read(table, piece, names) for piece in self._pieces.get(table, [])]
        block = {name: np.concatenate([part[name] for part in parts]) for name in names}
        order = [block[name] for name in reversed(TABLES[table].order) if name in block]
        if order and len(parts) + len(order[0]) > 1:
            place = np.lexsort(order)
            block = {name: each[place] for name, each in block.items()}
        return block

    def blocks(self, table: str, columns: Sequence[str], skip: int = 0) -> Iterator[Block]:
        """A large table in blocks of whole gauges, sorted by (gauge, seq), the same at every call.

        Args:
            table: one of `daq.audit.layout.LARGE`.
            columns: which columns, each one of ``columns(table)``.
            skip: how many blocks to leave out at the beginning, to go on after an interruption.
        """
        wanted = tuple(dict.fromkeys((*columns, "gauge", "seq")))
        for group, cuts in self._cuts(table):
            here, skip = skip, max(0, skip - len(cuts))
            if here >= len(cuts):
                continue
            if group.in_order:
                made = self._streamed(table, group, cuts, wanted, here)
            else:
                made = (self._gathered(table, group, cut, wanted) for cut in cuts[here:])
            # Mapped, since a block that had a name here would be held on to.
            yield from map(partial(_chosen, columns), made)

    def block_count(self, table: str) -> int:
        """How many blocks a table comes in."""
        return sum(len(cuts) for _, cuts in self._cuts(table))

    def names(self, column: str, codes: Ints) -> list[str]:
        """The texts that numbers stand for in a column of names; empty for -1."""
        distinct, places = np.unique(codes, return_inverse=True)
        texts = self._texts(column, distinct)
        return [texts[place] for place in places.tolist()]

    def _texts(self, column: str, codes: Ints) -> list[str]:
        if (words := word_codes(column)) is not None:
            return ["" if code < 0 else words[code] for code in codes.tolist()]
        if self._is_whole(column):
            return ["" if c == -1 else str(c if c >= 0 else c + 1) for c in codes.tolist()]
        known = self._names.setdefault(column, {-1: ""})
        missing = np.setdiff1d(codes, np.fromiter(known, np.int64, len(known)))
        if len(missing):
            known.update(self._looked_up(column, missing))
        return [known[code] for code in codes.tolist()]

    def where(self, table: str, gauge: int, seq_lo: int, seq_hi: int) -> list[Where]:
        """In which file and line the rows of a gauge (by its number) stand, in their order."""
        (name,) = self.names("gauge", np.array([gauge]))
        value = literal(name) if not self._is_whole("gauge") else name
        found = []
        for piece in self._pieces.get(table, []):
            key = self._key(piece)
            seq = piece.columns["seq"].sql
            where = f"{key} = {value} AND {seq} BETWEEN {int(seq_lo)} AND {int(seq_hi)}"
            query = piece.read(f"{seq}, {piece.row}", where)
            for number, line in self.connection.execute(query).fetchall():
                found.append(Where(number, str(piece.origin), line))
        return sorted(found)

    def where_all(self, table: str, gauge: Ints, seq_lo: Ints, seq_hi: Ints) -> list[list[Stretch]]:
        """Where rows of gauges (by their numbers) stand, for each stretch; one read of the table.

        Args:
            table: one of `daq.audit.layout.LARGE`.
            gauge, seq_lo, seq_hi: what is wanted, all of one length.
        """
        place = np.arange(gauge.size)
        wanted = {"place": place, "gauge": gauge, "lo": seq_lo, "hi": seq_hi}
        files = []
        for piece in self._pieces.get(table, []):
            key = self._coded(TABLES[table], piece, "gauge")
            seq = piece.columns["seq"].sql
            rows = piece.read(f"{key} AS gauge, {seq} AS seq, {piece.row} AS line")
            files.append((str(piece.origin), rows))
        return stretches_of(self.connection, files, wanted)

    def within(
        self, table: str, columns: Sequence[str], windows: Windows
    ) -> dict[str, npt.NDArray[Any]]:
        """The rows of a large table within windows of gauge and time, sorted by window and number.

        Args:
            table: one of `daq.audit.layout.LARGE`.
            columns: which columns, each one of ``columns(table)``; ``seq`` is given in any case.
            windows: what is wanted.

        Returns:
            The columns, names and words as texts (empty for none), a missing number as `NULL`; and
            ``place``, the place of the row's window, from 0.
        """
        asked = tuple(dict.fromkeys((*columns, "seq", "at_us")))
        files = []
        for piece in self._pieces.get(table, []):
            chosen = [f"{_as_layout(piece, TABLES[table], name)} AS {name}" for name in asked]
            files.append(piece.read(f"{self._key(piece)} AS gauge_key, {', '.join(chosen)}"))
        whole = self._is_whole("gauge")
        return rows_within(self.connection, TABLES[table], asked, files, windows, whole=whole)

    def select(self, table: str) -> str:
        """SQL for a table in the open format, names as text, to be run on ``connection``."""
        names = self.columns(table)
        parts = []
        for piece in self._pieces.get(table, []):
            chosen = [
                f"{_as_layout(piece, TABLES[table], name)} AS {quoted(name)}" for name in names
            ]
            parts.append(piece.read(", ".join(chosen)))
        return " UNION ALL ".join(parts)

    def selects(self, table: str) -> Iterator[str]:
        """`select` of a large table in parts, each of whole gauges and as long as a block."""
        names = self.columns(table)
        for group, cuts in self._cuts(table):
            for cut in cuts:
                parts = []
                for piece in group.pieces:
                    chosen = [
                        f"{_as_layout(piece, TABLES[table], name)} AS {quoted(name)}"
                        for name in names
                    ]
                    parts.append(piece.read(", ".join(chosen), cut.where(self._key(piece))))
                yield " UNION ALL ".join(parts)

    def sorted_selects(self, table: str) -> Iterator[str]:
        """SQL for a table as the open format keeps it best, in parts that follow each other.

        Sorted, of rows that are equal in that the earlier first; names are whole numbers where all
        files have such. No gauge of a large table is in two parts.
        """
        pieces = self._pieces.get(table, [])
        parts = [pieces] if pieces else []
        if table in LARGE:
            parts = [[*group.pieces] for group, _ in self._cuts(table)]
        names = self.columns(table)
        order = [name for name in TABLES[table].order if name in names]
        for part in parts:
            rows = []
            for number, piece in enumerate(part):
                chosen = [f"{self._kept(piece, table, name)} AS {quoted(name)}" for name in names]
                rows.append(
                    piece.read(f"{', '.join(chosen)}, {number} AS _file, {piece.row} AS _row")
                )
            shown = ", ".join(quoted(name) for name in names)
            by = ", ".join([*(quoted(name) for name in order), "_file", "_row"])
            yield f"SELECT {shown} FROM ({' UNION ALL '.join(rows)}) ORDER BY {by}"

    def _kept(self, piece: Piece, table: str, name: str) -> str:
        if TABLES[table].column(name).kind == "text" and self._is_whole(name):
            return piece.columns[name].sql if name in piece.columns else "CAST(NULL AS INTEGER)"
        return _as_layout(piece, TABLES[table], name)

    def close(self) -> None:
        """Let go of everything, and take away the working files."""
        self.rejects.close()
        self.connection.close()
        shutil.rmtree(self._folder, ignore_errors=True)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def take(self, files: Iterator[tuple[Table, Path, TableFrom | None]]) -> None:
        """Read files: of which table, and where its columns come from; None for the open format."""
        maker = PieceMaker(self.connection, self._folder, self.rejects, self._limits.block_rows)
        for table, path, given in files:
            piece = maker.own(path, table) if given is None else maker.piece(path, table, given)
            if piece is not None:
                self._pieces.setdefault(table.name, []).append(piece)
                self.files.setdefault(table.name, []).append(path)
                self.notes += piece.notes
        for name, pieces in self._pieces.items():
            for piece in pieces:
                if lacks := [each for each in self.columns(name) if each not in piece.columns]:
                    self.notes.append(f"{piece.origin} has no {', '.join(lacks)}, as others have")

    def identity(self) -> str:
        """Another text where files, the mapping or the cutting into blocks are others."""
        mapping = "" if self._mapping is None else self._mapping.model_dump_json()
        chain = "" if self.chain is None else self.chain.model_dump_json()
        return identity_of(self.files, mapping, chain, str(self._limits.block_rows))

    def _is_whole(self, column: str) -> bool:
        return is_whole(column, [piece for all_ in self._pieces.values() for piece in all_])

    def _key(self, piece: Piece) -> str:
        gauge = piece.columns["gauge"]
        return gauge.sql if gauge.whole == self._is_whole("gauge") else f"({gauge.sql})::VARCHAR"

    def _read(self, table: str, piece: Piece, columns: Sequence[str], where: str = "") -> Block:
        return arrays(self.connection, self._query(table, piece, columns, where))

    def _query(self, table: str, piece: Piece, columns: Sequence[str], where: str = "") -> str:
        chosen = [
            f"{self._coded(TABLES[table], piece, name)} AS {quoted(name)}" for name in columns
        ]
        return piece.read(", ".join(chosen), where)

    def _coded(self, table: Table, piece: Piece, name: str) -> str:
        return coded(table.column(name), piece.columns.get(name), whole=self._is_whole(name))

    def _cuts(self, table: str) -> Iterator[tuple[Group, list[Cut]]]:
        if table not in LARGE:
            raise ValueError(f"{table} is a small table; read it whole")
        if table not in self._groups:
            pieces = self._pieces.get(table, [])
            self._groups[table] = groups_of(self.connection, pieces, self._key)
        for group in self._groups[table]:
            yield group, list(group.cuts(self._limits.block_rows))

    def _streamed(
        self, table: str, group: Group, cuts: Sequence[Cut], columns: Sequence[str], skip: int
    ) -> Iterator[Block]:
        """The blocks of a file whose gauges stand in order, but the first ``skip``."""
        (piece,) = group.pieces
        before = sum(cut.rows for cut in cuts[:skip])
        where = f"file_row_number >= {before}" if before else ""
        query = self._query(table, piece, columns, where)
        rows = [cut.rows for cut in cuts[skip:]]
        return map(in_order, cut_into(streamed(self.connection, query), rows))

    def _gathered(self, table: str, group: Group, cut: Cut, columns: Sequence[str]) -> Block:
        """A block whose rows stand anywhere in some files."""
        parts = [
            self._read(table, piece, columns, cut.where(self._key(piece))) for piece in group.pieces
        ]
        return in_order(joined(parts), gauges_too=True)

    def _looked_up(self, column: str, codes: Ints) -> Iterator[tuple[int, str]]:
        wanted = {"code": codes}
        left = len(codes)
        for table, pieces in sorted(self._pieces.items(), key=lambda each: each[0] in LARGE):
            for piece in pieces:
                if column not in piece.columns or not left:
                    continue
                code = self._coded(TABLES[table], piece, column)
                text = f"({piece.columns[column].sql})::VARCHAR"
                query = piece.read(f"DISTINCT {code} AS code, {text} AS text")
                found = self.connection.execute(
                    f"SELECT code, text FROM ({query}) JOIN (SELECT code FROM wanted) USING (code)"
                ).fetchall()
                wanted["code"] = np.setdiff1d(wanted["code"], [code for code, _ in found])
                left = len(wanted["code"])
                yield from found


def _chosen(columns: Sequence[str], block: Block) -> Block:
    return {name: block[name] for name in columns}


def _as_layout(piece: Piece, table: Table, name: str) -> str:
    each = piece.columns.get(name)
    text = table.column(name).kind == "text"
    if each is None:
        return "''" if text else "NULL::BIGINT"
    return f"coalesce(({each.sql})::VARCHAR, '')" if text else each.sql
