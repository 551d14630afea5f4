"""R1: a cable is pulled among many gauges at line rate: how soon it is known, and what others lose.

The gauge that is lost is found again by its adapter's identity, under another port name.
"""

import os
import statistics
import threading
import time
import tty

from drivers.reader import Arrived, Lost, Opened, Reader
from tests.benchmarks.wire.delays import LINE
from tests.benchmarks.wire.ports import SETTINGS, Ports, numbered, on_one_core


class _Pulled:
    """A gauge of our own, which is pulled out and comes back under another name."""

    def __init__(self):
        self.plug_in()

    def plug_in(self):
        self.theirs, end = os.openpty()
        tty.setraw(end)
        self.name = os.ttyname(end)
        self._end = end

    def pull(self):
        """When it was pulled, seconds, monotonic."""
        os.close(self._end)
        now_s = time.monotonic()
        os.close(self.theirs)
        return now_s

    def find(self):
        return self.name


def pulled(profile, gauges=128, seconds=3.0, rounds=5):
    """How long until a pulled gauge was marked lost and until it was back, and the others' loss."""
    lost_ms, back_ms, missing = [], [], 0
    with Ports(gauges - 1, numbered(profile), int(gauges * LINE["rate"] * (seconds + 1))) as ports:
        for _ in range(rounds):
            one = _round(ports, seconds)
            lost_ms.append(one["lost_ms"])
            back_ms.append(one["back_ms"])
            missing += one["missing"]
    return {
        "lost_ms": statistics.median(lost_ms),
        "lost_most_ms": max(lost_ms),
        "back_ms": statistics.median(back_ms),
        "missing_bytes": missing,
    }


def _round(ports, seconds):
    came = dict.fromkeys(ports.names, 0)
    told, is_lost, is_back = [], threading.Event(), threading.Event()

    def take(sweep):
        for each in sweep:
            if isinstance(each, Arrived):
                came[each.gauge] = came.get(each.gauge, 0) + len(each.data)
            elif each.gauge == "pulled":
                told.append(each)
                (is_lost if isinstance(each, Lost) else is_back).set()

    gauge = _Pulled()
    with on_one_core(), Reader(sink=take) as reader:
        for name in ports.names:
            reader.add(name, name, SETTINGS)
        reader.add("pulled", gauge.find, SETTINGS)
        is_back.clear()
        ports.begin(rate=LINE["rate"], each=1, seconds=seconds)
        is_lost.wait(seconds / 3)  # nothing happens yet: the load has begun
        pulled_s = gauge.pull()
        is_lost.wait(10)
        gauge.plug_in()
        plugged_s = time.monotonic()
        is_back.wait(10)
        report = ports.report()
        time.sleep(0.3)
    gauge.pull()
    lost = next(each for each in told if isinstance(each, Lost))
    back = [each for each in told if isinstance(each, Opened)][-1]
    sent = report["sent"] * len(ports.frames[0])
    return {
        "lost_ms": 1e3 * (lost.t_s - pulled_s),
        "back_ms": 1e3 * (back.t_s - plugged_s),
        "missing": sent - sum(count for name, count in came.items() if name != "pulled"),
    }
