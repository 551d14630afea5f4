"""SQLite connections as a logbook needs them: durable to write, harmless to read.

Writing: write-ahead log, so that reading goes on meanwhile, and synchronous=FULL, so that a commit
has reached the disk when it returns. Reading: the file is opened read-only.

SQLite on the folder of another machine: its write-ahead log needs memory shared by all programs
that use the file, which a network drive does not give. A logbook belongs on a local disk.
"""

import contextlib
import os
import sqlite3
from pathlib import Path

from daq.logbook.errors import (
    LogbookError,
    LogbookNotFoundError,
    LogbookReadOnlyError,
    our_errors,
)

OLDEST_SQLITE = (3, 37, 0)
"""The first with STRICT tables (sqlite.org, "STRICT Tables")."""

_BUSY_WAIT_S = 1.0
"""How long a program with its own SQLite tools may hold the file before we give up."""

_FULL = 2

_ROOM_BYTES = 4_100_000
"""As long as the write-ahead log gets: SQLite empties it after 1000 pages of 4096 bytes."""


def make_private(path: Path) -> None:
    """Make an empty file only its owner can read, if there is none.

    Raises:
        LogbookNotFoundError: there is no such folder.
        LogbookReadOnlyError: this user may not make it.
    """
    try:
        os.close(os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600))
    except FileExistsError:
        return
    except FileNotFoundError as error:
        raise LogbookNotFoundError(path, str(error)) from error
    except OSError as error:
        raise LogbookReadOnlyError(path, str(error)) from error


def connect_to_write(path: Path) -> sqlite3.Connection:
    """A connection that may write to the existing file ``path``, and has not touched it yet.

    Text comes back as bytes: a file somebody tampered with may hold text that is no UTF-8.

    Raises:
        LogbookError: it cannot be opened.
    """
    return _connect(path, "mode=rw")


def make_lasting(connection: sqlite3.Connection, path: Path) -> None:
    """From now on a commit has reached the disk when it returns.

    Raises:
        LogbookError: SQLite cannot promise that here.
    """
    with our_errors(path):
        (journal,) = connection.execute("PRAGMA journal_mode = WAL").fetchone()
        connection.execute("PRAGMA synchronous = FULL")
        # On macOS a plain fsync leaves the data in the drive's cache; no effect elsewhere.
        connection.execute("PRAGMA fullfsync = ON")
        connection.execute("PRAGMA checkpoint_fullfsync = ON")
        (synchronous,) = connection.execute("PRAGMA synchronous").fetchone()
    if journal != b"wal" or synchronous != _FULL:
        raise LogbookError(path, "no write-ahead log here; use a folder on a local disk")


def make_room(connection: sqlite3.Connection) -> None:
    """Make the write-ahead log as long as it will get, by writing something and taking it back.

    A file that grows makes the system note its new length at every flush, which takes as long
    again as the flush. Nothing of this reaches the logbook itself, and a disk without the room is
    no error: the first records are then merely slower.
    """
    (cache,) = connection.execute("PRAGMA cache_size").fetchone()
    connection.execute("PRAGMA cache_size = 10")  # so little that SQLite writes before a commit
    try:
        with contextlib.suppress(sqlite3.OperationalError):
            connection.execute("BEGIN IMMEDIATE")
            connection.execute("CREATE TABLE room (bytes BLOB)")
            connection.execute("INSERT INTO room VALUES (zeroblob(?))", (_ROOM_BYTES,))
    finally:
        if connection.in_transaction:
            connection.execute("ROLLBACK")
        connection.execute(f"PRAGMA cache_size = {cache}")


def connect_to_read(path: Path) -> sqlite3.Connection:
    """A connection that cannot write to ``path``; a writer may be at work meanwhile.

    To read beside a writer, SQLite keeps two small files next to the logbook (``-wal`` and
    ``-shm``). Where this user may not make them and the logbook was closed properly, it is read
    as a file that does not change: right as long as nobody starts to write in it meanwhile.

    Raises:
        LogbookNotFoundError: there is no such file.
        LogbookError: it cannot be read.
    """
    if not path.is_file():
        raise LogbookNotFoundError(path)
    connection = _connect(path, "mode=ro")
    try:
        with our_errors(path):
            _touch(connection)
        return connection
    except LogbookReadOnlyError:
        connection.close()
        if _unfinished(path):
            raise
    except LogbookError:
        connection.close()
        raise
    connection = _connect(path, "mode=ro&immutable=1")
    try:
        with our_errors(path):
            _touch(connection)
    except LogbookError:
        connection.close()
        raise
    return connection


def _connect(path: Path, how: str) -> sqlite3.Connection:
    if sqlite3.sqlite_version_info < OLDEST_SQLITE:
        needed = ".".join(map(str, OLDEST_SQLITE))
        found = sqlite3.sqlite_version
        raise LogbookError(path, f"SQLite {found} is too old; use a Python with {needed} or newer")
    with our_errors(path):
        connection = sqlite3.connect(
            f"{path.absolute().as_uri()}?{how}",
            uri=True,
            timeout=_BUSY_WAIT_S,
            isolation_level=None,
            check_same_thread=False,  # the book lets one thread at a time use it
        )
    connection.text_factory = bytes
    # A file from elsewhere may carry a schema that calls functions with side effects.
    connection.execute("PRAGMA trusted_schema = OFF")
    return connection


def _touch(connection: sqlite3.Connection) -> None:
    """Really open the file: SQLite puts that off until the first use."""
    # One garbled trigger must not hide all records: with this, SQLite passes over what it cannot
    # read of the list of tables. The connection is read-only, so nothing becomes writable.
    connection.execute("PRAGMA writable_schema = ON")
    connection.execute("SELECT count(*) FROM sqlite_schema").fetchone()


def _unfinished(path: Path) -> bool:
    """Whether records still stand in the write-ahead log beside the file."""
    try:
        return os.path.getsize(f"{path}-wal") > 0
    except OSError:
        return False
