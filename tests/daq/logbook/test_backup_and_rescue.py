"""Copies of a logbook in use, and what is saved of a damaged one."""

import resource
import sqlite3
import stat
import threading
from contextlib import closing

import pytest

from daq.cli import main
from daq.logbook import (
    BackupError,
    ExportError,
    Logbook,
    LogbookNotFoundError,
    back_up,
    rescue,
    verify,
    verify_jsonl,
)

PAGE_BYTES = 4096


def damaged_page_of(path, note):
    """Overwrite a page of records in the middle of a logbook of 2000; the good numbers are left."""
    with Logbook.open(path) as book:
        book.append_many(note(f"note {number} " + "x" * 60) for number in range(2000))
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("PRAGMA journal_mode = DELETE")
        pages = connection.execute(
            "SELECT pageno FROM dbstat WHERE name = 'records' AND pagetype = 'leaf'"
        ).fetchall()
    with open(path, "r+b") as file:
        file.seek((pages[len(pages) // 2][0] - 1) * PAGE_BYTES)
        file.write(b"\xff" * PAGE_BYTES)


@pytest.fixture
def damaged(book_path, note):
    """A logbook with a damaged page in the middle."""
    try:
        damaged_page_of(book_path, note)
    except sqlite3.OperationalError:
        pytest.skip("this SQLite has no dbstat to find a page of records with")
    return book_path


def test_a_copy_is_the_same_logbook_in_one_private_file(written, tmp_path):
    copy = tmp_path / "copy.logbook"
    report = back_up(written, copy)
    assert report == verify(written)
    assert stat.S_IMODE(copy.stat().st_mode) == 0o600
    assert not list(tmp_path.glob("copy.logbook?*"))
    with Logbook.open(copy) as book:
        assert book.last().sequence == report.records


def test_a_copy_made_while_records_are_written_holds_all_that_were_acknowledged(
    written, tmp_path, note
):
    acknowledged, enough, is_over = [0], threading.Event(), threading.Event()

    def write():
        with Logbook.open(written) as book:
            while not is_over.is_set():
                acknowledged[0] = book.append(note()).sequence
                if acknowledged[0] >= 30:
                    enough.set()

    writer = threading.Thread(target=write)
    writer.start()
    try:
        assert enough.wait(20)
        for number in range(5):
            before = acknowledged[0]
            report = back_up(written, tmp_path / f"copy {number}")
            assert report.intact
            assert report.records >= before
    finally:
        is_over.set()
        writer.join()
    assert verify(written).intact


def test_a_copy_is_never_written_over_anything(written, tmp_path):
    copy = tmp_path / "copy.logbook"
    copy.write_bytes(b"mine")
    with pytest.raises(BackupError, match="there already"):
        back_up(written, copy)
    assert copy.read_bytes() == b"mine"
    with pytest.raises(LogbookNotFoundError):
        back_up(tmp_path / "none", tmp_path / "copy of none")


def test_of_a_logbook_that_is_not_intact_no_copy_is_left(written, tmp_path, tamper):
    with tamper(written) as connection:
        connection.execute("UPDATE records SET body = '{}' WHERE sequence = 4")
    with pytest.raises(BackupError, match=r"record 4 .*log rescue"):
        back_up(written, tmp_path / "copy")
    assert not list(tmp_path.glob("copy*"))


def test_no_room_for_the_copy_leaves_none_and_says_so(written, tmp_path, note):
    with Logbook.open(written) as book:
        book.append_many(note("x" * 1000) for _ in range(200))
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (100_000, hard))  # Python ignores SIGXFSZ
    try:
        with pytest.raises(BackupError, match="No copy was made"):
            back_up(written, tmp_path / "copy")
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
    assert not list(tmp_path.glob("copy*"))
    assert verify(written).intact


def test_all_but_the_damaged_page_is_saved_and_what_is_not_is_named(damaged, tmp_path):
    out = tmp_path / "left.jsonl"
    done = rescue(damaged, out)
    ((first, last),) = done.missing
    assert done.records == 2001 - (last - first + 1)
    assert 5 < last - first < 60  # one page of records
    found = verify_jsonl(out)
    assert [(p.sequence, p.through) for p in found.problems] == [(first, last)]
    assert found.records == done.records
    named = {(p.sequence, p.through) for p in verify(damaged).problems if p.sequence}
    assert (first, last) in named


def test_of_an_intact_logbook_all_is_saved(written, tmp_path):
    done = rescue(written, tmp_path / "all.jsonl")
    assert (done.records, done.missing) == (12, ())
    assert verify_jsonl(tmp_path / "all.jsonl") == verify(written)


def test_an_edited_record_is_not_saved_as_if_it_were_good(written, tmp_path, tamper):
    with tamper(written) as connection:
        connection.execute("UPDATE records SET body = '{}' WHERE sequence = 4")
    assert rescue(written, tmp_path / "left.jsonl").missing == ((4, 4),)
    with pytest.raises(ExportError, match="already there"):
        rescue(written, tmp_path / "left.jsonl")


def test_the_commands(damaged, tmp_path, capsys):
    assert main(["log", "rescue", str(damaged), str(tmp_path / "left.jsonl")]) == 1
    said = capsys.readouterr().out
    assert "not in it: damaged, missing or edited" in said
    fresh = tmp_path / "fresh.logbook"
    Logbook.open(fresh).close()
    assert main(["log", "backup", str(fresh), str(tmp_path / "copy")]) == 0
    assert "intact, 1 records" in capsys.readouterr().out
    assert verify(tmp_path / "copy").records == 1
