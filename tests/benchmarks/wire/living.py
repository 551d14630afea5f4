"""What a whole bench costs while it runs: row S2, many gauges at once and gauges that are silent.

Each gauge is a pseudo-terminal that another process fills at the gauge's own rate; the lengths come
to rest and move on, so that there is something to settle and to decide. What runs is the
`Station` with its sessions, as in every command, and a look at each gauge twenty times a second.
CPU is this process's, user and system, in per cent of a core.
"""

import math
import time
from decimal import Decimal

from daq.measure.gauges import Gauge
from daq.measure.station import CableOut, Station
from daq.screen.watching import News, view_of
from daq.spec import Spec, rule_from
from drivers.profiles import load_profile
from drivers.reading import BadFrame, Reading, Shown, Unit
from tests.benchmarks.wire.ports import Ports, on_one_core, patient

LOOKS_A_SECOND = 20
SPEC = Spec(
    name="rack length",
    nominal_mm="12.300",
    lower_mm="-0.050",
    upper_mm="0.050",
    source="invented for this benchmark",
)


def profile_of(rate_hz):
    """A gauge of that rate."""
    return patient(load_profile("decimal-line"), rate_hz)


def lengths(count):
    """Approaches and rests by turns: 1 s of movement, 3 s of rest with a flickering last digit."""
    for place in range(count):
        step, to_come = place % 400, 0.0
        if step < 100:
            to_come = 1.5 * math.exp(-step / 20)
        flicker = (place * 7919 % 3) - 1
        yield Decimal(round((12.31 + to_come) * 1000) + flicker).scaleb(-3)


def bench(gauges, rate_hz, seconds):
    """CPU in per cent of a core, readings taken, and what went wrong, for ``gauges`` at once.

    A rate of 0 is gauges that are plugged in and say nothing.
    """
    profile = profile_of(rate_hz or 10.0)
    frames = [profile.encode(Shown(each, Unit.MM)) for each in lengths(400)]
    writes = int(gauges * (rate_hz or 1) * (seconds + 2))
    with Ports(gauges, frames, writes) as ports, on_one_core():
        stand = [Gauge(f"G-{n:02}", profile, name) for n, name in enumerate(ports.names)]
        with Station(stand, SPEC, rule_from("simple")) as station:
            opened = 0
            while opened < gauges:
                opened += len(station.next(1.0))
            if rate_hz:
                ports.begin(rate=rate_hz, seconds=seconds + 1.0)
            _look_on(station, stand, 1.0)  # what is loaded late is loaded now
            began_s = time.process_time()
            taken = _look_on(station, stand, seconds)
            cpu_s = time.process_time() - began_s
        if rate_hz:
            taken["dropped"] = ports.report()["dropped"]
    return {"cpu_percent": 100 * cpu_s / seconds, **taken}


def _look_on(station, stand, seconds):
    """Run the station for so long; what it has told."""
    readings = rests = bad = views = 0
    until_s = time.monotonic() + seconds
    next_look_s = time.monotonic()
    while (now_s := time.monotonic()) < until_s:
        if now_s >= next_look_s:
            next_look_s = max(next_look_s + 1 / LOOKS_A_SECOND, now_s)
            for each in stand:
                label = each.label
                views += view_of(station.session(label), label, each.port, now_s, News()).is_fresh
        for _, event in station.next(max(0.0, min(next_look_s, until_s) - now_s)):
            readings += isinstance(event, Reading)
            rests += type(event).__name__ == "AtRest"
            bad += isinstance(event, BadFrame | CableOut)
    return {"readings": readings, "rests": rests, "bad": bad, "fresh_views": views}


def main():
    for gauges, rate_hz in ((64, 100.0), (16, 0.0)):
        print(gauges, rate_hz, bench(gauges, rate_hz, 6.0), flush=True)


if __name__ == "__main__":
    main()
