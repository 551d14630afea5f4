"""The layout of a logbook file: numbered SQL files, and what they must have left in the file.

``PRAGMA user_version`` holds the number of the last one that was run. A newer program brings an
older file up to date, one transaction a step, after copying it; it never edits records.
"""

import functools
import os
import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass
from importlib import resources
from pathlib import Path

from daq.logbook.errors import (
    LogbookDiskError,
    LogbookTooNewError,
    NotALogbookError,
    our_errors,
)

APPLICATION_ID = 0x52535054
"""``RSPT`` in the file's header: this SQLite file is a restpoint logbook."""


@dataclass(frozen=True, slots=True)
class Migration:
    """One numbered step: SQL that takes a file from layout ``number - 1`` to ``number``."""

    number: int
    sql: str


def _shipped() -> tuple[Migration, ...]:
    files = sorted(
        (file for file in resources.files(__package__).iterdir() if file.name.endswith(".sql")),
        key=lambda file: file.name,
    )
    return tuple(
        Migration(int(file.name.split("_")[0]), file.read_text(encoding="utf-8")) for file in files
    )


MIGRATIONS: tuple[Migration, ...] = _shipped()
"""Every step there is, in order; numbers begin at 1 and have no gaps."""


def layout_of(connection: sqlite3.Connection, path: Path) -> int:
    """The layout number of an open file; 0 for a new, empty one.

    Raises:
        NotALogbookError: it holds something else.
    """
    with our_errors(path):
        (application,) = connection.execute("PRAGMA application_id").fetchone()
        (number,) = connection.execute("PRAGMA user_version").fetchone()
        if application == APPLICATION_ID and number > 0:
            return int(number)
        (objects,) = connection.execute("SELECT count(*) FROM sqlite_schema").fetchone()
    if application == number == objects == 0:
        return 0
    raise NotALogbookError(path)


def known_layout_of(
    connection: sqlite3.Connection, path: Path, steps: Sequence[Migration] = MIGRATIONS
) -> int:
    """As `layout_of`, for a file that must already be laid out, in a way this program knows.

    Raises:
        NotALogbookError: it is empty or holds something else.
        LogbookTooNewError: a newer program laid it out.
    """
    number = layout_of(connection, path)
    if number == 0:
        raise NotALogbookError(path, "the file is empty")
    if number > steps[-1].number:
        raise LogbookTooNewError(path, number, steps[-1].number)
    return number


def bring_up_to_date(
    connection: sqlite3.Connection, path: Path, steps: Sequence[Migration] = MIGRATIONS
) -> None:
    """Run the steps an older logbook has not seen, after copying it beside itself.

    The copy is called ``<logbook>.layout-<number>`` and is left for the owner to remove.

    Raises:
        LogbookError: it cannot be copied or changed; the file is then as it was before the step
            that failed.
    """
    number = known_layout_of(connection, path, steps)
    if number == steps[-1].number:
        return
    _copy(connection, path, Path(f"{path}.layout-{number}"))
    for step in steps[number:]:
        with our_errors(path):
            run_steps(connection, [step])
            connection.execute("COMMIT")


def run_steps(connection: sqlite3.Connection, steps: Sequence[Migration]) -> None:
    """Run steps in one transaction that is left open for the caller to commit.

    Raises:
        sqlite3.Error: a statement failed; nothing of the steps is left.
    """
    sql = "\n".join(step.sql for step in steps)
    try:
        connection.executescript(
            f"BEGIN IMMEDIATE;\n{sql}\nPRAGMA user_version = {steps[-1].number};"
        )
    except sqlite3.Error:
        if connection.in_transaction:
            connection.execute("ROLLBACK")
        raise


def _copy(connection: sqlite3.Connection, path: Path, to: Path) -> None:
    """A whole copy of the open logbook, private and on the disk when this returns."""
    try:
        to.unlink(missing_ok=True)  # an earlier attempt, possibly cut short
        os.close(os.open(to, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600))
        copy = sqlite3.connect(to)
        try:
            with our_errors(to):
                connection.backup(copy)
        finally:
            copy.close()
        descriptor = os.open(to, os.O_RDWR)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)
    except OSError as error:
        raise LogbookDiskError(path, str(error)) from error


@functools.cache
def _expected(steps: tuple[Migration, ...]) -> dict[tuple[str, str], str]:
    """Tables and triggers after ``steps``, as SQLite itself notes them down."""
    connection = sqlite3.connect(":memory:", isolation_level=None)
    try:
        connection.text_factory = bytes
        run_steps(connection, steps)
        connection.execute("COMMIT")
        return _objects(connection)
    finally:
        connection.close()


def _objects(connection: sqlite3.Connection) -> dict[tuple[str, str], str]:
    rows = connection.execute(
        "SELECT type, name, tbl_name || ': ' || sql FROM sqlite_schema"
        " WHERE type IN ('table', 'trigger')"
    )
    return {(_text(kind), _text(name)): _text(said) for kind, name, said in rows}


def _text(value: object) -> str:
    return value.decode("utf-8", "replace") if isinstance(value, bytes) else str(value)


def differences(
    connection: sqlite3.Connection, number: int, steps: Sequence[Migration] = MIGRATIONS
) -> list[str]:
    """What of layout ``number``'s tables and triggers is missing, changed or strange.

    Returns:
        One sentence part each, to be read after "the file"; empty when all is as it was made.
        A table of somebody else's is let be: it cannot touch a record. A trigger could.

    Raises:
        sqlite3.DatabaseError: the file is too damaged to say.
    """
    expected, found = _expected(tuple(steps[:number])), _objects(connection)
    told = []
    for (kind, name), sql in expected.items():
        there = found.get((kind, name))
        if there is None:
            told.append(f"has lost its {kind} {name}: records may have been touched")
        elif there != sql:
            told.append(f"has a changed {kind} {name}: records may have been touched")
    told += [
        f"has a strange trigger {name}: records may have been touched"
        for kind, name in found
        if kind == "trigger" and (kind, name) not in expected
    ]
    return told
