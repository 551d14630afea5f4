"""Pseudo-terminals of a benchmark, and the process that fills them."""

import json
import os
import subprocess
import sys
import tempfile
import tty
from contextlib import contextmanager
from decimal import Decimal
from pathlib import Path

import numpy as np

from drivers.profile import SerialSettings
from drivers.reading import Shown, Unit

SETTINGS = SerialSettings(baud=115200)
"""A pseudo-terminal has no parity and no rate, and may refuse what it cannot do."""

NUMBERS = 1009
"""Different frames: a prime, so that no lost block of a round size goes unseen."""

SENDER = Path(__file__).with_name("sending.py")


def numbered(profile):
    """Frames that show 1, 2, ... steps in millimetres, from 1000 on: all of one length."""
    step = profile.resolution[Unit.MM]
    shown = [Shown(step * (1000 + n), Unit.MM, sequence=1, label="07") for n in range(NUMBERS)]
    return [profile.encode(each) for each in shown]


def patient(profile, rate_hz=None):
    """The profile, but of a gauge that may pause: a load that has to wait is no cut cable."""
    change = {"gap_s": 5.0} if rate_hz is None else {"gap_s": 5.0, "rate_hz": rate_hz}
    return profile.model_copy(update={"sends": profile.sends.model_copy(update=change)})


def cores():
    """A core for reading and one for the load; None where there is no choice."""
    if not hasattr(os, "sched_getaffinity"):
        return None, None
    free = sorted(os.sched_getaffinity(0))
    return (free[0], free[1]) if len(free) > 1 else (None, None)


@contextmanager
def on_one_core():
    """This process stays on the core for reading."""
    mine, _ = cores()
    if mine is None:
        yield
        return
    before = os.sched_getaffinity(0)
    os.sched_setaffinity(0, {mine})
    try:
        yield
    finally:
        os.sched_setaffinity(0, before)


class Ports:
    """Pseudo-terminals and what fills them. Use it in a ``with`` statement.

    Args:
        count: how many.
        frames: what is sent, over and over.
        most_writes: of one paced load, for the times.

    Attributes:
        names: the ports to open.
        ours: open descriptors of them.
        times_s: when each write of a paced load began (seconds, monotonic), port by port in turn.
    """

    def __init__(self, count, frames, most_writes=1):
        self.frames = frames
        pairs = [os.openpty() for _ in range(count)]
        self._theirs, self.ours = [a for a, _ in pairs], [b for _, b in pairs]
        for end in self.ours:
            tty.setraw(end)
            os.set_blocking(end, False)
        self.names = [os.ttyname(end) for end in self.ours]
        self._file = tempfile.NamedTemporaryFile()  # noqa: SIM115 - closed at the end
        self._file.truncate(8 * most_writes)
        self.times_s = np.memmap(self._file.name, np.float64, "r", shape=(most_writes,))
        self._process = subprocess.Popen(
            [sys.executable, SENDER],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            pass_fds=self._theirs,
            text=True,
        )
        told = {"ends": self._theirs, "frames": [each.hex() for each in frames]}
        self._say({**told, "core": cores()[1], "times": self._file.name})
        self._process.stdout.readline()

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self._process.stdin.close()
        self._process.wait(60)
        self._process.stdout.close()
        for end in self._theirs + self.ours:
            os.close(end)
        self._file.close()

    def _say(self, told):
        self._process.stdin.write(json.dumps(told) + "\n")
        self._process.stdin.flush()

    def begin(self, **load):
        """Let frames come: ``count`` each flat out, or ``rate``, ``seconds`` and ``each``."""
        self._say({"ports": len(self.ours), **load})

    def report(self):
        """What was sent, once it is: ``sent``, ``dropped`` frames, ``late_s``."""
        return json.loads(self._process.stdout.readline())


def lengths_in(profile):
    """How many decimals a length of the profile has, and its step as a whole number of those."""
    step = profile.resolution[Unit.MM]
    places = -step.as_tuple().exponent
    return places, int(Decimal(step).scaleb(places))
