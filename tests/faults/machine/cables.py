"""Cables that change places while two gauges are captured: is any value kept for the wrong gauge?

Two simulated gauges on pseudo-terminals, each at an adapter with a serial number of its own. At
random moments both cables are pulled and plugged in again: at the same ports, at each other's, or
with a port's name gone to another adapter. There is no simulator for the system's list of USB
devices, so the list is stood in for.
"""

import random
import time
from unittest import mock

from serial.tools.list_ports_common import ListPortInfo

from daq.measure.events import Refused
from daq.measure.gauges import Gauge
from daq.measure.station import Station
from drivers.profiles import load_profile
from simulated_devices import Bench, SimulatedGauge
from tests.soak.motion import AtWork

FAULTS = ("cables replugged", "ports swapped")
LASTS_S = 12.0
PERIOD_S = 1.6
NAMES = ("left", "right")


class Plugged:
    """Two ports of a bench, and the adapters that the system lists at them."""

    def __init__(self, bench, listed):
        self.bench, self._listed = bench, listed
        self.serials = {}
        self.at(left="K1", right="K2")

    def at(self, **serials):
        """The adapters with these serial numbers are at these ports."""
        infos = []
        for name, serial in serials.items():
            info = ListPortInfo(self.bench.ports[name])
            info.vid, info.pid, info.serial_number = 0x1209, 1, serial
            infos.append(info)
        self.serials = serials
        self._listed.return_value = infos

    def pull(self):
        """Pull both cables."""
        for name in self.bench.ports:
            self.bench.pull(name)

    def plug_in(self):
        """Plug both in again."""
        for name in self.bench.ports:
            self.bench.plug_in(name)


class Exchanged:
    """A plunger seen by the gauge that is at a port now: swapping cables swaps what is measured."""

    def __init__(self, works, name):
        self.works, self.name = works, name

    def at(self, t_s):
        return self.works[self.name].at(t_s)


def run_try(seed, fault, tally):
    """One try; what came of it is added to ``tally``."""
    dice = random.Random(f"{seed} {fault}")
    of_serial = {
        serial: AtWork(seed * 10 + number, period_s=PERIOD_S, tau_s=0.02)
        for number, serial in enumerate(("K1", "K2"))
    }
    works = dict(zip(NAMES, of_serial.values(), strict=True))
    profile = load_profile("fixed-fields")
    simulated = {
        name: (SimulatedGauge(profile, Exchanged(works, name), noise_mm=0.0001, seed=seed), None)
        for name in NAMES
    }
    tally.tries += 1
    by_port = dice.random() < 0.5
    with (
        Bench(simulated) as bench,
        mock.patch("drivers.discovery.list_ports.comports") as listed,
    ):
        plugged = Plugged(bench, listed)
        gauges = [
            Gauge(f"DI-{n}", profile, bench.ports[name] if by_port else f"usb:1209:0001:K{n}")
            for n, name in enumerate(NAMES, 1)
        ]
        with Station(gauges) as station:
            _work(station, plugged, (fault, dice, works, of_serial), tally, f"{fault} {seed}")


def _work(station, plugged, how, tally, where):
    """Capture each rest of each gauge, while the cables are pulled twice."""
    fault, dice, works, of_serial = how
    begun_s = time.monotonic()
    pulls_s = sorted(dice.uniform(2.0, LASTS_S - 3.0) for _ in range(2))
    plug_in_s = None
    while (now_s := time.monotonic() - begun_s) < LASTS_S:
        if pulls_s and now_s >= pulls_s[0] and plug_in_s is None:
            pulls_s.pop(0)
            plugged.pull()
            plug_in_s = now_s + dice.uniform(0.2, 1.5)
        if plug_in_s is not None and now_s >= plug_in_s:
            plug_in_s = None
            if fault == "ports swapped":
                plugged.at(left=plugged.serials["right"], right=plugged.serials["left"])
                with plugged.bench.still():
                    works["left"], works["right"] = works["right"], works["left"]
            plugged.plug_in()
        station.next(0.02)
        for number in (1, 2):
            _capture(station, f"DI-{number}", of_serial[f"K{number}"], tally, where)


def _capture(station, label, own, tally, where):
    """Capture a new rest of a gauge; it must be of its own plunger."""
    session = station.session(label)
    if not session.is_new_rest:
        return
    captured = station.capture(label, "settled")
    if isinstance(captured, Refused):
        other = " is at " in captured.reason
        tally.refused["another adapter is at its port" if other else captured.reason] += 1
        return
    session.kept(captured[0])
    tally.kept += 1
    rest = captured[0].rest
    places = [own.place_mm(number) for number in range(-1, 60)]
    if min(abs(rest.value_mm - each) for each in places) > 0.001 + 5 * rest.u_mm:
        tally.faults.append(f"{where}: {rest.value_mm} mm is no place of {label}'s plunger")
