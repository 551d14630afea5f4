"""Simulated gauges on real ports, with everything above them; the only tests in real time."""

import pytest

from daq.logbook import Logbook
from daq.measure.gauges import Gauge
from daq.measure.station import Station
from daq.spec import SimpleAcceptance, Spec
from drivers.profiles import load_profile
from simulated_devices import Bench
from tests.end_to_end.road import steady


@pytest.fixture
def spec():
    return Spec.of("height", nominal="12.30 mm", limits="± 0.05 mm", source="sheet 1")


@pytest.fixture
def bench_with():
    """Starts benches and stops them when the test ends."""
    started = []

    def start(profile, transport="pty", faults=None, **more):
        bench = Bench({"gauge": (steady(profile, **more), faults)}, transport)
        started.append(bench.__enter__())
        return bench

    yield start
    for bench in started:
        bench.__exit__(None, None, None)


@pytest.fixture
def station_at(spec, tmp_path):
    """Makes a station with a logbook for the gauge of a bench."""
    books = []

    def make(bench, profile):
        book = Logbook.open(tmp_path / "test.logbook")
        books.append(book)
        gauge = Gauge("G1", load_profile(profile), bench.ports["gauge"])
        return Station([gauge], spec, SimpleAcceptance(), book)

    yield make
    for book in books:
        book.close()
