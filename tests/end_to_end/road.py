"""What the end-to-end tests share: gauges, waiting with an end, the command as a program."""

import json
import os
import subprocess
import sys
import time
from pathlib import Path

from daq.logbook import Capture, Logbook, verify
from drivers.profiles import load_profile
from simulated_devices import SimulatedGauge
from simulated_devices.motion import Still

WITHIN_S = 20.0


def steady(profile, at_mm=12.34, **more):
    """A simulated gauge at rest."""
    return SimulatedGauge(load_profile(profile), Still(at_mm), **more)


def work_until(station, done):
    """Let the station work until ``done()``; fails after some seconds."""
    end_s = time.monotonic() + WITHIN_S
    events = []
    while time.monotonic() < end_s:
        events += [event for _, event in station.next(0.05)]
        if done():
            return events
    raise AssertionError(f"not done within {WITHIN_S} s; the last events: {events[-3:]}")


def captures_in(path):
    """The captures of a logbook, which must be whole."""
    report = verify(path)
    assert not report.problems
    with Logbook.read(path) as book:
        return [e.record for e in book.entries(kind="capture") if isinstance(e.record, Capture)]


def restpoint(*words, timeout_s=WITHIN_S):
    """Runs the command as its user would; exit status, standard output, standard error."""
    done = subprocess.run(
        [sys.executable, "-m", "daq.cli", *map(str, words)],
        capture_output=True,
        text=True,
        timeout=timeout_s,
        cwd=Path(__file__).parents[2],
        env={**os.environ, "NO_COLOR": "1"},
        check=False,
    )
    return done.returncode, done.stdout, done.stderr


def json_lines(text):
    """The objects that a command printed."""
    return [json.loads(line) for line in text.splitlines()]
