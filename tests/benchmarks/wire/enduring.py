"""Ten minutes at the rate of the line, once each: W4 to W6, started by hand.

    python -m tests.benchmarks.wire.enduring [--only W4 ...] [--minutes 10]

Every value is held against the one that was due while frames come, so that nothing piles up; the
CPU of that look is in the figure. Memory is what the process holds at most.
"""

import argparse
import resource
import time

import numpy as np

from drivers.blocks import Block
from drivers.reader import Arrived
from drivers.reading import Reading
from tests.benchmarks.wire.delays import LAST_S, WARM_S
from tests.benchmarks.wire.ports import NUMBERS, Ports, numbered, on_one_core, patient
from tests.benchmarks.wire.rows import LOADS, line
from tests.benchmarks.wire.ways import Ours


class Watched(Ours):
    """``Ours`` that looks at once and keeps nothing: frames taken, and values not the next."""

    name = "ours, every value held against the one that was due"

    def begin(self):
        self.anew()
        super().begin()

    def anew(self):
        """Count from here on."""
        self._next = dict.fromkeys(self.ports.names, 0)
        self.frames = self.wrong = 0

    def _take(self, sweep):
        for each in self._decoder.receive(
            [(each.gauge, each.data, each.t_s) for each in sweep if type(each) is Arrived]
        ):
            if isinstance(each, Block):
                self._hold([(part.gauge, part.rows) for part in each.parts], each.count)
            elif isinstance(each.event, Reading):
                count = int(each.event.value.scaleb(self._places))
                self._hold([(each.gauge, 1)], np.array([count]))
            else:
                self.wrong += 1

    def _hold(self, parts, count):
        rows = np.array([rows for _, rows in parts])
        firsts = np.array([self._next[gauge] for gauge, _ in parts])
        begins = np.cumsum(rows) - rows
        due = (np.repeat(firsts - begins, rows) + np.arange(len(count))) % NUMBERS
        came = count // self._worth - 1000
        self.wrong += int(np.count_nonzero(came != due))
        self.frames += len(count)
        for (gauge, _), last in zip(parts, came[np.cumsum(rows) - 1].tolist(), strict=True):
            self._next[gauge] = (last + 1) % NUMBERS  # after a loss, only the first is not due

    def _look(self):
        """Has been done."""


def endured(profile, count, load, seconds):
    """What one load of so many seconds came to."""
    profile = patient(profile)
    writes = int(count * (load["rate"] / load["each"] * seconds + 2))
    with Ports(count, numbered(profile), writes) as ports, on_one_core():
        reading = Watched(ports, profile)
        reading.begin()
        # The first frame of a stream is not taken: it could be the rest of one.
        ports.begin(**load, seconds=WARM_S)
        ports.report()
        time.sleep(LAST_S)
        reading.anew()
        began_s, began_cpu_s = time.monotonic(), time.process_time()
        ports.begin(**load, seconds=seconds)
        report = ports.report()
        cpu_s, took_s = time.process_time() - began_cpu_s, time.monotonic() - began_s
        time.sleep(LAST_S)
        reading.end()
    return {
        "cpu_percent": 100 * cpu_s / took_s,
        "took_s": took_s,
        "sent": report["sent"],
        "lost": report["sent"] - reading.frames,
        "wrong": reading.wrong,
        "most_mb": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024,
    }


def main():
    asked = argparse.ArgumentParser(prog="python -m tests.benchmarks.wire.enduring")
    asked.add_argument("--only", nargs="+", choices=[number for number, *_ in LOADS])
    asked.add_argument("--minutes", type=float, default=10.0)
    given = asked.parse_args()
    for number, what, count, load, _ in LOADS:
        if given.only is None or number in given.only:
            found = endured(line(), count, load, 60 * given.minutes)
            print(
                f"{number} {what}: {found['cpu_percent']:.1f} % for {found['took_s']:.0f} s, "
                f"lost {found['lost']:,} of {found['sent']:,}, wrong {found['wrong']}, "
                f"at most {found['most_mb']:.0f} MB",
                flush=True,
            )


if __name__ == "__main__":
    main()
