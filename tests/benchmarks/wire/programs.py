"""What the program costs as its user runs it: rows S1 (starting) and U1 (the live view).

The live view runs in a terminal of 120 × 40 that another thread drains; gauges send twenty readings
a second, and the screen draws as often. Of several gauges one is shown and all are measured. CPU is
the program's, user and system.
"""

import fcntl
import json
import os
import pty
import re
import signal
import struct
import subprocess
import sys
import tempfile
import termios
import threading
import time
from contextlib import contextmanager
from pathlib import Path

from drivers.profiles import load_profile
from drivers.reading import Shown, Unit
from tests.benchmarks.wire.living import lengths
from tests.benchmarks.wire.ports import Ports, patient

RESTPOINT = (sys.executable, "-m", "daq.cli")
SPEC = ("--nominal", "12.300 mm", "--limits", "± 0.050 mm", "--source", "invented")
RATE_HZ = 20.0
ROWS, COLUMNS = 40, 120


@contextmanager
def as_installed():
    """Programs that are started now find their modules compiled, as an installation has them.

    The first one compiles them and does not count.
    """
    before = dict(os.environ)
    with tempfile.TemporaryDirectory() as folder:
        os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
        os.environ["PYTHONPYCACHEPREFIX"] = folder
        try:
            yield
        finally:
            os.environ.clear()
            os.environ.update(before)


def help_s():
    """Seconds on the wall until ``restpoint --help`` has ended."""
    began_s = time.monotonic()
    subprocess.run([*RESTPOINT, "--help"], stdout=subprocess.DEVNULL, check=True)
    return time.monotonic() - began_s


def first_reading_cpu_s():
    """CPU seconds of a fresh process until it prints the first reading of a gauge."""
    with _gauges(1) as ports:
        ports.begin(rate=RATE_HZ, seconds=4.0)
        program = subprocess.Popen(
            [*RESTPOINT, "watch", f"decimal-line@{ports.names[0]}", *SPEC, "--for", "10", "--json"],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            text=True,
        )
        try:
            line = program.stdout.readline()
            while json.loads(line)["length_mm"] is None:
                line = program.stdout.readline()
            cpu_s = _cpu_s(program.pid)
        finally:
            program.terminate()
            program.communicate(timeout=20)
        ports.report()
    return cpu_s


def live_view_percent(gauges, seconds=6.0):
    """CPU in per cent of a core of a live view with so many gauges, once it runs."""
    with tempfile.TemporaryDirectory() as folder, _gauges(gauges) as ports:
        ports.begin(rate=RATE_HZ, seconds=seconds + 5.0)
        stand = [f"decimal-line@{name}" for name in ports.names]
        command = [*RESTPOINT, "watch", *stand]
        if gauges > 1:
            command = [*RESTPOINT, "bench", "live", *stand, "--listen", "127.0.0.1:0"]
            command += ["--logbook", str(Path(folder, "bench.logbook"))]
        with _in_terminal([*command, *SPEC]) as (process, drawn):
            if gauges > 1:
                _wait_for(drawn, b"space bar")
                drawn.press(b" ")
            _wait_for(drawn, b"12.3")
            time.sleep(2.0)
            before_s, before_bytes = _cpu_s(process), drawn.bytes
            time.sleep(seconds)
            used_s, written = _cpu_s(process) - before_s, drawn.bytes - before_bytes
        ports.report()
    assert written > 1000, "the screen has drawn nothing"
    return 100 * used_s / seconds


@contextmanager
def _gauges(count):
    """Gauges whose last digit moves with every reading, so that the screen has work each time."""
    profile = patient(load_profile("decimal-line"))
    frames = [profile.encode(Shown(each, Unit.MM)) for each in lengths(400)]
    with Ports(count, frames, int(RATE_HZ * 60 * count)) as ports:
        yield ports


class _Drained(threading.Thread):
    """Reads what a terminal is sent, and counts it."""

    def __init__(self, end):
        super().__init__(daemon=True)
        self._end, self.bytes, self.newest = end, 0, b""
        self.start()

    def press(self, keys):
        """As if typed at the terminal."""
        os.write(self._end, keys)

    def run(self):
        try:
            while got := os.read(self._end, 65536):
                self.bytes += len(got)
                self.newest = (self.newest + got)[-100_000:]
        except OSError:  # the program has gone, and its terminal with it
            pass


@contextmanager
def _in_terminal(command):
    """A program in a terminal of its own: its process number, and what it has drawn."""
    process, end = pty.fork()
    if process == 0:
        environment = {**os.environ, "TERM": "xterm-256color", "COLORTERM": "truecolor"}
        os.execvpe(command[0], command, environment)
    fcntl.ioctl(end, termios.TIOCSWINSZ, struct.pack("HHHH", ROWS, COLUMNS, 0, 0))
    drained = _Drained(end)
    try:
        yield process, drained
    finally:
        os.kill(process, signal.SIGTERM)
        os.waitpid(process, 0)
        drained.join(5.0)
        os.close(end)


def _wait_for(drawn, pattern, within_s=20.0):
    until_s = time.monotonic() + within_s
    while not re.search(pattern, drawn.newest):
        assert time.monotonic() < until_s, drawn.newest[-2000:]
        time.sleep(0.05)


def _cpu_s(process):
    """CPU seconds of a process so far, all its threads: the scheduler's own count, to the ns."""
    threads = Path(f"/proc/{process}/task").glob("*/schedstat")
    return sum(int(each.read_text("ascii").split()[0]) for each in threads) / 1e9


def main():
    with as_installed():
        print("help", [round(help_s(), 3) for _ in range(6)][1:])
        print("first reading", [first_reading_cpu_s() for _ in range(6)][1:])
        for gauges in (1, 8):
            print("live", gauges, [round(live_view_percent(gauges), 2) for _ in range(3)])


if __name__ == "__main__":
    main()
