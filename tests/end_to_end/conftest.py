"""Simulated gauges on real ports, with everything above them; the only tests in real time."""

import pytest

from daq.calibration.entered import gauge_record
from daq.logbook import Logbook
from daq.measure.gauges import Gauge
from daq.measure.station import Station
from daq.spec import SimpleAcceptance, Spec
from drivers.profiles import load_profile
from simulated_devices import Bench
from tests.daq.calibration.invented import gauge
from tests.daq.jobs.fitter import BEGAN
from tests.daq.jobs.test_job import SHEET
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


@pytest.fixture
def place(tmp_path):
    """A sheet, a gauges file and a logbook in which one gauge was entered and never calibrated."""
    (tmp_path / "two.toml").write_bytes(SHEET)
    with Logbook.open(tmp_path / "a.logbook", at=BEGAN) as book:
        book.append(gauge_record(gauge(identity=None), "M. Ostby", BEGAN))
    bench = Bench({"one": (steady("decimal-line"), None), "two": (steady("decimal-line"), None)})
    with bench:
        lines = [
            f'[[gauges]]\nlabel = "{label}"\nprofile = "decimal-line"\nport = "{port}"\n'
            for label, port in (
                ("DI-7", bench.ports["one"]),
                ("DI-8", bench.ports["one"]),
                ("DI-9", bench.ports["two"]),
            )
        ]
        (tmp_path / "gauges.toml").write_text("\n".join(lines), encoding="utf-8")
        yield tmp_path
