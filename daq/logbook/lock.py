"""One writer at a time: a lock beside the logbook that dies with its holder.

The lock is taken on a file of its own, ``<logbook>.lock``. The system drops it when the program
ends, however it ends; the file stays and is not the lock. It names the last holder, for the
message to the next one.

Why not SQLite's own exclusive mode: it would lock readers out too. Why not the logbook file:
closing any handle to it would drop the locks SQLite holds there (POSIX advisory locks belong to
the process, not to the handle).
"""

import errno
import json
import os
import platform
import sys
from pathlib import Path

from daq.logbook.errors import (
    LogbookBusyError,
    LogbookError,
    LogbookNotFoundError,
    LogbookReadOnlyError,
)

if sys.platform == "win32":
    import msvcrt
else:
    import fcntl

_MOST_HOLDER_BYTES = 1000
_WINDOWS_LOCK_AT = 1 << 30  # past the text: Windows forbids others to read a locked byte


class WriterLock:
    """The right to write in the logbook at ``path``, from when it is made until `release`.

    Raises:
        LogbookBusyError: another program, or this one, has it.
        LogbookReadOnlyError: this user may not make or use the lock file.
        LogbookNotFoundError: there is no such folder.
        LogbookError: the file system has no locks.
    """

    def __init__(self, path: Path) -> None:
        self._path = path
        self._descriptor = _open(path)
        try:
            _lock(self._descriptor, path)
            _sign(self._descriptor)
        except BaseException:
            os.close(self._descriptor)
            raise

    def release(self) -> None:
        """Let others write. Doing it twice is harmless."""
        if self._descriptor >= 0:
            os.close(self._descriptor)
            self._descriptor = -1


def _open(path: Path) -> int:
    # Not through a link: in a shared folder it could point at a file of this user's.
    flags = os.O_RDWR | os.O_CREAT | getattr(os, "O_NOFOLLOW", 0)
    try:
        return os.open(f"{path}.lock", flags, 0o600)
    except FileNotFoundError as error:
        raise LogbookNotFoundError(path, f"there is no folder {path.parent}") from error
    except OSError as error:
        raise LogbookReadOnlyError(path, str(error)) from error


def _lock(descriptor: int, path: Path) -> None:
    try:
        if sys.platform == "win32":
            os.lseek(descriptor, _WINDOWS_LOCK_AT, os.SEEK_SET)
            msvcrt.locking(descriptor, msvcrt.LK_NBLCK, 1)
        else:
            # flock, not lockf: it also keeps out a second opening in the same program.
            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError as error:
        if error.errno in (errno.EWOULDBLOCK, errno.EACCES, errno.EDEADLK):
            raise LogbookBusyError(path, _holder(descriptor)) from error
        raise LogbookError(
            path, f"no locks here ({error}); use a folder on a local disk"
        ) from error


def _sign(descriptor: int) -> None:
    """Write who holds the lock, for whoever finds it taken."""
    holder = {"pid": os.getpid(), "host": platform.node()}
    os.ftruncate(descriptor, 0)
    os.lseek(descriptor, 0, os.SEEK_SET)
    os.write(descriptor, json.dumps(holder).encode())


def _holder(descriptor: int) -> str:
    os.lseek(descriptor, 0, os.SEEK_SET)
    try:
        holder = json.loads(os.read(descriptor, _MOST_HOLDER_BYTES))
        return f"process {int(holder['pid'])} on {str(holder['host'])[:100]}"
    except (OSError, ValueError, KeyError, TypeError):
        return ""
