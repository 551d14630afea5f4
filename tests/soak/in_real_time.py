"""Many gauges on real ports in real time, their rests captured into a logbook, for many minutes."""

import time
from collections import Counter
from dataclasses import dataclass, field

from daq.logbook import Logbook, verify
from daq.measure.events import Refused
from daq.measure.gauges import Gauge
from daq.measure.station import Station
from drivers.reader import Arrived
from drivers.reading import BadFrame, NoNumber, Reading
from simulated_devices import Bench, SimulatedGauge
from tests.faults.campaign import PROFILES
from tests.soak.measured import Held
from tests.soak.motion import AtWork

QUIET_S = 0.3
"""With the gauges still, all that was sent has arrived after this long without a byte."""

OPENED_WITHIN_S = 20.0


@dataclass
class Result:
    """What came of it; bytes and frames by gauge, from when all ports were open."""

    sent: Counter = field(default_factory=Counter)
    received: Counter = field(default_factory=Counter)
    frames: int = 0
    bad: int = 0
    captured: int = 0
    refused: Counter = field(default_factory=Counter)
    kept: int = 0
    problems: tuple = ()
    held: list = field(default_factory=list)


class Metered:
    """A good wire that counts what passes."""

    def __init__(self, name, sent):
        self._name, self._sent = name, sent

    def through(self, data):
        self._sent[self._name] += len(data)
        return data


def run(minutes, gauges, path, looks=41):
    """So many gauges, of all profiles in turn, for so many minutes; captures go to ``path``."""
    result = Result()
    chosen = {f"G{number}": PROFILES[number % len(PROFILES)] for number in range(gauges)}
    simulated = {
        label: (
            SimulatedGauge(profile, AtWork(number), noise_mm=0.0002, seed=number),
            Metered(label, result.sent),
        )
        for number, (label, profile) in enumerate(chosen.items())
    }

    def count(happening):
        if isinstance(happening, Arrived):
            result.received[happening.gauge] += len(happening.data)

    with Bench(simulated) as bench, Logbook.open(path) as book:
        served = [Gauge(label, profile, bench.ports[label]) for label, profile in chosen.items()]
        with Station(served, logbook=book, record=count) as station:
            _until_open(station, chosen)
            with bench.still():
                _hear_out(station, result)
                result.sent.clear()
                result.received.clear()
            _work(station, chosen, minutes * 60, result, looks)
            with bench.still():
                _hear_out(station, result)
                result.sent = Counter(result.sent)  # what they send after that is not heard
    report = verify(path)
    result.kept, result.problems = report.records - 1, report.problems
    return result


def _until_open(station, labels):
    end_s = time.monotonic() + OPENED_WITHIN_S
    while not all(station.port(label) for label in labels):
        assert time.monotonic() < end_s, "the ports did not open"
        station.next(0.05)


def _hear_out(station, result):
    """Take what is under way while no gauge sends."""
    end_s = time.monotonic() + QUIET_S
    while time.monotonic() < end_s:
        before = result.received.total()
        station.next(0.05)
        if result.received.total() != before:
            end_s = time.monotonic() + QUIET_S


def _work(station, labels, lasts_s, result, looks):
    begun_s = time.monotonic()
    look_s = 0.0
    while (now_s := time.monotonic() - begun_s) < lasts_s:
        if now_s >= look_s:
            result.held.append(Held.now(now_s))
            look_s += lasts_s / (looks - 1)
        for _, event in station.next(0.05):
            result.frames += isinstance(event, Reading | NoNumber)
            result.bad += isinstance(event, BadFrame)
        for label in labels:
            if station.session(label).is_new_rest:
                _capture(station, label, result)
    result.held.append(Held.now(now_s))


def _capture(station, label, result):
    captured = station.capture(label, "settled")
    if isinstance(captured, Refused):
        result.refused[captured.reason] += 1
    else:
        result.captured += 1
