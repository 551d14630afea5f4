"""Verify: whatever is done to a logbook's rows or bytes is found, with the number of the record."""

import hashlib
import json
import random
import sqlite3
from contextlib import closing

import pytest

from daq.logbook import (
    Logbook,
    LogbookNotFoundError,
    LogbookReadOnlyError,
    verify,
    verify_jsonl,
    write_jsonl,
)

LAST = 12


def named(report):
    """The numbers of the records a report names."""
    return {
        number
        for problem in report.problems
        for number in range(-2, 60)
        if problem.concerns(number)
    }


def rehash(connection, sequence):
    """Make a record's hash fit what now stands in it."""
    (previous, body) = connection.execute(
        "SELECT previous, body FROM records WHERE sequence = ?", (sequence,)
    ).fetchone()
    whole = f'{{"previous":"{previous}","record":{body},"sequence":{sequence}}}'
    digest = hashlib.sha256(whole.encode()).hexdigest()
    connection.execute("UPDATE records SET hash = ? WHERE sequence = ?", (digest, sequence))
    return digest


def edit(connection, sequence):
    connection.execute(
        "UPDATE records SET body = replace(body, '\"12.3', '\"12.2') WHERE sequence = ?",
        (sequence,),
    )


def renumber(connection, first, by):
    """Move the records from ``first`` on by one place, up or down."""
    connection.execute("UPDATE records SET sequence = -sequence WHERE sequence >= ?", (first,))
    connection.execute("UPDATE records SET sequence = ? - sequence WHERE sequence < 0", (by,))


def swap(connection, one, other, columns=("previous", "hash", "body")):
    chosen = ", ".join(columns)
    contents = [
        connection.execute(f"SELECT {chosen} FROM records WHERE sequence = ?", (n,)).fetchone()
        for n in (one, other)
    ]
    settings = ", ".join(f"{column} = ?" for column in columns)
    for sequence, content in ((other, contents[0]), (one, contents[1])):
        connection.execute(
            f"UPDATE records SET {settings} WHERE sequence = ?", (*content, sequence)
        )


def insert(connection, sequence, body='{"at":"x","format":1,"kind":"note"}'):
    """Put a record in that fits its own hash and the record before it."""
    connection.execute(
        "INSERT INTO records SELECT ?, hash, '', ? FROM records WHERE sequence = ?",
        (sequence, body, sequence - 1),
    )
    rehash(connection, sequence)


def test_a_logbook_as_it_was_left_is_intact(written):
    report = verify(written)
    assert report.intact
    assert report.problems == ()
    assert report.records == LAST
    with Logbook.read(written) as book:
        assert report.last_hash == book.last().hash
        assert report.logbook_id == book.id


def test_a_logbook_is_verified_while_a_writer_is_at_work(written, note):
    with Logbook.open(written) as book:
        entry = book.append(note())
        report = verify(written)
        assert report.intact
        assert report.last_hash == entry.hash


@pytest.mark.parametrize("sequence", range(1, LAST + 1))
def test_an_edited_record_is_found_and_no_other_is_named(written, tamper, sequence):
    with tamper(written) as connection:
        connection.execute(
            "UPDATE records SET body = replace(body, '2026', '2025') WHERE sequence = ?",
            (sequence,),
        )
    assert named(verify(written)) == {sequence}


@pytest.mark.parametrize("sequence", range(1, LAST))
def test_an_edited_record_whose_hash_was_made_to_fit_is_found(written, tamper, sequence):
    with tamper(written) as connection:
        connection.execute(
            "UPDATE records SET body = replace(body, '2026', '2025') WHERE sequence = ?",
            (sequence,),
        )
        rehash(connection, sequence)
    report = verify(written)
    assert named(report) == {sequence}
    assert f"record {sequence + 1} was written after" in str(report.problems[0])


@pytest.mark.parametrize("column", ["hash", "previous"])
@pytest.mark.parametrize("sequence", [1, 2, 7, LAST])
def test_an_edited_hash_is_found(written, tamper, column, sequence):
    with tamper(written) as connection:
        connection.execute(
            f"UPDATE records SET {column} = ? WHERE sequence = ?", ("0" * 64, sequence)
        )
    (problem,) = verify(written).problems
    assert problem.sequence == problem.through == sequence


@pytest.mark.parametrize("sequence", [1, 2, 7, LAST - 1])
def test_a_removed_record_is_found(written, tamper, sequence):
    with tamper(written) as connection:
        connection.execute("DELETE FROM records WHERE sequence = ?", (sequence,))
    report = verify(written)
    assert report.records == LAST - 1
    (problem,) = report.problems
    assert str(problem) == f"record {sequence} is missing: it was removed"


def test_several_removed_records_are_named_as_a_range(written, tamper):
    with tamper(written) as connection:
        connection.execute("DELETE FROM records WHERE sequence BETWEEN 4 AND 6")
    report = verify(written)
    assert named(report) == {4, 5, 6}
    assert str(report.problems[0]).startswith("records 4 to 6")


def test_a_record_removed_and_the_gap_closed_is_found(written, tamper):
    with tamper(written) as connection:
        connection.execute("DELETE FROM records WHERE sequence = 5")
        renumber(connection, 6, -1)
    assert named(verify(written)) == set(range(5, LAST))


@pytest.mark.parametrize(("one", "other"), [(5, 6), (3, 9), (1, 2), (2, LAST)])
def test_swapped_records_are_found(written, tamper, one, other):
    with tamper(written) as connection:
        swap(connection, one, other)
    assert named(verify(written)) == {one, other}


@pytest.mark.parametrize(("one", "other"), [(5, 6), (3, 9)])
def test_records_whose_contents_were_swapped_are_found(written, tamper, one, other):
    with tamper(written) as connection:
        swap(connection, one, other, ["body"])
    assert named(verify(written)) == {one, other}


def test_swapped_records_whose_hashes_were_made_to_fit_are_found(written, tamper):
    with tamper(written) as connection:
        swap(connection, 5, 6, ["body"])
        digest = rehash(connection, 5)
        connection.execute("UPDATE records SET previous = ? WHERE sequence = 6", (digest,))
        rehash(connection, 6)
    report = verify(written)
    assert named(report) == {6}
    assert "those before it may have been too" in str(report.problems[0])


@pytest.mark.parametrize("sequence", [2, 6, LAST])
def test_a_record_put_in_between_is_found_though_it_fits(written, tamper, sequence):
    with tamper(written) as connection:
        renumber(connection, sequence, +1)
        insert(connection, sequence)
    report = verify(written)
    assert named(report) == set(range(sequence, LAST + 2))
    assert f"record {sequence} was put in: record {sequence + 1} was written straight after " in (
        str(report.problems[0])
    )


def test_several_records_put_in_one_after_the_other_are_all_found(written, tamper):
    with tamper(written) as connection:
        for sequence in (6, 7, 8):
            renumber(connection, sequence, +1)
            insert(connection, sequence)
    report = verify(written)
    assert named(report) == set(range(6, LAST + 4))
    assert str(report.problems[0]).startswith("records 6 to 8: each was put in")


def test_a_record_put_in_the_place_of_another_is_found(written, tamper):
    with tamper(written) as connection:
        connection.execute("DELETE FROM records WHERE sequence = 6")
        insert(connection, 6)
    assert named(verify(written)) == {6}


@pytest.mark.parametrize("sequence", [1, 5])
def test_a_record_of_another_logbook_is_found(written, tamper, tmp_path, sequence, begun, capture):
    other = tmp_path / "other.sqlite"
    with Logbook.open(other, at=begun) as book:
        book.append_many(capture(step) for step in range(11))
    with tamper(written) as connection:
        connection.execute("ATTACH ? AS other", (str(other),))
        connection.execute(f"DELETE FROM main.records WHERE sequence = {sequence}")
        connection.execute(
            f"INSERT INTO main.records SELECT * FROM other.records WHERE sequence = {sequence}"
        )
    assert named(verify(written)) == {1} if sequence == 1 else {5}


def test_a_logbook_given_another_logbooks_id_is_found(written, tamper):
    with tamper(written) as connection:
        connection.execute("UPDATE meta SET id = '00000000-0000-4000-8000-000000000000'")
    report = verify(written)
    assert named(report) == {1}
    assert "another logbook's id" in str(report.problems[0])


def test_each_of_many_faults_is_found_whatever_came_before_it(written, tamper):
    with tamper(written) as connection:
        edit(connection, 2)
        connection.execute("DELETE FROM records WHERE sequence = 4")
        edit(connection, 6)
        rehash(connection, 6)
        swap(connection, 9, 11)
    assert named(verify(written)) == {2, 4, 6, 9, 11}


def test_a_record_made_to_fit_is_found_though_an_earlier_one_does_not_fit(written, tamper):
    with tamper(written) as connection:
        edit(connection, 3)
        edit(connection, 8)
        rehash(connection, 8)
    assert named(verify(written)) == {3, 8}


def test_a_record_numbered_below_the_first_is_found(written, tamper):
    with tamper(written) as connection:
        connection.execute("INSERT INTO records VALUES (-2, ?, ?, '{}')", ("0" * 64, "0" * 64))
    report = verify(written)
    assert named(report) == {-2}
    assert report.records == LAST + 1


@pytest.mark.parametrize("seed", range(40))
def test_one_changed_character_anywhere_in_a_record_is_found(written, tamper, seed):
    chance = random.Random(seed)
    sequence = chance.randint(1, LAST)
    column = chance.choice(["previous", "hash", "body", "body"])
    with tamper(written) as connection:
        (text,) = connection.execute(
            f"SELECT {column} FROM records WHERE sequence = {sequence}"
        ).fetchone()
        place = chance.randrange(len(text))
        other = chance.choice([c for c in "0123456789abcdef{}\n" if c != text[place]])
        connection.execute(
            f"UPDATE records SET {column} = ? WHERE sequence = {sequence}",
            (text[:place] + other + text[place + 1 :],),
        )
    assert named(verify(written)) == {sequence}


@pytest.mark.parametrize(
    ("statement", "told"),
    [
        ("DROP TRIGGER records_are_never_changed", "lost its trigger records_are_never_changed"),
        ("DROP TRIGGER meta_is_never_replaced", "lost its trigger meta_is_never_replaced"),
        (
            "CREATE TRIGGER t AFTER INSERT ON records BEGIN SELECT 1; END",
            "has a strange trigger t",
        ),
        ("DROP TABLE meta", "has lost its id"),
        ("DROP TABLE records", "has no table of records"),
    ],
)
def test_a_logbook_that_lost_its_guards_is_told(written, statement, told):
    with closing(sqlite3.connect(written)) as connection:
        connection.execute(statement)
    assert any(told in str(problem) for problem in verify(written).problems)


def test_a_guard_that_was_made_harmless_is_told(written):
    with closing(sqlite3.connect(written)) as connection:
        connection.execute("DROP TRIGGER records_are_never_removed")
        connection.execute(
            "CREATE TRIGGER records_are_never_removed BEFORE DELETE ON records BEGIN SELECT 1; END"
        )
    (problem,) = verify(written).problems
    assert "changed trigger records_are_never_removed" in str(problem)


def test_a_guard_garbled_by_the_disk_hides_no_record(written, tamper):
    with tamper(written) as connection:
        edit(connection, 5)
    content = written.read_bytes()
    for garbage in (
        b"CRE\xff\xfeE TRIGGER records_are_linked",
        b"CREATE TRIGGER records_are_xxxxxx",
    ):
        written.write_bytes(content.replace(b"CREATE TRIGGER records_are_linked", garbage))
        report = verify(written)
        assert named(report) == {5}
        assert report.records == LAST
        assert any("trigger records_are_linked" in str(problem) for problem in report.problems)


def test_somebodys_own_table_or_index_in_the_file_is_no_fault(written):
    with closing(sqlite3.connect(written)) as connection:
        connection.execute("CREATE TABLE mine (a)")
        connection.execute("CREATE INDEX by_hash ON records (hash)")
        connection.execute("ANALYZE")
    assert verify(written).intact


def test_rows_of_the_wrong_kind_in_a_table_made_anew_are_named(written):
    with closing(sqlite3.connect(written)) as connection:
        rows = connection.execute("SELECT * FROM records").fetchall()
        connection.execute("DROP TABLE records")
        connection.execute("CREATE TABLE records (sequence, previous, hash, body)")
        rows[2] = (3, None, rows[2][2], rows[2][3])
        rows[4] = (5, 7, 7, 7)
        rows[6] = (7, rows[6][1], rows[6][2], None)
        rows[8] = (9, rows[8][1], 1.5, rows[8][3])
        rows.append(rows[5])
        rows.append((-2, None, "h", "b"))
        rows.append(("twelve", "p", "h", "b"))
        rows.append((13.5, "0" * 64, "h", "b"))
        connection.executemany("INSERT INTO records VALUES (?, ?, ?, ?)", rows)
        connection.commit()
    report = verify(written)
    # The two rows without a whole number are named by the numbers that were due: 13 and 14.
    assert named(report) == {-2, 3, 5, 6, 7, 9, 13, 14}
    numbered = [problem for problem in report.problems if problem.sequence is not None]
    assert {type(problem.through) for problem in numbered} == {int}
    assert "changed table records" in str(report.problems[0])


@pytest.mark.parametrize(
    "content", [b"", b"\0", b"not a database", b"SQLite format 3\0", bytes(range(256)) * 64]
)
def test_a_file_of_anything_is_answered_not_crashed_on(book_path, content):
    book_path.write_bytes(content)
    report = verify(book_path)
    assert not report.intact
    assert report.records == 0
    assert "no restpoint logbook" in str(report.problems[0])


@pytest.mark.parametrize("seed", range(60))
def test_bytes_changed_anywhere_in_the_file_are_found_or_changed_nothing(written, seed):
    """A page has free room, and a header has fields nobody reads: there nothing is lost."""
    with Logbook.read(written) as book:
        before = list(book.entries())
    for leftover in written.parent.glob("*-*"):
        leftover.unlink()
    content = bytearray(written.read_bytes())
    chance = random.Random(seed)
    start = chance.randrange(len(content))
    length = chance.choice([1, 1, 1, 16, 4096])
    for place in range(start, min(start + length, len(content))):
        content[place] = chance.randrange(256)
    written.write_bytes(content)
    report = verify(written)
    if report.intact:
        with Logbook.read(written) as book:
            assert list(book.entries()) == before


@pytest.mark.parametrize("kept", [20, 100, 3000, 4096, 5000, 9000, 16384, -1])
def test_a_file_that_was_cut_short_is_found(written, kept):
    content = written.read_bytes()
    written.write_bytes(content[:kept])
    assert not verify(written).intact


def test_a_damaged_page_costs_its_own_records_and_hides_no_fault_behind_it(book_path, tamper, note):
    with Logbook.open(book_path) as book:
        book.append_many(note(f"mark {number} " + "x" * 300) for number in range(2, 401))
    with tamper(book_path) as connection:
        connection.execute("UPDATE records SET body = '{}' WHERE sequence IN (50, 350)")
    content = bytearray(book_path.read_bytes())
    page = content.index(b"mark 200 ") // 4096 * 4096
    lost = {number for number in range(2, 401) if b"mark %d " % number in content[page:][:4096]}
    content[page : page + 4096] = bytes(4096)
    book_path.write_bytes(content)
    report = verify(book_path)
    unreadable = [p for p in report.problems if "cannot be read" in p.what]
    assert {number for p in unreadable for number in range(p.sequence, p.through + 1)} == lost
    assert {p.sequence for p in report.problems if "does not fit" in p.what} == {50, 350}
    assert any(p.sequence is None and "is damaged" in p.what for p in report.problems)
    assert report.records == 400 - len(lost)


def test_a_cut_end_is_seen_only_by_what_was_noted_of_it(written, tamper):
    noted = verify(written)
    with tamper(written) as connection:
        connection.execute("DELETE FROM records WHERE sequence > 9")
    assert verify(written).intact
    by_count = verify(written, expect_count=noted.records)
    assert named(by_count) == {10, 11, 12}
    by_hash = verify(written, expect_last_hash=noted.last_hash)
    assert "end was cut off" in str(by_hash.problems[0])


def test_a_chain_rebuilt_from_end_to_end_is_seen_only_by_a_noted_hash(written, tamper):
    noted = verify(written)
    with tamper(written) as connection:
        edit(connection, 3)
        for sequence in range(3, LAST + 1):
            connection.execute(
                "UPDATE records SET previous = (SELECT hash FROM records WHERE sequence = ?)"
                " WHERE sequence = ?",
                (sequence - 1, sequence),
            )
            rehash(connection, sequence)
    assert verify(written).intact
    assert not verify(written, expect_last_hash=noted.last_hash).intact


def test_a_logbook_that_has_grown_still_bears_out_what_was_noted(written, note):
    noted = verify(written)
    with Logbook.open(written) as book:
        book.append(note())
    report = verify(written, expect_last_hash=noted.last_hash, expect_count=noted.records)
    assert report.intact
    assert report.records == noted.records + 1
    shouted = f" {noted.last_hash.upper()}\n"
    assert verify(written, expect_last_hash=shouted).intact


def test_a_hash_noted_for_another_number_is_told(written):
    noted = verify(written)
    report = verify(written, expect_last_hash=noted.last_hash, expect_count=11)
    assert named(report) == {LAST}
    assert "noted for record 11" in str(report.problems[0])


def test_very_many_faults_are_counted_and_the_list_stays_short(book_path, tamper, note):
    with Logbook.open(book_path) as book:
        book.append_many(note() for _ in range(20_100))
    with tamper(book_path) as connection:
        connection.execute("UPDATE records SET body = '{}' WHERE sequence % 2")
    report = verify(book_path)
    assert len(report.problems) == 10_000
    assert report.more == 51


def test_a_missing_file_is_an_error_not_an_answer(book_path):
    for way in (verify, verify_jsonl):
        with pytest.raises(LogbookNotFoundError):
            way(book_path)


@pytest.fixture
def exported(written):
    path = written.with_suffix(".jsonl")
    with Logbook.read(written) as book:
        write_jsonl(book.entries(), path)
    return path


def lines_changed(path, change):
    lines = path.read_bytes().splitlines(keepends=True)
    change(lines)
    path.write_bytes(b"".join(lines))


def test_an_export_of_a_whole_logbook_verifies_by_itself(written, exported):
    assert verify_jsonl(exported) == verify(written)


def test_line_ends_a_mail_program_changed_do_not_matter(exported):
    exported.write_bytes(exported.read_bytes().replace(b"\n", b"\r\n"))
    assert verify_jsonl(exported).intact


@pytest.mark.parametrize(
    ("change", "numbers"),
    [
        (lambda lines: lines.__setitem__(4, lines[4].replace(b'"12.3', b'"12.2')), {5}),
        (lambda lines: lines.pop(4), {5}),
        (lambda lines: lines.insert(4, lines[6]), {5, 6, 7}),
        (lambda lines: lines.insert(4, lines[4]), {5}),
        (lambda lines: lines.__setitem__(slice(4, 6), [lines[5], lines[4]]), {5}),
        (lambda lines: lines.__setitem__(0, lines[0].replace(b'"id":"', b'"id":"a')), {1}),
        (lambda lines: lines.pop(0), {1}),
    ],
    ids=["edited", "removed", "put in", "doubled", "swapped", "other id", "cover removed"],
)
def test_a_changed_export_is_found_with_the_number(exported, change, numbers):
    lines_changed(exported, change)
    assert named(verify_jsonl(exported)) == numbers


@pytest.mark.parametrize(
    "line", [b"\n", b"{}\n", b"\xff\xfe\n", b"[" * 5000 + b"\n", b'{"hash":"cut'], ids=repr
)
@pytest.mark.parametrize("place", [0, 6, LAST])
def test_a_line_that_is_no_record_is_told(exported, line, place):
    lines_changed(exported, lambda lines: lines.insert(place, line))
    report = verify_jsonl(exported)
    assert not report.intact
    assert any(f"a line {place + 1} that is no record" in str(p) for p in report.problems)


def test_an_export_whose_last_line_is_cut_keeps_the_ones_before_it(exported):
    exported.write_bytes(exported.read_bytes()[:-20])
    report = verify_jsonl(exported)
    assert report.records == LAST - 1
    assert [str(problem) for problem in report.problems] == [
        f"the file has a line {LAST} that is no record"
    ]


def test_an_export_is_held_against_what_was_noted_too(written, exported):
    noted = verify(written)
    lines_changed(exported, lambda lines: lines.pop())
    assert verify_jsonl(exported).intact
    assert named(verify_jsonl(exported, expect_count=noted.records)) == {LAST}
    assert not verify_jsonl(exported, expect_last_hash=noted.last_hash).intact


def test_an_empty_export_is_no_proof_of_anything(book_path):
    book_path.touch()
    assert [str(p) for p in verify_jsonl(book_path).problems] == ["the file holds no records"]


def test_a_folder_is_no_export(tmp_path):
    with pytest.raises(LogbookReadOnlyError):
        verify_jsonl(tmp_path)


def test_the_hash_is_the_sha256_of_the_line_without_it(exported):
    for line in exported.read_text().splitlines():
        digest = json.loads(line)["hash"]
        without = line.replace(f'"hash":"{digest}",', "", 1)
        assert hashlib.sha256(without.encode()).hexdigest() == digest
