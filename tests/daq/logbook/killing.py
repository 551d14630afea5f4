"""Kills the program `appender` at random moments, and compares what it said with what is there."""

import os
import random
import select
import signal
import subprocess
import sys
import time
from collections import deque
from contextlib import contextmanager
from pathlib import Path

from daq.logbook import Logbook, recorded, verify, verify_trace

LONGEST_WAIT_S = 0.06


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


@contextmanager
def writing():
    """A `Writer` that runs."""
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


def kill_appending(writer, folder, kills, books, seed):
    """Kill it so often while it appends to so many logbooks.

    Returns:
        How many records it was told are kept, and what is wrong with them, a line each.
    """
    chance = random.Random(seed)
    told = [{} for _ in range(books)]
    faults = []
    for number in range(kills):
        book = number % books
        # The first kill of a book comes early, when it is hardly made; the others at any time.
        longest_s = LONGEST_WAIT_S if number >= books else LONGEST_WAIT_S / 10
        path = folder / f"{book}.sqlite"
        kept = kill_while_writing(writer, "records", path, chance.uniform(0, longest_s))
        faults += [f"{path}: {each} was given twice" for each in kept.keys() & told[book].keys()]
        told[book] |= kept
    for book, kept in enumerate(told):
        path = folder / f"{book}.sqlite"
        with Logbook.open(path), Logbook.read(path) as reader:
            hashes = {str(entry.sequence): entry.hash for entry in reader.entries()}
        lost = [each for each, digest in kept.items() if hashes.get(str(each)) != digest]
        faults += [f"{path}: record {each} is lost" for each in lost]
        faults += [f"{path}: {problem}" for problem in verify(path).problems]
    return sum(map(len, told)), faults


def kill_recording(writer, folder, kills, seed):
    """Kill it so often while it records a trace; what is returned is as of `kill_appending`."""
    chance = random.Random(seed)
    told, faults = 0, []
    for number in range(kills):
        path = folder / f"{number}.csv"
        kept = kill_while_writing(writer, "rows", path, chance.uniform(0.01, 2 * LONGEST_WAIT_S))
        most = max(kept, default=0)
        told += most
        if not path.exists() or path.stat().st_size == 0:  # killed before it was begun
            faults += [f"{path}: {most} rows are lost"] if most else []
            continue
        report = verify_trace(path)
        there = [int(row.data.split()[0]) for _, row in recorded(path)]
        if not report.intact or report.is_ended or there != list(range(1, report.rows)):
            faults.append(f"{path}: it is not as it was written")
        if len(there) < most:
            faults.append(f"{path}: {most - len(there)} rows are lost")
        path.unlink()
    return told, faults
