"""Whether a logbook is as restpoint left it, record by record.

The check reads the raw rows, since whoever tampers does not do it through restpoint. It names each
record that was edited, removed, moved or put in, and goes on after it (`daq.logbook.chain`). A
chain cannot show that its end was cut off, nor that all of it was rebuilt; a hash and a count
noted elsewhere can, or a checkpoint, and are compared here if given.
"""

import json
import os
import re
import sqlite3
import threading
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO

from daq.logbook import schema
from daq.logbook.chain import ChainCheck, Problem, Problems, Row, beginning
from daq.logbook.connection import connect_to_read
from daq.logbook.errors import (
    DAMAGE,
    LogbookDamagedError,
    LogbookNotFoundError,
    LogbookReadOnlyError,
    NotALogbookError,
    our_errors,
)
from daq.logbook.surviving import surviving

if TYPE_CHECKING:  # its models take a while to build, and few checks need them
    from daq.logbook.checkpoint import Checkpoint, Held

_LINE = re.compile(
    rb'\{"hash":"([0-9a-f]{64})","previous":"([0-9a-f]{64})","record":(.*),'
    rb'"sequence":([1-9][0-9]{0,17})\}'
)
_MOST_LINE_BYTES = 1 << 26


@dataclass(frozen=True, slots=True)
class Report:
    """What a check found.

    ``records`` is how many there are, also the number of the last one if nothing is missing.
    ``last_hash`` is its hash: noted on a report together with ``records``, it vouches for all of
    them. ``problems`` is empty if nothing was found; ``more`` counts those past the first 10 000.
    """

    logbook_id: str | None
    records: int
    last_hash: str | None
    problems: tuple[Problem, ...]
    more: int = 0

    @property
    def intact(self) -> bool:
        """Whether nothing was found."""
        return not self.problems


def verify(
    path: str | os.PathLike[str],
    *,
    expect_last_hash: str | None = None,
    expect_count: int | None = None,
    since: "Checkpoint | None" = None,
) -> Report:
    """Check the logbook at ``path``; a writer may be at work meanwhile.

    Args:
        path: the logbook.
        expect_last_hash: a hash noted earlier as the last one. The logbook may have grown since.
        expect_count: how many records there were then.
        since: a checkpoint that was kept elsewhere. The logbook may have grown since.

    Returns:
        What was found. Anything whatever may stand in the file.

    Raises:
        LogbookNotFoundError: there is no such file.
        LogbookTooNewError: a newer restpoint laid it out.
        LogbookReadOnlyError: it cannot be read by this user.
    """
    real = Path(os.path.realpath(path))
    try:
        connection = connect_to_read(real)
    except (NotALogbookError, LogbookDamagedError) as error:
        return _no_logbook(error)
    whole = _FileCheck(real)
    held = _held(since)
    try:
        layout = schema.known_layout_of(connection, real)
        problems = Problems()
        with our_errors(real):
            connection.execute("BEGIN")  # one state of the file, however long it takes
        whole.start()
        logbook_id = _id(connection, problems)
        begins = None if logbook_id is None else beginning(logbook_id)
        check = ChainCheck(begins, _noted(expect_last_hash))
        _check_rows(connection, check, held)
        _check_layout(connection, layout, problems)
    except (NotALogbookError, LogbookDamagedError) as error:
        return _no_logbook(error)
    finally:
        whole.wait()
        connection.close()
    for said in whole.told:
        problems.add(None, f"is damaged: {said}")
    _check_expected(check, expect_last_hash, expect_count)
    if held is not None:
        held.judge(logbook_id, check.problems)
    return _report(logbook_id, check, problems)


def verify_jsonl(
    path: str | os.PathLike[str],
    *,
    expect_last_hash: str | None = None,
    expect_count: int | None = None,
    since: "Checkpoint | None" = None,
) -> Report:
    """Check a whole logbook that was exported as JSON lines; else as `verify`.

    Raises:
        LogbookNotFoundError: there is no such file.
        LogbookReadOnlyError: it cannot be read.
    """
    problems = Problems()
    held = _held(since)
    try:
        with open(path, "rb") as file:
            logbook_id = _id_of_cover(file.readline(_MOST_LINE_BYTES))
            file.seek(0)
            begins = None if logbook_id is None else beginning(logbook_id)
            check = ChainCheck(begins, _noted(expect_last_hash))
            check.run(_passing(held, _rows_of(file, problems)))
    except FileNotFoundError as error:
        raise LogbookNotFoundError(path) from error
    except OSError as error:
        raise LogbookReadOnlyError(path, str(error)) from error
    _check_expected(check, expect_last_hash, expect_count)
    if held is not None:
        held.judge(logbook_id, check.problems)
    return _report(logbook_id, check, problems)


class _FileCheck:
    """SQLite's own check of the file, on a connection and a thread of its own.

    It runs outside Python's lock, so it costs a second core rather than time.
    """

    def __init__(self, path: Path) -> None:
        self.told: list[str] = []
        self._path = path
        self._thread = threading.Thread(target=self._run, name="logbook file check")

    def start(self) -> None:
        self._thread.start()

    def wait(self) -> None:
        if self._thread.ident is not None:
            self._thread.join()

    def _run(self) -> None:
        try:
            connection = connect_to_read(self._path)
            try:
                rows = connection.execute("PRAGMA integrity_check(100)").fetchall()
            finally:
                connection.close()
        except (*DAMAGE, NotALogbookError, LogbookDamagedError) as error:
            self.told = [str(error)]
            return
        told = [_text(said) for (said,) in rows]
        self.told = [] if told == ["ok"] else told


def _held(since: "Checkpoint | None") -> "Held | None":
    if since is None:
        return None
    from daq.logbook.checkpoint import Held

    return Held(since)


def _passing(held: "Held | None", rows: Iterable[Row]) -> Iterable[Row]:
    return rows if held is None else held.passing(rows)


def _check_rows(connection: sqlite3.Connection, check: ChainCheck, held: "Held | None") -> None:
    """Run the chain over the table; where the file is damaged, go on behind the damage."""
    rows = surviving(connection, lambda _, last: check.skip_unreadable(last))
    try:
        check.run(_passing(held, rows))
    except DAMAGE as error:
        check.problems.add(None, f"has no table of records: {error}")


def _check_layout(connection: sqlite3.Connection, layout: int, problems: Problems) -> None:
    try:
        for difference in schema.differences(connection, layout):
            problems.add(None, difference)
    except DAMAGE as error:
        problems.add(None, f"has a damaged list of tables: {error}")


def _id(connection: sqlite3.Connection, problems: Problems) -> bytes | None:
    try:
        row = connection.execute("SELECT id FROM meta").fetchone()
    except DAMAGE as error:
        problems.add(None, f"has lost its id: {error}")
        return None
    if row is None or not isinstance(row[0], bytes):
        problems.add(None, "has lost its id")
        return None
    return row[0]


def _id_of_cover(line: bytes) -> bytes | None:
    """The id in record 1 of an export, or None if that line does not give it."""
    parts = _LINE.fullmatch(line.rstrip(b"\r\n"))
    try:
        cover = json.loads(parts[3]) if parts else None
    except (ValueError, RecursionError):
        return None
    logbook_id = cover.get("id") if isinstance(cover, dict) else None
    return logbook_id.encode("utf-8", "replace") if isinstance(logbook_id, str) else None


def _rows_of(file: BinaryIO, problems: Problems) -> Iterator[Row]:
    number = 0
    while line := file.readline(_MOST_LINE_BYTES):
        number += 1
        parts = _LINE.fullmatch(line.rstrip(b"\r\n"))
        if parts is None:
            problems.add(None, f"has a line {number} that is no record")
            continue
        stored, previous, body, sequence = parts.groups()
        yield int(sequence), previous, stored, body


def _noted(digest: str | None) -> bytes | None:
    return None if digest is None else digest.strip().lower().encode()


def _check_expected(check: ChainCheck, digest: str | None, count: int | None) -> None:
    """Hold the end of the logbook against what was noted of it earlier."""
    problems, next_sequence = check.problems, check.next_sequence
    if check.count == 0:
        problems.add(None, "holds no records")
    if count is not None and next_sequence <= count:
        problems.add(next_sequence, f"is missing: {count} were noted, the end was cut off", count)
    if digest is None:
        return
    if check.wanted_at is None:
        problems.add(
            None, f"holds no record with the noted hash {digest}: its end was cut off or rewritten"
        )
    elif count is not None and check.wanted_at != count:
        problems.add(check.wanted_at, f"has the hash that was noted for record {count}")


def _no_logbook(error: NotALogbookError | LogbookDamagedError) -> Report:
    what = "is damaged" if isinstance(error, LogbookDamagedError) else "is no restpoint logbook"
    said = f": {error.detail}" if error.detail else ""
    return Report(None, 0, None, (Problem(None, what + said),))


def _report(logbook_id: bytes | None, check: ChainCheck, problems: Problems) -> Report:
    last = check.last_hash
    return Report(
        logbook_id=None if logbook_id is None else _text(logbook_id),
        records=check.count,
        last_hash=None if last is None else _text(last),
        problems=(*problems.found, *check.problems.found),
        more=problems.more + check.problems.more,
    )


def _text(value: object) -> str:
    return value.decode("utf-8", "replace") if isinstance(value, bytes) else str(value)
