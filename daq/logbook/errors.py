"""Errors about logbooks a caller can act on, as one tree.

LogbookError
├── LogbookNotFoundError     no such logbook, or no such folder to make it in
├── NotALogbookError         the file is something else
├── LogbookTooNewError       a newer restpoint laid it out
├── LogbookBusyError         another program is writing in it
├── LogbookReadOnlyError     this user may not write, or may not read, there
├── LogbookDiskError         the disk did not take it
│   └── LogbookFullError     there is no room left
└── LogbookDamagedError      it is not as restpoint left it
NotCanonicalError            a value has no canonical JSON form
ExportError                  an export cannot be written
BackupError                  a logbook cannot be copied
RecordingError               a chained trace cannot be recorded, or not any further
CheckpointError              a checkpoint cannot be made or read, or a record not be proved

A message says what happened to which logbook, then what to do. Facts are attributes. After any
of them raised by an append, the record was not acknowledged: take it as not kept.
"""

import os
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager

from drivers.errors import RestpointError


class LogbookError(RestpointError):
    """A logbook could not be used.

    Args:
        path: the logbook.
        detail: the system's own words, or empty.
    """

    message = "The logbook {path} could not be used."

    def __init__(self, path: str | os.PathLike[str], detail: str = "") -> None:
        super().__init__(os.fspath(path), detail)
        self.path = os.fspath(path)
        self.detail = detail

    def __str__(self) -> str:
        said = f" (the system said: {self.detail})" if self.detail else ""
        return self.message.format(path=self.path) + said


class LogbookNotFoundError(LogbookError):
    """There is no such logbook, or no folder to make it in."""

    message = "There is no logbook {path}. Check the name and the folder, then retry."


class NotALogbookError(LogbookError):
    """The file is no restpoint logbook."""

    message = (
        "{path} is not a restpoint logbook. Check the name; if it used to be one, keep the file "
        "as it is and go back to a copy."
    )


class LogbookTooNewError(LogbookError):
    """A newer restpoint laid the logbook out.

    Args:
        path: the logbook.
        found: the layout number in the file.
        known: the newest layout this program knows.
    """

    def __init__(self, path: str | os.PathLike[str], found: int, known: int) -> None:
        super().__init__(path)
        self.args = (self.path, found, known)
        self.found = found
        self.known = known

    def __str__(self) -> str:
        return (
            f"The logbook {self.path} has layout {self.found}; this restpoint knows layouts up to "
            f"{self.known}. Use the newer restpoint that wrote it."
        )


class LogbookBusyError(LogbookError):
    """Another program is writing in the logbook.

    Args:
        path: the logbook.
        holder: who holds it, in words, or empty when that is not known.
    """

    def __init__(self, path: str | os.PathLike[str], holder: str = "") -> None:
        super().__init__(path, holder)
        self.holder = holder

    def __str__(self) -> str:
        who = self.holder or "another program"
        return (
            f"The logbook {self.path} is being written by {who}. Close it there, then retry; "
            "reading is possible meanwhile."
        )


class LogbookReadOnlyError(LogbookError):
    """This user may not do that to the file or its folder."""

    message = (
        "This user may not use the logbook {path} like that. Check who owns the file and its "
        "folder and whether they may be written, then retry."
    )


class LogbookDiskError(LogbookError):
    """The disk did not take, or did not give, the data."""

    message = (
        "The disk failed the logbook {path}; what was to be written just now is not kept. Check "
        "the disk and its cable, then do it again."
    )


class LogbookFullError(LogbookDiskError):
    """There is no room left for the record."""

    message = (
        "There is no room left on the disk for the logbook {path}; what was to be written just now "
        "is not kept. Make room, then do it again."
    )


class LogbookDamagedError(LogbookError):
    """The logbook is not as restpoint left it."""

    message = (
        "The logbook {path} is not as restpoint left it. Verify it to see which records are "
        "touched, keep the file as it is, and go on in a new logbook."
    )


class NotCanonicalError(RestpointError):
    """A value has no canonical JSON form (RFC 8785): which value, and why."""


class ExportError(RestpointError):
    """An export could not be written.

    Args:
        path: the file it should have become.
        detail: the reason.
    """

    def __init__(self, path: str | os.PathLike[str], detail: str) -> None:
        super().__init__(os.fspath(path), detail)
        self.path = os.fspath(path)
        self.detail = detail

    def __str__(self) -> str:
        return (
            f"Nothing was written to {self.path}: {self.detail}. Give another name, or make room, "
            "then export again."
        )


class BackupError(RestpointError):
    """A logbook could not be copied.

    Args:
        path: the copy.
        detail: the reason.
    """

    def __init__(self, path: str | os.PathLike[str], detail: str) -> None:
        super().__init__(os.fspath(path), detail)
        self.path = os.fspath(path)
        self.detail = detail

    def __str__(self) -> str:
        return f"No copy was made to {self.path}: {self.detail}."


class RecordingError(RestpointError):
    """A trace cannot be recorded, or not any further.

    Args:
        path: the trace.
        detail: the reason.
    """

    def __init__(self, path: str | os.PathLike[str], detail: str) -> None:
        super().__init__(os.fspath(path), detail)
        self.path = os.fspath(path)
        self.detail = detail

    def __str__(self) -> str:
        return (
            f"The trace {self.path} is not being recorded: {self.detail}. What was acknowledged "
            "before is kept. Record to a new file, on a disk with room."
        )


class CheckpointError(RestpointError):
    """A checkpoint cannot be made, read or written, or a record cannot be proved against one."""


DAMAGE = (sqlite3.DatabaseError, UnicodeDecodeError)
"""What a damaged file makes SQLite raise; the second when its message quotes the garbage."""

_ERROR_FOR: dict[int, type[LogbookError]] = {
    # What we ask is right for every logbook: if it cannot be answered, the file is not as it was.
    sqlite3.SQLITE_ERROR: LogbookDamagedError,
    sqlite3.SQLITE_PERM: LogbookReadOnlyError,
    sqlite3.SQLITE_BUSY: LogbookBusyError,
    sqlite3.SQLITE_LOCKED: LogbookBusyError,
    sqlite3.SQLITE_READONLY: LogbookReadOnlyError,
    sqlite3.SQLITE_IOERR: LogbookDiskError,
    sqlite3.SQLITE_CORRUPT: LogbookDamagedError,
    sqlite3.SQLITE_FULL: LogbookFullError,
    sqlite3.SQLITE_CANTOPEN: LogbookReadOnlyError,
    sqlite3.SQLITE_NOTADB: NotALogbookError,
    # The file refuses a record that does not follow its newest one: somebody else wrote in it.
    sqlite3.SQLITE_CONSTRAINT: LogbookBusyError,
}


def error_for(error: sqlite3.Error, path: str | os.PathLike[str]) -> sqlite3.Error | LogbookError:
    """The error of ours that ``error`` from SQLite means for the logbook at ``path``.

    Returns:
        ``error`` itself if SQLite did not report it, such as use after close: that is a mistake
        in the program, not something a user can act on.
    """
    code = getattr(error, "sqlite_errorcode", None)
    if code is None:
        return error
    # The low byte is the kind of error; the rest says more precisely where it happened.
    ours = _ERROR_FOR.get(code & 0xFF, LogbookError)
    if ours is LogbookBusyError:
        return LogbookBusyError(path)
    return ours(path, str(error))


@contextmanager
def our_errors(path: str | os.PathLike[str]) -> Iterator[None]:
    """Raise SQLite's errors from the block as ours, with the cause kept."""
    try:
        yield
    except UnicodeDecodeError as error:  # SQLite quoting garbage in its own message
        raise LogbookDamagedError(path, str(error)) from error
    except sqlite3.Error as error:
        ours = error_for(error, path)
        if ours is error:
            raise
        raise ours from error
