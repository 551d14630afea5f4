"""A writer killed at any moment loses no record, and no row, that it was told is kept."""

import os
import random
import select
import signal
import subprocess
import sys
import time
from collections import deque
from pathlib import Path

import pytest

from daq.logbook import Logbook, recorded, verify, verify_trace

KILLS = 100
TRACE_KILLS = 40
BOOKS = 10
LONGEST_WAIT_S = 0.06

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="the writer forks")


class Writer:
    """The appending program, and the lines it has written."""

    def __init__(self, process):
        self._process = process
        self._whole = deque()
        self._rest = b""

    def lines(self, until_s):
        """The whole lines that arrive before ``until_s`` on the monotonic clock."""
        out = self._process.stdout.fileno()
        while True:
            while self._whole:
                yield self._whole.popleft().decode().split()
            ready, _, _ = select.select([out], [], [], max(0.0, until_s - time.monotonic()))
            if not ready:
                return
            *whole, self._rest = (self._rest + os.read(out, 65536)).split(b"\n")
            self._whole.extend(whole)

    def start(self, what, path):
        """Begin to write ``what`` to ``path``; gives the number of the process that does."""
        self._process.stdin.write(f"{what} {path}\n".encode())
        self._process.stdin.flush()
        said = next(self.lines(time.monotonic() + 20))
        assert said[0] == "child"
        return int(said[1])


@pytest.fixture
def writer():
    program = Path(__file__).with_name("appender.py")
    with subprocess.Popen(
        [sys.executable, program], stdin=subprocess.PIPE, stdout=subprocess.PIPE
    ) as process:
        yield Writer(process)
        process.stdin.close()


def kill_while_writing(writer, what, path, after_s):
    """Let it write for ``after_s``, kill it, and give what it said: number to hash, if any."""
    child = writer.start(what, path)
    kept = {}
    lines = list(writer.lines(time.monotonic() + after_s))
    os.kill(child, signal.SIGKILL)
    for said in lines:
        assert said[0] == "kept"
        kept[int(said[1])] = said[-1]
    for said in writer.lines(time.monotonic() + 20):
        if said[0] == "dead":
            assert int(said[1]) == signal.SIGKILL, "the writer ended before it was killed"
            return kept
        kept[int(said[1])] = said[-1]
    raise AssertionError("the killed writer did not die")


@pytest.mark.timeout(120)
def test_kill_at_random_moments_loses_no_acknowledged_record(writer, tmp_path):
    """Process death, a hundred times, also while a logbook is being made. Not power loss."""
    chance = random.Random(20260301)
    told = [{} for _ in range(BOOKS)]
    for number in range(KILLS):
        book = number % BOOKS
        path = tmp_path / f"{book}.sqlite"
        # The first kill of a book comes early, when it is hardly made; the others at any time.
        longest = LONGEST_WAIT_S if number >= BOOKS else LONGEST_WAIT_S / 10
        kept = kill_while_writing(writer, "records", path, chance.uniform(0, longest))
        assert not kept.keys() & told[book].keys(), "a number was given twice"
        told[book] |= kept
    for book, kept in enumerate(told):
        path = tmp_path / f"{book}.sqlite"
        with Logbook.open(path), Logbook.read(path) as reader:
            hashes = {entry.sequence: entry.hash for entry in reader.entries()}
        assert kept.items() <= hashes.items()
        assert verify(path).intact
    assert sum(map(len, told)) > KILLS, "hardly anything was written before the kills"


@pytest.mark.timeout(120)
def test_a_recorder_killed_at_random_moments_loses_no_acknowledged_row(writer, tmp_path):
    """Process death, while hundreds of rows wait. Not power loss."""
    chance = random.Random(20260302)
    told = 0
    for number in range(TRACE_KILLS):
        path = tmp_path / f"{number}.csv"
        kept = kill_while_writing(writer, "rows", path, chance.uniform(0.01, 2 * LONGEST_WAIT_S))
        if not path.exists() or path.stat().st_size == 0:  # killed before it was begun
            assert not kept
            continue
        report = verify_trace(path)
        there = [int(row.data.split()[0]) for _, row in recorded(path)]
        assert report.intact
        assert not report.is_ended
        assert there == list(range(1, report.rows))
        assert len(there) >= max(kept, default=0)
        told += max(kept, default=0)
    assert told > 100 * TRACE_KILLS, "hardly anything was written before the kills"
