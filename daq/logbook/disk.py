"""Files that are on the disk for good: what a program was told is kept survives a power cut."""

import os
import sys
from collections.abc import Iterable
from pathlib import Path

if sys.platform == "darwin":
    import fcntl


def write_new(path: Path, parts: Iterable[bytes], *, mode: int = 0o666) -> int:
    """Write a file that was not there before; none is left if that fails.

    Args:
        path: the file.
        parts: what it is to hold, in this order.
        mode: who may read and write it (POSIX), before the account's own mask.

    Returns:
        How many parts it was. The file, whole, and its name have reached the disk.

    Raises:
        FileExistsError: there is such a file already.
        OSError: it cannot be written.
    """
    count = 0
    with open(path, "xb", opener=lambda name, flags: os.open(name, flags, mode)) as file:
        try:
            for part in parts:
                file.write(part)
                count += 1
            file.flush()
            flush_file(file.fileno())
            flush_folder(path.absolute().parent)
        except BaseException:
            path.unlink(missing_ok=True)
            raise
    return count


def make_folder(folder: Path) -> None:
    """Make a folder, and those it is in, if they are missing; their names have reached the disk."""
    if folder.is_dir():
        return
    make_folder(folder.absolute().parent)
    folder.mkdir(exist_ok=True)
    flush_folder(folder.absolute().parent)


def flush_file(descriptor: int) -> None:
    """Return when all that was written to an open file has reached the disk."""
    if sys.platform == "linux":
        os.fdatasync(descriptor)
    elif sys.platform == "darwin":  # where a plain flush ends in the drive's cache
        fcntl.fcntl(descriptor, fcntl.F_FULLFSYNC)
    else:
        os.fsync(descriptor)


def flush_folder(folder: Path) -> None:
    """Make the names in ``folder`` survive a power cut (POSIX; Windows has no such call)."""
    if os.name != "posix":
        return
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)
