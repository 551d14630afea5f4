"""A chained trace gives back what was put into it, and shows what was done to it since."""

import hashlib
import os
import random
import re
import threading
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from daq.logbook import (
    LogbookNotFoundError,
    RecordingError,
    TraceRecorder,
    is_chained_trace,
    recorded,
    trace_recorder,
    verify_trace,
)
from drivers.errors import TraceError
from drivers.trace import LinkMark, RawBytes

AT = datetime(2026, 3, 1, 8, 15, 30, 250000, tzinfo=UTC)

ARRIVALS = [
    (5321.301402, "G-17", "opened"),
    (5321.412875, "G-17", b"+0012.345 mm\r\n"),
    (5321.412875, "G-18", b""),
    (5322.0, "G-17", b"+0012.346 mm\r\n+0012.3"),
    (5323.5, "G-17", "lost"),
    (5323.6, "G-18", b"\x00\xff,\n"),
]

posix = pytest.mark.skipif(os.name != "posix", reason="POSIX file rights and limits")


@pytest.fixture
def path(tmp_path):
    """Where a trace may be made."""
    return tmp_path / "trace.csv"


@pytest.fixture
def made(path):
    """The path of a closed trace of `ARRIVALS`: 8 rows, the first `begun`, the last `ended`."""
    with TraceRecorder.begin(path, 5321.25, at=AT) as recorder:
        recorder.put_all(ARRIVALS)
    return path


def put_in(arrivals):
    """How `recorded` gives ``arrivals``."""
    return [
        (label, LinkMark(t_s, what) if isinstance(what, str) else RawBytes(t_s, what))
        for t_s, label, what in arrivals
    ]


def change_lines(path, change):
    """Write the trace anew from the lines that ``change`` makes of its lines, header included."""
    lines = path.read_bytes().splitlines(keepends=True)
    path.write_bytes(b"".join(change(lines)))


def numbers(report):
    return [(each.sequence, each.through) for each in report.problems]


def test_what_was_put_comes_back_in_order(made):
    assert list(recorded(made)) == put_in(ARRIVALS)
    assert list(recorded(made, "G-18")) == put_in([ARRIVALS[2], ARRIVALS[5]])
    report = verify_trace(made)
    assert (report.rows, report.intact, report.is_ended) == (8, True, True)


@settings(max_examples=60, deadline=None)
@given(
    st.lists(
        st.tuples(
            st.floats(allow_nan=False, allow_infinity=False),
            st.text(st.characters(categories=["L", "N", "P", "S", "Zs"]), max_size=8).filter(
                str.isprintable
            ),
            st.binary(max_size=40) | st.sampled_from(["opened", "lost"]),
        ),
        max_size=8,
    )
)
def test_anything_that_may_be_put_comes_back_to_the_last_digit(tmp_path_factory, arrivals):
    path = tmp_path_factory.mktemp("any") / "trace.csv"
    with TraceRecorder.begin(path, 0.1 + 0.2) as recorder:
        recorder.put_all(arrivals)
    assert list(recorded(path)) == put_in(arrivals)
    assert verify_trace(path).intact


def test_a_label_that_would_break_a_line_is_written_out(path):
    with TraceRecorder.begin(path, 0.0) as recorder:
        recorder.put(1.0, "G\n1\udc80", b"1")
    assert [label for label, _ in recorded(path)] == [r"G\n1\udc80"]


def test_the_hash_is_the_sha256_of_the_one_before_and_the_row(made):
    header, *rows = made.read_text().splitlines()
    previous = hashlib.sha256(header.encode()).hexdigest()
    assert header == "t_s,gauge,bytes,sha256"
    assert re.match(r"5321\.25,,begun 2026-03-01T08:15:30\.250000Z [0-9a-f-]{36},", rows[0])
    assert rows[2].startswith("5321.412875,G-17,2b303031322e333435206d6d0d0a,")
    for row in rows:
        said, _, digest = row.rpartition(",")
        assert digest == hashlib.sha256(f"{previous},{said}".encode()).hexdigest()
        previous = digest
    assert verify_trace(made, expect_last_hash=previous).intact


def test_two_traces_of_the_same_have_no_hash_in_common(tmp_path):
    hashes = []
    for name in ("a.csv", "b.csv"):
        with TraceRecorder.begin(tmp_path / name, 1.0, at=AT) as recorder:
            recorder.put(2.0, "G", b"1")
        hashes += re.findall("[0-9a-f]{64}", (tmp_path / name).read_text())
    assert len(hashes) == len(set(hashes)) == 6


@pytest.mark.parametrize("seed", range(40))
def test_one_changed_byte_anywhere_is_found(made, seed):
    chance = random.Random(seed)
    whole = bytearray(made.read_bytes())
    at = chance.randrange(len(whole))
    whole[at] ^= 1 << chance.randrange(8)
    made.write_bytes(whole)
    report = verify_trace(made)
    # A last line end that is gone makes the last row an unfinished one, as a crash would.
    assert not report.intact or (report.unfinished_bytes and not report.is_ended)


@pytest.mark.parametrize("row", [1, 2, 5, 8])
def test_an_edited_row_is_named_and_no_other(made, row):
    change_lines(made, lambda lines: [*lines[:row], b"9" + lines[row], *lines[row + 1 :]])
    assert numbers(verify_trace(made)) == [(row, row)]
    with pytest.raises(TraceError, match=f"trace.csv:{row + 1}: row {row} does not fit"):
        list(recorded(made))


def test_a_removed_a_moved_and_an_added_row_are_found_where_they_were(made):
    whole = made.read_bytes()
    change_lines(made, lambda lines: lines[:3] + lines[4:])
    assert numbers(verify_trace(made)) == [(3, 3)]
    made.write_bytes(whole)
    change_lines(made, lambda lines: [*lines[:3], lines[4], lines[3], *lines[5:]])
    assert numbers(verify_trace(made)) == [(3, 5)]
    made.write_bytes(whole)
    change_lines(made, lambda lines: [*lines[:3], lines[5], *lines[3:]])
    assert numbers(verify_trace(made)) == [(3, 4)]
    made.write_bytes(whole)
    change_lines(made, lambda lines: [*lines[:3], b"a stray line\n", *lines[3:]])
    assert numbers(verify_trace(made)) == [(3, 3)]


def test_a_trace_put_behind_another_is_told_and_its_id_is_not_taken(made, tmp_path):
    other = tmp_path / "other.csv"
    TraceRecorder.begin(other, 1.0, at=AT).close()
    one = verify_trace(made).trace_id
    change_lines(made, lambda lines: lines + other.read_bytes().splitlines(keepends=True)[1:])
    report = verify_trace(made)
    assert numbers(report) == [(9, 9)]
    assert report.trace_id == one != verify_trace(other).trace_id


def test_a_trace_without_its_beginning_is_told(made):
    change_lines(made, lambda lines: lines[:1] + lines[2:])
    problems = [str(each) for each in verify_trace(made).problems]
    assert any("first row is missing" in each for each in problems)


def test_a_cut_end_is_seen_by_the_missing_end_and_by_what_was_noted(made):
    noted = verify_trace(made).last_hash
    change_lines(made, lambda lines: lines[:-2])
    report = verify_trace(made)
    assert (report.rows, report.intact, report.is_ended) == (6, True, False)
    (problem,) = verify_trace(made, expect_last_hash=noted).problems
    assert "cut off or rewritten" in str(problem)


def test_the_middle_of_a_row_at_the_end_is_passed_over_and_counted(made):
    made.write_bytes(made.read_bytes()[:-40])
    report = verify_trace(made)
    assert (report.rows, report.intact, report.is_ended) == (7, True, False)
    assert report.unfinished_bytes > 0
    assert list(recorded(made)) == put_in(ARRIVALS)


@pytest.mark.parametrize("content", [b"", b"t_s,bytes\n1.0,31\n", b"\xff" * 300, b"t_s,gauge"])
def test_a_file_of_anything_is_no_chained_trace(path, content):
    path.write_bytes(content)
    assert not is_chained_trace(path)
    assert not verify_trace(path).intact
    with pytest.raises(TraceError, match="no chained trace"):
        list(recorded(path))


def test_a_row_that_fits_its_hash_and_is_none_is_refused(made):
    def with_one_more(lines):
        previous = lines[-1].strip()[-64:].decode()
        digest = hashlib.sha256(f"{previous},1.0,G,zz".encode()).hexdigest()
        return [*lines, f"1.0,G,zz,{digest}\n".encode()]

    change_lines(made, with_one_more)
    assert is_chained_trace(made)
    with pytest.raises(TraceError, match="no row of a trace"):
        list(recorded(made))


def test_a_trace_is_read_while_it_is_recorded(path):
    with TraceRecorder.begin(path, 0.0) as recorder:
        number = recorder.put(1.0, "G", b"1")
        assert recorder.wait(number)
        assert recorder.durable == number == 1
        assert list(recorded(path)) == [("G", RawBytes(1.0, b"1"))]
        assert not verify_trace(path).is_ended


def test_waiting_for_a_row_that_nobody_puts_ends_in_time(path):
    with TraceRecorder.begin(path, 0.0) as recorder:
        assert not recorder.wait(1, timeout_s=0.01)


def test_nothing_is_acknowledged_before_it_was_flushed(path, monkeypatch):
    flushed, may_end = [], threading.Event()

    def slow_flush(descriptor):
        flushed.append(os.fstat(descriptor).st_size)
        may_end.wait(10)

    with TraceRecorder.begin(path, 0.0) as recorder:
        monkeypatch.setattr(trace_recorder, "flush_file", slow_flush)
        number = recorder.put(1.0, "G", b"1")
        assert not recorder.wait(number, timeout_s=0.05)
        assert recorder.durable == 0
        may_end.set()
        assert recorder.wait(number, timeout_s=10)
        assert flushed == [path.stat().st_size]


def test_many_threads_may_put_and_each_ones_order_is_kept(path):
    def put(recorder, name):
        for i in range(300):
            recorder.put(float(i), name, str(i).encode())

    with TraceRecorder.begin(path, 0.0) as recorder, ThreadPoolExecutor(4) as pool:
        list(pool.map(put, [recorder] * 4, "ABCD"))
    for name in "ABCD":
        assert [int(row.data) for _, row in recorded(path, name)] == list(range(300))


def test_a_trace_is_never_written_over(made):
    before = made.read_bytes()
    with pytest.raises(RecordingError, match="already there"):
        TraceRecorder.begin(made, 0.0)
    assert made.read_bytes() == before


def test_a_trace_in_a_folder_that_is_not_there_is_refused(tmp_path):
    with pytest.raises(RecordingError, match="not being recorded"):
        TraceRecorder.begin(tmp_path / "no folder" / "trace.csv", 0.0)


def test_a_missing_trace_is_an_error_not_an_answer(path):
    for ask in (verify_trace, is_chained_trace, lambda name: list(recorded(name))):
        with pytest.raises(LogbookNotFoundError):
            ask(path)


@posix
def test_only_its_owner_can_read_a_trace(made):
    assert made.stat().st_mode & 0o777 == 0o600


def test_closing_twice_is_harmless_and_putting_afterwards_is_a_mistake(path):
    recorder = TraceRecorder.begin(path, 0.0)
    recorder.close()
    recorder.close()
    with pytest.raises(ValueError, match="closed"):
        recorder.put(1.0, "G", b"1")
    assert verify_trace(path).rows == 2


@posix
@pytest.mark.parametrize("room", [0, 50, 500, 4_000])
def test_a_disk_that_takes_no_more_ends_the_recording_and_keeps_what_was_acknowledged(path, room):
    import resource

    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    recorder = TraceRecorder.begin(path, 0.0)
    kept = recorder.put(1.0, "G", b"1")
    assert recorder.wait(kept)
    resource.setrlimit(resource.RLIMIT_FSIZE, (path.stat().st_size + room, hard))
    try:
        last = recorder.put_all([(2.0, "G", b"x" * 100)] * 100)
        for ask in (recorder.wait, recorder.close):
            with pytest.raises(RecordingError, match="not being recorded"):
                ask()
        with pytest.raises(RecordingError):
            recorder.put(3.0, "G", b"2")
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
    assert recorder.wait(kept)
    assert kept == recorder.durable < last
    report = verify_trace(path)
    assert (report.rows, report.intact, report.unfinished_bytes) == (2, True, 0)


def put_for_ever(recorder, arrivals):
    while True:
        recorder.put_all(arrivals)


def test_a_disk_that_falls_behind_ends_the_recording_and_leaves_no_gap(path, monkeypatch):
    monkeypatch.setattr(trace_recorder, "MOST_WAITING", 1000)
    arrivals = [(float(i), "G", str(i).encode()) for i in range(150_000)]
    recorder = TraceRecorder.begin(path, 0.0)
    recorder.put_all(arrivals)  # keeps the recorder busy for as long as the rest takes
    with pytest.raises(RecordingError, match="too slow"):
        put_for_ever(recorder, arrivals)
    with pytest.raises(RecordingError, match="too slow"):
        recorder.close()
    there = [int(row.data) for _, row in recorded(path)]
    assert len(there) == recorder.durable
    assert there == list(range(len(there)))
    assert verify_trace(path).intact


def test_no_thread_is_left_when_a_recorder_was_closed(made):
    assert "trace recorder" not in {each.name for each in threading.enumerate()}
