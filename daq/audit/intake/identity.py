"""Whether a log is still the same: its files by name, size, time and ends, and how it is read."""

from collections.abc import Mapping, Sequence
from hashlib import sha256
from pathlib import Path

_END = 1 << 16
"""Bytes at the beginning and the end of a file that are looked at: a Parquet file has its sums of
every row group at its end."""


def identity_of(files: Mapping[str, Sequence[Path]], *how: str) -> str:
    """A digest that is another one where a file was changed, added or taken away.

    Args:
        files: by table.
        how: whatever else decides what is read, and in which blocks.
    """
    found = sha256()
    for table, paths in sorted(files.items()):
        for path in sorted(paths):
            about = path.stat()
            told = f"{table}\n{path.absolute()}\n{about.st_size}\n{about.st_mtime_ns}\n"
            found.update(told.encode("utf-8", "surrogateescape"))
            with path.open("rb") as opened:
                found.update(opened.read(_END))
                opened.seek(max(0, about.st_size - _END))
                found.update(opened.read(_END))
    for each in how:
        found.update(f"\n{len(each)}:{each}".encode())
    return found.hexdigest()
