"""Copies a logbook while it is written in."""

import os
import sqlite3
from contextlib import closing
from pathlib import Path

from daq.logbook.connection import connect_to_read, connect_to_write
from daq.logbook.disk import flush_folder
from daq.logbook.errors import BackupError, LogbookError, our_errors
from daq.logbook.proof import Report, verify


def back_up(path: str | os.PathLike[str], out: str | os.PathLike[str]) -> Report:
    """Copy all records that are in the logbook at ``path`` now to the new file ``out``.

    A writer may be at work meanwhile. The copy is one file, private to its owner, a logbook like
    any other; it has reached the disk and was verified when this returns.

    Returns:
        What the check of the copy found: nothing.

    Raises:
        LogbookError: the logbook cannot be read.
        BackupError: the copy cannot be made, or is not intact. None is left then.
    """
    real, copy = Path(os.path.realpath(path)), Path(out)
    with closing(connect_to_read(real)) as source:
        try:
            os.close(os.open(copy, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600))
        except FileExistsError as error:
            raise BackupError(copy, "it is there already; give another name") from error
        except OSError as error:
            raise BackupError(copy, error.strerror or str(error)) from error
        try:
            _copy(source, copy)
            report = verify(copy)
            if report.problems:
                raise BackupError(
                    copy,
                    f"{path} is not intact: {report.problems[0]}; save what can be read with "
                    "'restpoint log rescue'",
                )
        except BaseException:
            for each in (copy, Path(f"{copy}-journal"), Path(f"{copy}-wal"), Path(f"{copy}-shm")):
                each.unlink(missing_ok=True)
            raise
    return report


def _copy(source: sqlite3.Connection, copy: Path) -> None:
    try:
        with our_errors(copy), closing(connect_to_write(copy)) as target:
            source.backup(target)
            # So that the copy is one file, whole without another beside it.
            target.execute("PRAGMA journal_mode = DELETE")
        flush_folder(copy.absolute().parent)
    except LogbookError as error:
        raise BackupError(copy, error.detail or str(error)) from error
    except OSError as error:
        raise BackupError(copy, error.strerror or str(error)) from error
