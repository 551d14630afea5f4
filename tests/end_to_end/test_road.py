"""From bytes on a real port to a record on the disk, however a gauge sends, accidents included."""

import sys
import threading

import pytest

from daq.logbook import Logbook
from daq.measure.events import AtRest, Captured, Refused
from daq.measure.gauges import Gauge
from daq.measure.station import CableIn, CableOut, Station
from daq.spec import SimpleAcceptance
from drivers.errors import PortBusyError
from drivers.profiles import builtin_names, load_profile
from drivers.reader import Reader
from drivers.reading import BadFrame, Reading, Unit
from simulated_devices import Bench, Press, WireFaults, as_read_at
from tests.end_to_end.road import captures_in, steady, work_until

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminals")
WAYS = [name for name in builtin_names() if name != "marked-xor"]


@pytest.mark.parametrize("transport", ["pty", "tcp"])
def test_gauges_that_stream_or_are_asked_come_to_rest_side_by_side_and_are_kept(
    spec, tmp_path, transport
):
    gauges = {name: (steady(name), None) for name in WAYS}
    with (
        Bench(gauges, transport) as bench,
        Logbook.open(tmp_path / "test.logbook") as book,
        Station(
            [Gauge(name, load_profile(name), bench.ports[name]) for name in WAYS],
            spec,
            SimpleAcceptance(),
            book,
        ) as station,
    ):
        work_until(station, lambda: all(station.session(name).rest for name in WAYS))
        for name in WAYS:
            captured, _ = station.capture(name, "settled")
            assert captured.rest.value_mm == pytest.approx(12.34, abs=1e-9)
    records = captures_in(tmp_path / "test.logbook")
    assert [r.gauge.profile for r in records] == WAYS
    for record in records:
        assert float(record.value_mm) == pytest.approx(12.34, abs=1e-6)
        assert record.verdict.outcome == "in"
        assert len(record.frames) == min(record.span_readings, 500) > 3


@pytest.mark.parametrize("transport", ["pty", "tcp"])
def test_a_press_of_the_data_key_is_kept(bench_with, station_at, tmp_path, transport):
    bench = bench_with("marked-xor", transport)
    with station_at(bench, "marked-xor") as station:
        # Out of step until a silence has been heard: the first press after opening counts.
        work_until(station, lambda: station.port("G1"))
        quiet = threading.Timer(0.4, lambda: bench.send("gauge", _press(bench)))
        quiet.start()
        work_until(station, lambda: station.session("G1").rest is not None)
        captured, _ = station.capture("G1", "data key")
        quiet.join()
    assert captured.rest.n == 1
    (record,) = captures_in(tmp_path / "test.logbook")
    assert str(record.value_mm) == "12.340000"
    assert record.trigger == "data key"
    assert not record.rest_seen


def _press(bench):
    with bench.still():
        return bench.gauge("gauge").press("data")


def test_a_cable_pulled_in_the_middle_of_a_capture_and_put_back_loses_nothing(
    bench_with, station_at, tmp_path
):
    bench = bench_with("decimal-line")
    with station_at(bench, "decimal-line") as station:
        session = station.session("G1")
        work_until(station, lambda: session.rest is not None)
        station.capture("G1", "key")
        bench.pull("gauge")
        events = work_until(station, lambda: session.cable_out)
        assert any(isinstance(event, CableOut) for event in events)
        refused = station.capture("G1", "key")
        assert isinstance(refused, Refused)
        assert "cable is out" in refused.reason
        bench.plug_in("gauge")
        events = work_until(station, lambda: session.rest is not None)
        assert any(isinstance(event, CableIn) for event in events)
        station.capture("G1", "key")
    records = captures_in(tmp_path / "test.logbook")
    assert [float(r.value_mm) for r in records] == pytest.approx([12.34, 12.34])
    assert records[1].since_s > records[0].until_s


def test_a_second_program_on_the_port_is_refused_and_the_first_goes_on(bench_with, station_at):
    bench = bench_with("decimal-line")
    with station_at(bench, "decimal-line") as station:
        work_until(station, lambda: station.session("G1").reading is not None)
        with Reader() as second, pytest.raises(PortBusyError, match="Another program holds"):
            second.add("G1", bench.ports["gauge"], station.session("G1").profile.serial)
        events = work_until(station, lambda: station.session("G1").rest is not None)
    assert not any(isinstance(event, BadFrame) for event in events)


@pytest.mark.parametrize("profile", ["decimal-line", "packed-digits", "counts-sum"])
def test_a_gauge_read_by_the_wrong_profile_gives_no_value(bench_with, station_at, profile):
    """Bytes of another layout, as from a wrong profile or a wrong speed, are no readings."""
    other = "counts-sum" if profile != "counts-sum" else "decimal-line"
    bench = bench_with(other, at_mm=12.34)
    with station_at(bench, profile) as station:
        session = station.session("G1")
        events = work_until(station, lambda: session.is_babble)
        assert not any(isinstance(event, Reading | AtRest) for event in events)
        assert isinstance(station.capture("G1", "key"), Refused)


class SentAt:
    """A pseudo-terminal has no speed, so the gauge's bytes are made what a wrong one makes them."""

    def __init__(self, sent_baud, read_baud):
        self.bauds = sent_baud, read_baud

    def through(self, data):
        return as_read_at(data, *self.bauds)


@pytest.mark.parametrize("sent_baud", [4800, 19200, 38400])
def test_a_gauge_at_another_speed_gives_no_value(bench_with, station_at, sent_baud):
    bench = bench_with("decimal-line", faults=SentAt(sent_baud, 9600))
    with station_at(bench, "decimal-line") as station:
        session = station.session("G1")
        events = work_until(station, lambda: session.is_babble)
        assert not any(isinstance(event, Reading | AtRest) for event in events)
        assert isinstance(station.capture("G1", "key"), Refused)


def test_a_unit_key_pressed_in_the_middle_gives_no_wrong_value(bench_with, station_at, tmp_path):
    bench = bench_with("decimal-line", presses=(Press(2.5, "unit"),))
    with station_at(bench, "decimal-line") as station:
        session = station.session("G1")
        work_until(station, lambda: session.rest is not None)
        station.capture("G1", "key")
        work_until(station, lambda: session.reading.unit is Unit.INCH)
        work_until(station, lambda: session.rest is not None)
        refused = station.capture("G1", "key")
        assert isinstance(refused, Refused)
        assert "changed from mm to in" in refused.reason
        session.confirm()
        station.capture("G1", "key")
    values = [float(r.value_mm) for r in captures_in(tmp_path / "test.logbook")]
    # The inch display's step is 0.00127 mm, so the second value is the first to half of that.
    assert values == pytest.approx([12.34, 12.34], abs=0.00064)


def test_a_rough_wire_puts_no_wrong_value_into_the_logbook(bench_with, station_at, tmp_path):
    """A 16-bit CRC lets about one damaged frame in 65,536 through; none of these few thousand."""
    faults = WireFaults(drop=0.01, flip=0.01, double=0.01, garbage=0.003, cut=0.002, seed=4)
    bench = bench_with("marked-crc", faults=faults)
    with station_at(bench, "marked-crc") as station:
        session = station.session("G1")
        captured = []

        def keep():
            if session.is_new_rest:
                result = station.capture("G1", "settled")
                captured.extend([result] if not isinstance(result, Refused) else [])
            return session.bad_frames > 40 and len(captured) >= 1

        events = work_until(station, keep)
    assert {str(e.value) for e in events if isinstance(e, Reading)} == {"12.3400"}
    assert all(isinstance(c, Captured) for c, _ in captured)
    assert {float(r.value_mm) for r in captures_in(tmp_path / "test.logbook")} == {12.34}
