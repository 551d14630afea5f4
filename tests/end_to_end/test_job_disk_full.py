"""The disk fills up in the middle of a job: it says so, stands still, and goes on with room."""

import re
import shutil
import subprocess
import sys

import pytest

from daq.logbook import verify
from daq.logbook.job import JobGate
from tests.end_to_end.road import WITHIN_S
from tests.end_to_end.test_job_register import ROOT, jobs, of_kind
from tests.faults.power_cut.system_calls import STRACE

STAND = "stand it is all there is | M. Lind\n"
BEFORE = "go\ngo\n"
AFTER = "go\ngo\n"


def run(place, name, lines, *inject):
    """The job in the logbook ``name``, with some writes of its log failing as strace does it.

    Returns what it said, and the names of its writes and flushes in their order.
    """
    told = place / "strace"
    done = subprocess.run(
        [STRACE, "-f", "-o", told, "-P", place / f"{name}-wal", "-e", "trace=pwrite64,fdatasync",
         *inject, sys.executable, "-m", "daq.cli", "job", "run", place / "two.toml", "--logbook",
         place / name, "--engine", "aux 2", "--operator", "R. Ahlers", "--gauges",
         place / "gauges.toml", "--gauge", "rack=DI-7", "--gauge", "rocker=DI-9"],
        input=lines, capture_output=True, text=True, timeout=2 * WITHIN_S, cwd=ROOT, check=False,
    )  # fmt: skip
    assert done.returncode == 3, done.stderr
    return done.stdout, re.findall(r"(pwrite64|fdatasync)\(", told.read_text("latin-1"))


def first_write_of(calls, from_the_end):
    """Number of the first write that keeps a record, counted from 1; the last flush is the end."""
    flushes = [place for place, call in enumerate(calls) if call == "fdatasync"]
    return calls[: flushes[-from_the_end - 1]].count("pwrite64") + 1


@pytest.mark.skipif(STRACE is None, reason="there is no strace here")
def test_the_job_stands_still_while_the_disk_is_full_and_goes_on_with_room(place):
    shutil.copy(place / "a.logbook", place / "other.logbook")
    whole, calls = run(place, "other.logbook", BEFORE + STAND + AFTER)
    first = first_write_of(calls, from_the_end=4)
    full = f"inject=pwrite64:error=ENOSPC:when={first}..{first + 1}"
    said, _ = run(place, "a.logbook", BEFORE + 3 * STAND + AFTER, "-e", full)
    lines = said.splitlines()
    refused = [line for line in lines if "There is no room left" in line]
    assert refused
    assert all("Gauge DI-7, for rack" in line for line in refused)
    assert all("not kept. Make room, then do it again" in line for line in refused)
    others = [line for line in lines if line not in refused]
    assert others[:-1] == whole.splitlines()[:-1]
    assert verify(place / "a.logbook").intact
    (job,) = jobs(place)
    assert [each.gate for each in of_kind(job, JobGate)] == ["plate", "cautions", "step", "crank"]
