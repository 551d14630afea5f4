"""The logbook: records on the disk, in order, for good.

`Logbook.append` returns when the record has reached the disk, and not before: what it returned is
there after a crash of the program or of the machine. Nothing is ever changed or removed; the file
itself refuses it, and the chain of hashes shows it if somebody does it all the same.
"""

import os
import sqlite3
import threading
from collections.abc import Iterable, Iterator
from contextlib import ExitStack
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cached_property
from pathlib import Path
from types import TracebackType
from typing import Self

from daq.logbook import schema
from daq.logbook.chain import beginning, chain_hash
from daq.logbook.connection import (
    connect_to_read,
    connect_to_write,
    make_lasting,
    make_private,
    make_room,
)
from daq.logbook.disk import flush_folder
from daq.logbook.errors import (
    LogbookDamagedError,
    LogbookReadOnlyError,
    our_errors,
)
from daq.logbook.fields import new_uid
from daq.logbook.lock import WriterLock
from daq.logbook.records import (
    Cover,
    Record,
    UnknownRecord,
    Written,
    body_of,
    record_from,
)

_SELECT = "SELECT sequence, previous, hash, body FROM records"
_INSERT = "INSERT INTO records (sequence, previous, hash, body) VALUES (?, ?, ?, ?)"
_KIND = "CASE WHEN json_valid(body) THEN json_extract(body, '$.kind') END"
_PAGE = 256


@dataclass(frozen=True)
class Entry:
    """A record in its place in the chain.

    ``previous`` and ``hash`` are 64 lower-case hex digits; ``body`` is the record as canonical
    JSON, exactly as stored.
    """

    sequence: int
    previous: str
    hash: str
    body: str

    @cached_property
    def record(self) -> Record | UnknownRecord:
        """The record itself; an `UnknownRecord` if this program cannot read it."""
        return record_from(self.body)

    @cached_property
    def intact(self) -> bool:
        """Whether the record fits its own hash. Only `verify` sees whether its neighbours do."""
        fits = chain_hash(self.sequence, self.previous.encode(), self.body.encode())
        return fits.decode() == self.hash


class LogbookReader:
    """A logbook to read, also while a writer is at work. Made by `Logbook.read`.

    May be used from several threads, one at a time.
    """

    def __init__(self, path: Path, connection: sqlite3.Connection) -> None:
        self.path = path
        self._connection = connection
        self._turn = threading.RLock()

    @property
    def id(self) -> str:
        """The logbook's own id: a UUID that no other logbook has."""
        rows = self._rows("SELECT id FROM meta", ())
        if not rows:
            raise LogbookDamagedError(self.path, "its id is gone")
        return _text(rows[0][0])

    def entries(
        self, first: int = 1, last: int | None = None, *, kind: str | None = None
    ) -> Iterator[Entry]:
        """The entries numbered ``first`` to ``last``, oldest first.

        Args:
            first: number of the first record wanted.
            last: number of the last one wanted; None for all there are when they are reached.
            kind: only records of this kind.

        They are fetched in small parts, so a slow reader does not hold up the writer; records
        appended meanwhile come along.
        """
        through = 2**63 - 1 if last is None else last
        wanted, values = ("", ()) if kind is None else (f" AND {_KIND} = ?", (kind,))
        query = f"{_SELECT} WHERE sequence BETWEEN ? AND ?{wanted} ORDER BY sequence LIMIT {_PAGE}"
        while True:
            rows = self._rows(query, (first, through, *values))
            entries = [self._entry(row) for row in rows]
            yield from entries
            if len(rows) < _PAGE:
                return
            first = entries[-1].sequence + 1

    def entry(self, sequence: int) -> Entry | None:
        """The entry with that number, or None if there is none."""
        return next(self.entries(sequence, sequence), None)

    def last(self) -> Entry | None:
        """The newest entry; its number is also how many there are. None in a gutted logbook."""
        rows = self._rows(f"{_SELECT} ORDER BY sequence DESC LIMIT 1", ())
        return self._entry(rows[0]) if rows else None

    def close(self) -> None:
        """Let go of the file. Doing it twice is harmless."""
        with self._turn:
            self._connection.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def _rows(self, query: str, values: tuple[object, ...]) -> list[tuple[object, ...]]:
        with self._turn, our_errors(self.path):
            return self._connection.execute(query, values).fetchall()

    def _entry(self, row: tuple[object, ...]) -> Entry:
        sequence, previous, digest, body = row
        if not isinstance(sequence, int):  # the table was made anew by somebody
            raise LogbookDamagedError(self.path, f"{sequence!r:.40} stands for a record's number")
        return Entry(sequence, _text(previous), _text(digest), _text(body))


class Logbook(LogbookReader):
    """A logbook to write in, and to read. Made by `Logbook.open`; one writer at a time."""

    def __init__(self, path: Path, connection: sqlite3.Connection, lock: WriterLock) -> None:
        super().__init__(path, connection)
        self._lock = lock
        self._tail: Entry | None = None

    @classmethod
    def open(cls, path: str | os.PathLike[str], *, at: datetime | None = None) -> Self:
        """Open the logbook at ``path`` to write in it; begin it if there is none.

        A new logbook is readable by its owner alone. A logbook of an older layout is copied, then
        brought up to date. How many records there are makes no difference to how long it takes.

        Args:
            path: the file. Two files beside it (``-wal``, ``-shm``) belong to it while it is open
                and after a crash, and a third (``.lock``) says who writes.
            at: when a new logbook is begun, aware; None for now.

        Raises:
            LogbookBusyError: another program is writing in it.
            LogbookDamagedError: what keeps it append-only, or its newest record, is not as it was.
            LogbookError: it cannot be opened or made; the subclass and the message say why.
        """
        real = Path(os.path.realpath(path))  # so that two names of it are one lock
        with ExitStack() as undo:
            lock = WriterLock(real)
            undo.callback(lock.release)
            make_private(real)
            connection = connect_to_write(real)
            undo.callback(connection.close)
            is_new = schema.layout_of(connection, real) == 0
            make_lasting(connection, real)
            if is_new:
                _begin(connection, real, at or datetime.now(UTC))
            schema.bring_up_to_date(connection, real)
            _flush_folder(real)
            book = cls(real, connection, lock)
            book._check_sound()
            make_room(connection)
            undo.pop_all()
        return book

    @staticmethod
    def read(path: str | os.PathLike[str]) -> LogbookReader:
        """Open the logbook at ``path`` to read; it works while a writer is at work.

        No right to write is needed where SQLite can do without: `connect_to_read` says when.

        Raises:
            LogbookNotFoundError: there is no such file.
            NotALogbookError: it is something else.
            LogbookError: it cannot be read; the subclass and the message say why.
        """
        real = Path(os.path.realpath(path))
        connection = connect_to_read(real)
        try:
            schema.known_layout_of(connection, real)
        except BaseException:
            connection.close()
            raise
        return LogbookReader(real, connection)

    def append(self, record: Written) -> Entry:
        """Add ``record`` and wait until it is on the disk.

        Returns:
            The record in its place. Only now may anyone be told that it is kept.

        Raises:
            LogbookFullError: no room left. Later appends work once there is room again.
            LogbookError: it was not kept; the subclass and the message say why.
        """
        (entry,) = self.append_many([record])
        return entry

    def append_many(self, records: Iterable[Written]) -> list[Entry]:
        """Add ``records`` in their order: all of them, or none if it raises; else as `append`."""
        bodies = [body_of(record) for record in records]
        with self._turn, our_errors(self.path):
            tail = self._tail or self._read_tail()
            added: list[Entry] = []
            for body in bodies:
                tail = _following(tail, body)
                added.append(tail)
            self._tail = None  # until the commit is known to be done, the file decides
            self._commit(added)
            self._tail = tail
        return added

    def close(self) -> None:
        """Finish, and let others write. Doing it twice is harmless."""
        super().close()
        self._lock.release()

    def _commit(self, entries: list[Entry]) -> None:
        rows = [(each.sequence, each.previous, each.hash, each.body) for each in entries]
        if len(rows) == 1:  # a transaction of its own; naming its ends would be as much work again
            self._connection.execute(_INSERT, rows[0])
            return
        done = False
        try:
            self._connection.execute("BEGIN IMMEDIATE")
            self._connection.executemany(_INSERT, rows)
            self._connection.execute("COMMIT")
            done = True
        finally:
            # Also after Ctrl-C: a transaction left open would refuse every later record.
            if not done and self._connection.in_transaction:
                self._connection.execute("ROLLBACK")

    def _read_tail(self) -> Entry:
        tail = self.last()
        if tail is None:
            raise LogbookDamagedError(self.path, "its records are gone")
        return tail

    def _check_sound(self) -> None:
        """Refuse to build on a file that was tampered with, as far as a glance can tell."""
        with our_errors(self.path):
            number = schema.layout_of(self._connection, self.path)
            for difference in schema.differences(self._connection, number):
                raise LogbookDamagedError(self.path, f"it {difference}")
        tail = self._read_tail()
        if not tail.intact:
            raise LogbookDamagedError(self.path, f"record {tail.sequence} does not fit its hash")
        self._tail = tail


def _begin(connection: sqlite3.Connection, path: Path, at: datetime) -> None:
    """Lay out an empty file and write record 1: all of it or nothing."""
    cover = Cover(at=at, id=new_uid())
    start = beginning(cover.id.encode()).decode()
    first = _following(Entry(0, "", start, ""), body_of(cover))
    with our_errors(path):
        schema.run_steps(connection, schema.MIGRATIONS)
        connection.execute("INSERT INTO meta (only, id) VALUES (1, ?)", (cover.id,))
        connection.execute(_INSERT, (first.sequence, first.previous, first.hash, first.body))
        connection.execute("COMMIT")


def _flush_folder(path: Path) -> None:
    try:
        flush_folder(path.parent)
    except OSError as error:
        raise LogbookReadOnlyError(path, str(error)) from error


def _following(entry: Entry, body: bytes) -> Entry:
    sequence, previous = entry.sequence + 1, entry.hash
    digest = chain_hash(sequence, previous.encode(), body)
    return Entry(sequence, previous, digest.decode(), body.decode())


def _text(value: object) -> str:
    return value.decode("utf-8", "replace") if isinstance(value, bytes) else str(value)
