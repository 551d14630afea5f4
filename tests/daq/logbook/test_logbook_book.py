"""The logbook: kept in order and for good, one writer at a time, clear about what it refuses."""

import os
import sqlite3
import subprocess
import sys
import tempfile
import threading
from contextlib import closing, contextmanager
from pathlib import Path

import pytest

from daq.logbook import (
    Logbook,
    LogbookBusyError,
    LogbookDamagedError,
    LogbookDiskError,
    LogbookError,
    LogbookFullError,
    LogbookNotFoundError,
    LogbookReadOnlyError,
    LogbookTooNewError,
    NotALogbookError,
    NotCanonicalError,
    Note,
    UnknownRecord,
    verify,
)
from daq.logbook.connection import connect_to_write, make_lasting
from daq.logbook.errors import our_errors

posix = pytest.mark.skipif(os.name != "posix", reason="POSIX file rights and limits")


def run(path, statement, values=()):
    """One statement by SQLite alone, as any program could."""
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        return connection.execute(statement, values).fetchall()


def test_what_was_appended_reads_back_in_order_after_reopening(book_path, capture, note):
    records = [capture(1), note("first"), capture(2)]
    with Logbook.open(book_path) as book:
        entries = [book.append(record) for record in records]
        named = book.id
    with Logbook.open(book_path) as book:
        assert book.id == named
        cover, *kept = book.entries()
        assert cover.record.id == named
        assert [entry.record for entry in kept] == records
        assert kept == entries
        assert [entry.sequence for entry in kept] == [2, 3, 4]
        assert book.last() == book.entry(4) == entries[-1]
        assert book.entry(5) is None


def test_each_entry_carries_the_hash_of_the_one_before(written):
    with Logbook.read(written) as book:
        entries = list(book.entries())
    assert [e.previous for e in entries[1:]] == [e.hash for e in entries[:-1]]
    assert all(entry.intact for entry in entries)


def test_two_logbooks_have_different_ids_and_do_not_begin_alike(tmp_path):
    with Logbook.open(tmp_path / "a") as a, Logbook.open(tmp_path / "b") as b:
        assert a.id != b.id
        assert a.last().previous != b.last().previous


def test_many_records_are_appended_all_or_none(written, note):
    with Logbook.open(written) as book:
        added = book.append_many([note("a"), note("b")])
        assert [entry.sequence for entry in added] == [13, 14]
        broken = Note.model_construct(**(note().model_dump() | {"text": "\ud800"}))
        with pytest.raises(NotCanonicalError):
            book.append_many([note("c"), broken])
        assert book.last() == added[-1]
        assert book.append_many([]) == []


def test_entries_are_given_by_range_and_by_kind(written, note):
    with Logbook.open(written) as book:
        book.append(note())
        assert [e.sequence for e in book.entries(4, 6)] == [4, 5, 6]
        assert [e.sequence for e in book.entries(11, 99)] == [11, 12, 13]
        assert [e.sequence for e in book.entries(kind="note")] == [13]
        assert [e.sequence for e in book.entries(kind="capture")] == list(range(2, 13))


def test_a_long_logbook_is_read_whole_and_with_what_is_appended_meanwhile(book_path, note):
    with Logbook.open(book_path) as book, Logbook.read(book_path) as reader:
        book.append_many(note(str(number)) for number in range(600))
        entries = reader.entries()
        numbers = [next(entries).sequence for _ in range(300)]
        book.append_many(note(str(number)) for number in range(5))
        numbers += [entry.sequence for entry in entries]
    assert numbers == list(range(1, 607))


def test_threads_may_append_side_by_side(book_path, note):
    with Logbook.open(book_path) as book:
        threads = [
            threading.Thread(target=lambda: [book.append(note()) for _ in range(20)])
            for _ in range(4)
        ]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
    report = verify(book_path)
    assert report.intact
    assert report.records == 81


def test_a_commit_has_reached_the_disk_when_it_returns(written):
    """SQLite's documentation: in WAL mode only synchronous FULL (2) syncs at every commit."""
    assert run(written, "PRAGMA journal_mode") == [("wal",)]
    with closing(connect_to_write(written)) as connection:
        connection.execute("PRAGMA synchronous = OFF")
        make_lasting(connection, written)
        assert connection.execute("PRAGMA synchronous").fetchone() == (2,)


@posix
def test_a_new_logbook_is_its_owners_alone(book_path):
    before = os.umask(0)
    try:
        with Logbook.open(book_path) as book:
            modes = {file.name: file.stat().st_mode & 0o777 for file in book_path.parent.iterdir()}
            assert book.last().sequence == 1
    finally:
        os.umask(before)
    assert set(modes) > {"bench.sqlite", "bench.sqlite-wal", "bench.sqlite.lock"}
    assert set(modes.values()) == {0o600}


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE records SET body = '{}' WHERE sequence = 3",
        "UPDATE records SET hash = previous WHERE sequence = 12",
        "UPDATE records SET sequence = 99 WHERE sequence = 12",
        "DELETE FROM records WHERE sequence = 3",
        "DELETE FROM records",
        "REPLACE INTO records VALUES (3, 'p', 'h', '{}')",
        "INSERT INTO records VALUES (3, 'p', 'h', '{}')",
        "INSERT INTO records VALUES (12, 'p', 'h', '{}')",
        "INSERT INTO records VALUES (-1, 'p', 'h', '{}')",
        "INSERT INTO records VALUES (13, 'not the hash of record 12', 'h', '{}')",
        "INSERT INTO records SELECT 14, hash, 'h', '{}' FROM records WHERE sequence = 12",
        "INSERT INTO records SELECT 13, hash, NULL, '{}' FROM records WHERE sequence = 12",
        "INSERT INTO records SELECT 13, hash, 'h', NULL FROM records WHERE sequence = 12",
        "INSERT INTO records (previous, hash, body) VALUES ('p', 'h', '{}')",
        "UPDATE meta SET id = 'another'",
        "DELETE FROM meta",
        "INSERT INTO meta VALUES (2, 'another')",
        "REPLACE INTO meta VALUES (1, 'another')",
    ],
)
def test_the_file_itself_refuses_all_but_the_next_record(written, statement):
    with pytest.raises(sqlite3.IntegrityError):
        run(written, statement)
    assert verify(written).intact


def test_the_file_takes_the_next_record_from_anyone(written):
    """So that the refusals above are refusals of what is wrong with them."""
    run(written, "INSERT INTO records SELECT 13, hash, 'h', '{}' FROM records WHERE sequence = 12")
    assert run(written, "SELECT count(*) FROM records") == [(13,)]


def test_a_second_writer_is_refused_and_told_who_writes(written):
    with Logbook.open(written):
        with pytest.raises(LogbookBusyError, match=f"process {os.getpid()} on ") as refused:
            Logbook.open(written)
        assert refused.value.path == str(written)
    Logbook.open(written).close()


@posix
def test_another_name_of_the_same_logbook_is_the_same_logbook(written, tmp_path):
    other = tmp_path / "link.sqlite"
    other.symlink_to(written)
    with Logbook.open(written), pytest.raises(LogbookBusyError):
        Logbook.open(other)


def test_a_writer_in_another_program_keeps_this_one_out_until_it_dies(written):
    program = (
        "import sys; from daq.logbook import Logbook; book = Logbook.open(sys.argv[1]);"
        "print('open', flush=True); sys.stdin.read()"
    )
    with subprocess.Popen(
        [sys.executable, "-c", program, written], stdin=subprocess.PIPE, stdout=subprocess.PIPE
    ) as other:
        try:
            assert other.stdout.readline() == b"open\n"
            with pytest.raises(LogbookBusyError, match=f"process {other.pid} on "):
                Logbook.open(written)
        finally:
            other.kill()
    Logbook.open(written).close()


def test_what_stands_in_a_lock_file_is_not_the_lock(written):
    lock = Path(f"{written}.lock")
    lock.write_bytes(b"\xff not what a logbook writes")
    with Logbook.open(written):
        lock.write_bytes(b"garbage")
        with pytest.raises(LogbookBusyError, match="another program"):
            Logbook.open(written)


def test_reading_goes_on_while_a_writer_writes(written, note):
    with Logbook.open(written) as book, Logbook.read(written) as reader:
        assert reader.last().sequence == 12
        entry = book.append(note())
        assert reader.last() == entry
        assert not hasattr(reader, "append")


def test_a_record_another_program_put_in_is_not_written_over(written, note):
    with Logbook.open(written) as book:
        statement = "INSERT INTO records SELECT 13, hash, ?, '{}' FROM records WHERE sequence = 12"
        run(written, statement, ("0" * 64,))
        with pytest.raises(LogbookBusyError):
            book.append(note())
        assert book.append(note()).sequence == 14


@contextmanager
def files_no_larger_than(size):
    """The system refuses to let any file grow past ``size`` bytes, as a full disk would."""
    import resource

    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))


@posix
@pytest.mark.parametrize("room", [0, 100, 4_000, 9_000])
def test_a_disk_that_takes_no_more_costs_the_record_and_nothing_else(written, note, room):
    long = "x" * 5_000_000  # more than the write-ahead log has room for beforehand
    with Logbook.open(written) as book:
        kept = book.append(note())
        size = os.path.getsize(f"{written}-wal") + room
        with files_no_larger_than(size), pytest.raises(LogbookDiskError, match="not kept"):
            book.append(note(long))
        assert book.last() == kept
        assert book.append(note(long)).sequence == kept.sequence + 1
    assert verify(written).intact


@posix
def test_the_first_records_find_room_on_a_disk_that_filled_up_since_the_opening(written, note):
    with Logbook.open(written) as book:
        with files_no_larger_than(os.path.getsize(f"{written}-wal")):
            added = [book.append(note("x" * 1_000)) for _ in range(50)]
        assert list(book.entries(13)) == added


@posix
def test_a_disk_without_room_beforehand_hinders_no_opening_and_no_record(written, note):
    with files_no_larger_than(100_000), Logbook.open(written) as book:
        assert os.path.getsize(f"{written}-wal") <= 100_000
        assert book.append(note()).sequence == 13
    assert verify(written).intact


def test_opening_to_write_changes_no_byte_of_a_logbook(written):
    before = written.read_bytes()
    Logbook.open(written).close()
    assert written.read_bytes() == before


def test_a_full_disk_is_called_so(tmp_path):
    """SQLite says SQLITE_FULL also for its own page limit, which needs no disk to fill."""
    path = tmp_path / "other.sqlite"
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("PRAGMA max_page_count = 2")
        connection.execute("CREATE TABLE t (a)")
        with pytest.raises(LogbookFullError, match="no room left") as raised, our_errors(path):
            connection.execute("INSERT INTO t VALUES (zeroblob(100000))")
    assert isinstance(raised.value, LogbookDiskError)


def test_use_after_close_is_a_mistake_of_the_program_not_of_the_user(written, note):
    book = Logbook.open(written)
    book.close()
    book.close()
    with pytest.raises(sqlite3.ProgrammingError):
        book.append(note())


def test_a_logbook_that_is_not_there_is_not_made_by_reading(book_path):
    with pytest.raises(LogbookNotFoundError, match="no logbook"):
        Logbook.read(book_path)
    assert list(book_path.parent.iterdir()) == []


def test_a_folder_that_is_not_there_is_not_made_by_writing(tmp_path):
    with pytest.raises(LogbookNotFoundError, match="no folder"):
        Logbook.open(tmp_path / "missing" / "bench.sqlite")


@pytest.mark.parametrize("content", [b"t_s,value\n1,2\n", b"SQLite format 3\0" + b"\xff" * 200])
def test_a_file_that_is_no_logbook_is_refused_and_left_as_it_is(book_path, content):
    book_path.write_bytes(content)
    for way in (Logbook.open, Logbook.read):
        with pytest.raises(NotALogbookError, match="not a restpoint logbook"):
            way(book_path)
    assert book_path.read_bytes() == content


def test_another_programs_database_is_refused_and_left_as_it_is(book_path):
    run(book_path, "CREATE TABLE theirs (a)")
    content = book_path.read_bytes()
    for way in (Logbook.open, Logbook.read):
        with pytest.raises(NotALogbookError):
            way(book_path)
    assert book_path.read_bytes() == content


def test_a_folder_is_no_logbook(tmp_path):
    with pytest.raises(LogbookNotFoundError):
        Logbook.read(tmp_path)
    with pytest.raises(LogbookError):
        Logbook.open(tmp_path)


def test_a_logbook_whose_making_was_cut_short_is_finished_by_opening_it(book_path):
    book_path.touch()
    with pytest.raises(NotALogbookError, match="empty"):
        Logbook.read(book_path)
    with Logbook.open(book_path) as book:
        assert book.last().sequence == 1
    assert verify(book_path).intact


@pytest.mark.parametrize("way", [Logbook.open, Logbook.read, verify])
def test_a_logbook_of_a_newer_layout_is_refused_with_both_numbers(written, way):
    run(written, "PRAGMA user_version = 99")
    with pytest.raises(LogbookTooNewError, match="has layout 99; this restpoint knows layouts up"):
        way(written)


@pytest.mark.parametrize(
    "statement",
    [
        "DROP TRIGGER records_are_never_changed",
        "DROP TRIGGER meta_is_never_removed",
        "CREATE TRIGGER t AFTER INSERT ON records BEGIN SELECT 1; END",
    ],
)
def test_a_logbook_that_lost_its_guards_is_not_written_in(written, statement):
    run(written, statement)
    with pytest.raises(LogbookDamagedError, match="trigger"):
        Logbook.open(written)
    with Logbook.read(written) as book:
        assert book.last().sequence == 12


def test_nothing_is_built_on_a_newest_record_that_was_edited(written, tamper):
    with tamper(written) as connection:
        connection.execute("UPDATE records SET body = replace(body, '12.340', '12.300')")
    for _ in range(2):  # the first refusal lets go of the lock
        with pytest.raises(LogbookDamagedError, match="record 12 does not fit its hash"):
            Logbook.open(written)


def test_a_gutted_logbook_is_refused(written, tamper):
    with tamper(written) as connection:
        connection.execute("DELETE FROM records")
    with pytest.raises(LogbookDamagedError, match="its records are gone"):
        Logbook.open(written)
    with Logbook.read(written) as book:
        assert book.last() is None


def test_a_garbled_record_is_shown_as_it_stands_and_the_others_whole(written, tamper):
    with tamper(written) as connection:
        connection.execute("UPDATE records SET body = CAST(x'ff7b00' AS TEXT) WHERE sequence = 3")
        connection.execute("UPDATE records SET body = '{' WHERE sequence = 4")
    with Logbook.read(written) as book:
        entries = {entry.sequence: entry for entry in book.entries()}
        captures = [entry.sequence for entry in book.entries(kind="capture")]
    assert isinstance(entries[3].record, UnknownRecord)
    assert isinstance(entries[4].record, UnknownRecord)
    assert {n for n, entry in entries.items() if not entry.intact} == {3, 4}
    assert captures == [2, 5, 6, 7, 8, 9, 10, 11, 12]


@pytest.mark.skipif(not Path("/proc/self/io").exists(), reason="no count of bytes read")
def test_opening_does_not_read_the_whole_book(book_path, note):
    with Logbook.open(book_path) as book:
        book.append_many(note("x" * 1000) for _ in range(3000))
    before = bytes_read()
    with Logbook.open(book_path) as book:
        assert book.last().sequence == 3001
    assert os.path.getsize(book_path) > 4_000_000
    assert bytes_read() - before < 200_000


def bytes_read():
    lines = Path("/proc/self/io").read_text().splitlines()
    return int(dict(line.split(": ") for line in lines)["rchar"])


@pytest.fixture
def closed_folder(capture, as_ordinary_user):
    """A folder with a logbook in it, both readable by all and writable by nobody."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        with Logbook.open(folder / "bench.sqlite") as book:
            book.append(capture())
        (folder / "bench.sqlite").chmod(0o444)
        (folder / "bench.sqlite.lock").unlink()
        folder.chmod(0o555)
        yield folder
        folder.chmod(0o755)


def test_a_closed_logbook_is_read_where_nothing_may_be_written(closed_folder, as_ordinary_user):
    path = closed_folder / "bench.sqlite"
    with as_ordinary_user():
        with Logbook.read(path) as book:
            assert book.last().sequence == 2
        assert verify(path).intact
    assert [file.name for file in closed_folder.iterdir()] == ["bench.sqlite"]


def test_an_open_logbook_is_read_where_nothing_may_be_written(tmp_path, note, as_ordinary_user):
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        with Logbook.open(folder / "bench.sqlite") as book:
            entry = book.append(note())
            for file in folder.iterdir():
                file.chmod(0o444)
            folder.chmod(0o555)
            with as_ordinary_user(), Logbook.read(folder / "bench.sqlite") as reader:
                assert reader.last() == entry
            folder.chmod(0o755)


def test_records_left_in_the_log_beside_a_file_are_never_passed_over(
    closed_folder, note, as_ordinary_user, tmp_path
):
    """A crash leaves records in the -wal file: without it the logbook would look whole."""
    path = closed_folder / "bench.sqlite"
    closed_folder.chmod(0o755)
    path.chmod(0o600)
    with Logbook.open(path) as book:
        book.append(note())
        left = Path(f"{path}-wal").read_bytes()
    Path(f"{path}-wal").write_bytes(left)
    for file in closed_folder.iterdir():
        file.chmod(0o444)
    closed_folder.chmod(0o555)
    with as_ordinary_user(), pytest.raises(LogbookReadOnlyError):
        Logbook.read(path)


def test_reading_after_a_crash_changes_nothing(written, note, tmp_path):
    left = tmp_path / "left" / "bench.sqlite"
    left.parent.mkdir()
    with Logbook.open(written) as book:
        entry = book.append(note())
        for ending in ("", "-wal"):
            Path(f"{left}{ending}").write_bytes(Path(f"{written}{ending}").read_bytes())
    before = left.read_bytes(), Path(f"{left}-wal").read_bytes()
    with Logbook.read(left) as reader:
        assert reader.last() == entry
    assert verify(left).intact
    assert (left.read_bytes(), Path(f"{left}-wal").read_bytes()) == before


def test_writing_where_nothing_may_be_written_is_refused(closed_folder, as_ordinary_user):
    with as_ordinary_user():
        for name in ("bench.sqlite", "new.sqlite"):
            with pytest.raises(LogbookReadOnlyError, match="may not use"):
                Logbook.open(closed_folder / name)


@posix
def test_a_link_planted_as_lock_file_is_not_followed(book_path, tmp_path):
    victim = tmp_path / "victim"
    victim.write_text("precious")
    Path(f"{book_path}.lock").symlink_to(victim)
    with pytest.raises(LogbookReadOnlyError):
        Logbook.open(book_path)
    assert victim.read_text() == "precious"
