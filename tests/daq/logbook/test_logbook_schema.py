"""Layouts: numbered steps, one transaction each, after a copy; no record is touched by them."""

import os
import sqlite3
from contextlib import closing

import pytest

from daq.logbook import Logbook, LogbookError, verify
from daq.logbook.connection import connect_to_write
from daq.logbook.schema import MIGRATIONS, Migration, bring_up_to_date, differences, layout_of

NEXT = MIGRATIONS[-1].number + 1
STEP = Migration(NEXT, "CREATE TABLE added (a TEXT) STRICT; CREATE INDEX by_a ON added (a);")
BAD_STEP = Migration(NEXT + 1, "CREATE TABLE half (a); CREATE TABLE half (a);")


def test_the_steps_are_numbered_from_1_without_gaps():
    assert [step.number for step in MIGRATIONS] == list(range(1, len(MIGRATIONS) + 1))


def test_a_new_logbook_has_the_newest_layout_and_no_copy(written):
    with closing(connect_to_write(written)) as connection:
        assert layout_of(connection, written) == MIGRATIONS[-1].number
        assert differences(connection, MIGRATIONS[-1].number) == []
    assert not list(written.parent.glob("*.layout-*"))


def test_an_older_logbook_is_copied_and_brought_up_to_date(written):
    with Logbook.read(written) as book:
        entries = list(book.entries())
    with closing(connect_to_write(written)) as connection:
        bring_up_to_date(connection, written, [*MIGRATIONS, STEP])
        assert layout_of(connection, written) == NEXT
        assert differences(connection, NEXT, [*MIGRATIONS, STEP]) == []
    copy = written.with_name(f"bench.sqlite.layout-{NEXT - 1}")
    if os.name == "posix":
        assert copy.stat().st_mode & 0o777 == 0o600
    assert verify(copy).intact
    with Logbook.read(copy) as book:
        assert list(book.entries()) == entries
    rows = sqlite3.connect(written)
    with closing(rows):
        assert rows.execute("SELECT body FROM records ORDER BY sequence").fetchall() == [
            (entry.body,) for entry in entries
        ]


def test_a_step_that_fails_leaves_the_file_as_the_step_before_left_it(written):
    with closing(connect_to_write(written)) as connection:
        with pytest.raises(LogbookError):
            bring_up_to_date(connection, written, [*MIGRATIONS, STEP, BAD_STEP])
        assert layout_of(connection, written) == NEXT
        tables = connection.execute("SELECT name FROM sqlite_schema WHERE name = 'half'")
        assert tables.fetchall() == []
        bring_up_to_date(connection, written, [*MIGRATIONS, STEP])


def test_a_logbook_that_is_up_to_date_is_not_copied(written):
    with closing(connect_to_write(written)) as connection:
        bring_up_to_date(connection, written)
    assert not list(written.parent.glob("*.layout-*"))
