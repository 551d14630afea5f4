"""Cables that change places: a value is kept for the gauge it came from, or not at all."""

import sys

import pytest

from daq.logbook import Logbook
from daq.measure.events import Captured, Refused
from daq.measure.gauges import Gauge
from daq.measure.station import Station
from drivers.profiles import load_profile
from simulated_devices import Bench
from tests.end_to_end.road import captures_in, steady, work_until
from tests.faults.machine.cables import Plugged

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminals")


class Swapping(Plugged):
    """Cables that are swapped while a station reads."""

    def swap(self, station, *labels, **serials):
        """Pull the cables and plug them in at each other's port."""
        self.pull()
        work_until(station, lambda: all(station.session(each).cable_out for each in labels))
        self.at(**serials)
        self.plug_in()
        work_until(station, lambda: all(station.session(each).rest for each in labels))


@pytest.fixture
def plugged(mocker):
    """There is no simulator for the system's list of USB devices, so the list is stood in for."""
    gauges = {
        "left": (steady("decimal-line", 1.0), None),
        "right": (steady("decimal-line", 2.0), None),
    }
    with Bench(gauges) as bench:
        yield Swapping(bench, mocker.patch("drivers.discovery.list_ports.comports"))


def test_a_gauge_named_by_its_port_is_doubted_when_another_adapter_is_there(plugged, tmp_path):
    gauge = Gauge("DI-1", load_profile("decimal-line"), plugged.bench.ports["left"])
    with Logbook.open(tmp_path / "a.logbook") as book, Station([gauge], logbook=book) as station:
        session = station.session("DI-1")
        work_until(station, lambda: session.rest)
        plugged.swap(station, "DI-1", left="K2", right="K1")
        refused = station.capture("DI-1", "key")
        assert isinstance(refused, Refused)
        assert "usb:1209:0001:K2 is at" in refused.reason
        assert "where usb:1209:0001:K1 was" in refused.reason

        plugged.swap(station, "DI-1", left="K1", right="K2")
        captured, _ = station.capture("DI-1", "key")
        assert isinstance(captured, Captured)

        plugged.swap(station, "DI-1", left="K2", right="K1")
        session.confirm()
        station.capture("DI-1", "key")
        plugged.swap(station, "DI-1", left="K2", right="K1")
        assert session.doubt == ""
        plugged.swap(station, "DI-1", left="K1", right="K2")
        assert "usb:1209:0001:K1 is at" in session.doubt
    identities = [each.gauge.identity for each in captures_in(tmp_path / "a.logbook")]
    assert identities == ["usb:1209:0001:K1", "usb:1209:0001:K2"]


def test_an_adapter_that_left_its_identity_behind_is_doubted(plugged):
    gauge = Gauge("DI-1", load_profile("decimal-line"), plugged.bench.ports["left"])
    with Station([gauge]) as station:
        work_until(station, lambda: station.session("DI-1").rest)
        plugged.swap(station, "DI-1", right="K1")
        assert "something without an identity is at" in station.session("DI-1").doubt


def test_gauges_named_by_their_adapters_are_followed_to_whatever_port_they_get(plugged):
    """The ports are swapped, or an adapter got another number: the value is that of the gauge."""
    profile = load_profile("decimal-line")
    gauges = [Gauge(f"DI-{n}", profile, f"usb:1209:0001:K{n}") for n in (1, 2)]
    with Station(gauges) as station:
        labels = ("DI-1", "DI-2")
        work_until(station, lambda: all(station.session(each).rest for each in labels))
        assert station.session("DI-1").rest.value_mm == pytest.approx(1.0)
        plugged.swap(station, *labels, left="K2", right="K1")
        assert [station.session(each).doubt for each in labels] == ["", ""]
        assert station.session("DI-1").rest.value_mm == pytest.approx(2.0)  # what is at K1 now
        assert station.session("DI-2").rest.value_mm == pytest.approx(1.0)
