"""An audit that is kept in a folder as it goes, so that it can go on after an interruption.

The folder holds the store, which DuckDB commits every so many blocks together with how many they
are, and a file that says what is being audited. What is kept of one log, with some rules, by one
version of the program is used for nothing else. What the kernel carries from block to block is
which gauges have been; that is read from the tables it made.
"""

import json
import os
import platform
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from hashlib import sha256
from importlib.metadata import version
from pathlib import Path
from typing import Final

import duckdb
import numpy as np

from daq.audit.engine.asking import Parameters
from daq.audit.engine.store import FILE, SPILL, Store
from daq.audit.errors import ResumeError
from daq.audit.rules import Rule
from daq.audit.source import Ints, Source

ABOUT: Final = "audit.json"
"""The file that says what is being audited."""

_PROGRAM: Final = Path(__file__).parents[1]
_WHAT: Final = {
    "log": "the log has changed since, or its mapping",
    "rules": "the rules, or their parameters, are others",
    "program": "the program, or a part of it, has another version",
}


@dataclass(frozen=True, slots=True)
class Keeping:
    """A folder to keep an audit in, and after how many blocks of rows it is committed."""

    folder: Path
    every: int = 8

    def forget(self) -> None:
        """Take away what is kept, and the folder with it if nothing else is in it.

        For after an audit whose findings were written down.
        """
        for name in (FILE, f"{FILE}.wal", ABOUT):
            (self.folder / name).unlink(missing_ok=True)
        for place in (self.folder / SPILL, self.folder):
            if place.is_dir() and not any(place.iterdir()):
                place.rmdir()


class Keeper:
    """How far an audit is that is kept: what the store has is committed with it, or not at all.

    Args:
        store: of the folder that the audit is kept in; a transaction of it is open from now on.
        every: after how many blocks it is committed.
    """

    def __init__(self, store: Store, every: int) -> None:
        self._store = store
        self._every = every
        self._open = 0
        store.run("BEGIN TRANSACTION")
        store.run(
            "CREATE TABLE IF NOT EXISTS done_kept (source VARCHAR, blocks BIGINT, rows BIGINT)"
        )
        self._done: dict[str, tuple[int, int]] = {
            row["source"]: (row["blocks"], row["rows"])
            for row in store.rows("SELECT source, blocks, rows FROM done_kept")
        }
        self.begun = bool(self._done)
        """Whether the small tables are in the store."""

    @property
    def rows(self) -> int:
        """How many rows the store has been made of."""
        return sum(rows for _, rows in self._done.values())

    def blocks(self, table: str) -> int:
        """How many blocks of a table the store has been made of."""
        return self._done.get(table, (0, 0))[0]

    def gauges(self, table: str) -> Ints:
        """The gauges that a table of the kernel has rows of."""
        found = self._store.arrays(f"SELECT DISTINCT coalesce(gauge, -1) AS gauge FROM {table}")
        return found["gauge"].astype(np.int64, copy=False)

    def block(self, table: str, rows: int) -> None:
        """A block of a table is in the store."""
        blocks, before = self._done.get(table, (0, 0))
        self._done[table] = (blocks + 1, before + rows)
        self._open += 1
        if self._open >= self._every:
            self.commit()

    def commit(self) -> None:
        """What the store has, and how far that is, to the disk; from now on it stays."""
        self._store.flush()
        self._done.setdefault("", (0, 0))
        given = ", ".join(f"('{t}', {n}, {rows})" for t, (n, rows) in self._done.items())
        self._store.run("DELETE FROM done_kept")
        self._store.run(f"INSERT INTO done_kept VALUES {given}")
        self._store.run("COMMIT")
        self._store.run("BEGIN TRANSACTION")
        self._open = 0


def prepared(
    keeping: Keeping, source: Source, rules: Sequence[Rule], given: Parameters, rate: float
) -> None:
    """Make the folder ready: new, or with what is kept of this same audit.

    Raises:
        ResumeError: what is kept there is of another audit, or the folder cannot be used.
    """
    about = {
        "log": source.identity(),
        "rules": _digest([*map(repr, rules), repr(_sorted(given)), repr(rate)]),
        "program": _program(),
    }
    folder = keeping.folder
    try:
        folder.mkdir(parents=True, exist_ok=True)
        file = folder / ABOUT
        if file.exists():
            _compare(folder, _noted(file), about)
            return
        if any(folder.iterdir()):
            raise ResumeError(
                f"{folder} holds other files. Name a folder that is empty or not there yet."
            )
        written = folder / f"{ABOUT}.new"
        written.write_text(json.dumps(about, indent=1), "utf-8")
        os.replace(written, file)
    except (OSError, ValueError) as error:
        raise ResumeError(f"An audit cannot be kept in {folder}: {error}") from error


def store_in(keeping: Keeping, memory_mb: int) -> Store:
    """The store of a folder that is ready.

    Raises:
        ResumeError: another audit is using it, or what is kept cannot be read.
    """
    try:
        return Store(keeping.folder, memory_mb, kept=True)
    except duckdb.Error as error:
        raise ResumeError(
            f"What is kept in {keeping.folder} cannot be opened; perhaps another audit is using "
            f"it. If not, delete the folder and begin anew. ({error})"
        ) from error


def _noted(file: Path) -> Mapping[str, str]:
    """What is being audited, as it was written down."""
    noted = json.loads(file.read_text("utf-8"))
    if not isinstance(noted, dict):
        raise ValueError(f"{file} was not written by an audit")
    return noted


def _compare(folder: Path, kept: Mapping[str, str], about: Mapping[str, str]) -> None:
    other = [why for name, why in _WHAT.items() if kept.get(name) != about[name]]
    if other:
        raise ResumeError(
            f"The audit kept in {folder} cannot go on: {', and '.join(other)}. "
            "Delete the folder and begin anew."
        )


def _sorted(given: Parameters) -> list[tuple[str, list[tuple[str, float]]]]:
    return sorted((rule, sorted(values.items())) for rule, values in given.items())


def _program() -> str:
    """Everything that decides how the tables are made: our own files, and what they stand on."""
    own = [file.read_text("utf-8") for file in sorted(_PROGRAM.rglob("*.py"))]
    return _digest([platform.python_version(), duckdb.__version__, version("numpy"), *own])


def _digest(texts: Sequence[str]) -> str:
    found = sha256()
    for text in texts:
        found.update(f"{len(text)}:{text}".encode())
    return found.hexdigest()
