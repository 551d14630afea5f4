"""Power cuts in short: what a logbook was told is kept is there, nothing torn passes for whole."""

import random

import pytest

from tests.faults.power_cut.__main__ import cut_at, points_of
from tests.faults.power_cut.disk import Disk
from tests.faults.power_cut.program import KINDS
from tests.faults.power_cut.system_calls import STRACE, Call, watched

traced = pytest.mark.skipif(STRACE is None, reason="there is no strace here")


@traced
@pytest.mark.parametrize("kind", [kind for kind in KINDS if kind != "many"])
def test_a_power_cut_takes_nothing_that_was_told_to_be_kept(kind, tmp_path):
    run, after = tmp_path / "run", tmp_path / "after"
    run.mkdir()
    after.mkdir()
    calls = watched(kind, run)
    points = {*random.Random(kind).sample(points_of(calls, 1, random.Random(kind)), 30), len(calls)}
    tally = cut_at(calls, points, after, tries=4)
    assert tally.cuts == 4 * len(points)
    assert dict(tally.faults) == {}


@traced
def test_a_program_that_flushes_nothing_is_found_out(tmp_path):
    run, after = tmp_path / "run", tmp_path / "after"
    run.mkdir()
    after.mkdir()
    calls = [each for each in watched("copies", run) if each.do != "flush"]
    tally = cut_at(calls, [len(calls)], after, tries=1)
    gone = {fault.split(" is gone")[0] for fault in tally.faults}
    assert gone == {"the checkpoint", "the backup", "the logbook", "the export"}


def drawn(calls, chance, tries=50):
    """What the disk may hold after these calls."""
    disk = Disk()
    for call in calls:
        disk.reach(call)
    return [disk.after_cut(random.Random(number), chance) for number in range(tries)]


MADE = [Call("made", "a"), Call("flush", ".")]
WRITTEN = [*MADE, Call("write", "a", 0, b"first"), Call("flush", "a")]


def test_what_was_flushed_is_there_whatever_comes_of_the_rest():
    later = [Call("write", "a", 5, b"2"), Call("write", "a", 6, b"3")]
    found = {files["a"] for files in drawn([*WRITTEN, *later], 0.5)}
    assert found == {b"first", b"first2", b"first\x003", b"first23"}
    assert drawn([*WRITTEN, *later], 0.0, 1) == [{"a": b"first"}]
    assert drawn([*WRITTEN, *later], 1.0, 1) == [{"a": b"first23"}]


def test_of_a_long_write_some_sectors_may_be_there_and_others_not():
    found = {files["a"] for files in drawn([*MADE, Call("write", "a", 0, b"x" * 2048)], 0.5)}
    assert b"x" * 2048 in found
    assert b"" in found
    assert any(0 < each.count(b"x") < 2048 for each in found)
    assert {each.count(b"x") % 512 for each in found} == {0}


def test_a_name_is_there_for_good_only_once_its_folder_is_flushed():
    new = [Call("made", "b"), Call("write", "b", 0, b"text"), Call("flush", "b")]
    assert {tuple(files) for files in drawn([*WRITTEN, *new], 0.5)} == {("a",), ("a", "b")}
    assert {tuple(files) for files in drawn([*WRITTEN, *new, Call("flush", ".")], 0.5)} == {
        ("a", "b")
    }


def test_a_name_moves_as_a_whole():
    moved = [*WRITTEN, Call("moved", "a", text="b")]
    assert {tuple(files.items()) for files in drawn(moved, 0.5)} == {
        (("a", b"first"),),
        (("b", b"first"),),
    }


def test_what_is_in_a_folder_is_lost_with_the_folders_name():
    inner = [
        Call("made folder", "in"),
        Call("made", "in/a"),
        Call("write", "in/a", 0, b"text"),
        Call("flush", "in/a"),
        Call("flush", "in"),
    ]
    assert {tuple(files) for files in drawn(inner, 0.5)} == {(), ("in/a",)}
    assert drawn([*inner, Call("flush", ".")], 0.0, 1) == [{"in/a": b"text"}]
