"""A bench is started, stopped, stops by itself, and tells what went wrong in it; in real time."""

import os
import select
import sys
import threading
import time

import pytest

from drivers.profiles import load_profile
from simulated_devices import Bench, BenchError, SimulatedGauge, WireFaults, load_scenario
from tests.simulated_devices.gauge_tools import WITHIN_S, gauge_at, until

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminals")

FRAME = b"+0012.345 mm\r\n"


@pytest.fixture
def opened():
    """Opens a port as a program does; all are closed when the test ends."""
    ports = []

    def open_port(name):
        ports.append(os.open(name, os.O_RDWR | os.O_NOCTTY | os.O_NONBLOCK))
        return ports[-1]

    yield open_port
    for port in ports:
        os.close(port)


def read_until(port, enough):
    """What comes until ``enough(bytes)``."""
    got = b""
    end_s = time.monotonic() + WITHIN_S
    while not enough(got):
        left_s = end_s - time.monotonic()
        assert left_s > 0, f"not enough within {WITHIN_S} s: {got!r}"
        if select.select([port], [], [], left_s)[0]:
            piece = os.read(port, 4096)
            assert piece, f"hung up after {got!r}"
            got += piece
    return got


def hangs_up(port):
    """Whether the port's end comes: nothing to read, or an error."""

    def ended():
        try:
            return select.select([port], [], [], 0.0)[0] and not os.read(port, 4096)
        except BlockingIOError:
            return False
        except OSError:
            return True

    return until(ended)


def test_a_bench_runs_between_start_and_stop(opened):
    bench = Bench.single(gauge_at(12.345))
    assert not bench.running
    bench.start()
    assert bench.running
    assert not bench.wait(0.01)
    port = opened(bench.ports["gauge"])
    read_until(port, lambda got: FRAME in got)
    bench.stop()
    bench.stop()
    assert not bench.running
    assert hangs_up(port)


def test_a_bench_is_started_once():
    with Bench.single("decimal-line") as bench, pytest.raises(BenchError, match="Make a new one"):
        bench.start()
    with pytest.raises(BenchError, match="Make a new one"):
        bench.start()
    with pytest.raises(BenchError, match="has stopped"):
        bench.plug_in("gauge")


def test_it_stops_by_itself_and_its_readers_see_a_hang_up(opened):
    threads, descriptors = threading.active_count(), len(os.listdir("/dev/fd"))
    bench = Bench({"gauge": (gauge_at(12.345), None)}, run_s=1.0)
    bench.start()
    name = bench.ports["gauge"]
    port = opened(name)
    assert bench.wait(WITHIN_S)
    assert hangs_up(port)
    assert not os.path.lexists(name)
    assert threading.active_count() == threads
    assert len(os.listdir("/dev/fd")) == descriptors + 1  # the one that this test holds open
    bench.stop()


def test_a_profile_s_name_is_enough_for_a_gauge_at_zero(opened, tmp_path):
    with Bench.single("decimal-line", name="depth-1", folder=tmp_path / "ports") as bench:
        assert bench.ports == {"depth-1": str(tmp_path / "ports" / "depth-1")}
        got = read_until(opened(bench.ports["depth-1"]), lambda got: got.count(b"\n") >= 2)
        assert b"+0000.000 mm\r\n" in got
    with Bench.single(load_profile("counts-sum")) as bench:
        assert bench.gauge("gauge").profile.name == "counts-sum"


@pytest.mark.parametrize("transport", ["pty", "tcp"])
def test_a_scenario_s_gauges_are_on_its_bench_for_as_long_as_asked(transport):
    with Bench.from_scenario(load_scenario("every-layout"), transport, run_s=0.2) as bench:
        assert len(bench.ports) == 8
        until(lambda: bench.gauge("counts-sum").t_s > 0)
        assert bench.wait(WITHIN_S)


def test_a_question_on_a_terminal_is_answered_and_not_echoed(opened):
    """A cooked terminal would send the question back, and turn its line end over."""
    with Bench.single(gauge_at(12.34, "numeric-query")) as bench:
        port = opened(bench.ports["gauge"])
        os.write(port, b"RE")
        os.write(port, b"AD?\n")
        assert read_until(port, lambda got: b"\n" in got) == b"+1.23400000E-02\n"


def test_a_key_pressed_on_the_bench_sends_through_the_gauge_s_wire(opened):
    gauges = {
        "good": (gauge_at(12.34, "marked-xor"), None),
        "doubles": (gauge_at(12.34, "marked-xor"), WireFaults(double=1.0)),
    }
    with Bench(gauges) as bench:
        good, doubles = opened(bench.ports["good"]), opened(bench.ports["doubles"])
        bench.press("good", "data")
        bench.press("doubles", "data")
        frame = read_until(good, lambda got: len(got) >= 13)
        assert frame == load_profile("marked-xor").samples[0].wire
        twice = read_until(doubles, lambda got: len(got) >= 26)
        assert twice == bytes(byte for byte in frame for _ in range(2))
        bench.press("good", "preset", 1.5)
        assert str(bench.gauge("good").shown().value) == "1.50"


def test_speed_makes_the_gauges_time_run_faster():
    begun_s = time.monotonic()
    with Bench({"gauge": (gauge_at(1.0), None)}, speed=200.0) as bench:
        until(lambda: bench.gauge("gauge").t_s >= 60.0)
        assert time.monotonic() - begun_s >= 60.0 / 200.0


def test_after_the_computer_slept_the_gauges_do_not_make_up_for_it(monkeypatch):
    """A clock that jumps by an hour stands for a lid that was closed."""
    slept_s, clock = [0.0], time.monotonic
    monkeypatch.setattr("simulated_devices.bench.time.monotonic", lambda: clock() + slept_s[0])
    with Bench.single(gauge_at(1.0)) as bench:
        gauge = bench.gauge("gauge")
        until(lambda: gauge.t_s > 0)
        with bench.still():
            before_s = gauge.t_s
            slept_s[0] = 3600.0
        end_s = clock() + WITHIN_S
        while gauge.t_s < before_s + 1.0:
            assert clock() < end_s
            select.select([], [], [], 0.005)
        assert gauge.t_s < before_s + WITHIN_S + 2.0


class BrokenMotion:
    """A motion with a mistake in it."""

    def at(self, t_s):
        if t_s > 0.05:
            raise ZeroDivisionError("a mistake in a motion")
        return 0.0


def test_a_mistake_in_a_gauge_is_raised_by_stop_and_pulls_the_cables(opened):
    bench = Bench.single(SimulatedGauge(load_profile("counts-sum"), BrokenMotion()))
    bench.start()
    port = opened(bench.ports["gauge"])
    assert bench.wait(WITHIN_S)
    assert hangs_up(port)
    with pytest.raises(ZeroDivisionError, match="a mistake in a motion"):
        bench.stop()
    bench.stop()


@pytest.mark.parametrize("number", [0.0, -1.0, float("inf"), float("nan")])
def test_a_speed_or_time_that_makes_no_sense_is_refused(number):
    with pytest.raises(BenchError, match="above zero"):
        Bench({}, speed=number)
    with pytest.raises(BenchError, match="above zero"):
        Bench({}, run_s=number)


def test_a_gauge_that_is_not_on_the_bench_is_refused_by_name():
    bench = Bench({"a": (gauge_at(1.0), None), "b": (gauge_at(1.0), None)})
    for do in (bench.gauge, bench.pull, bench.plug_in, lambda name: bench.press(name, "zero")):
        with pytest.raises(BenchError, match=r"no gauge 'c' on this bench. Known: a, b\."):
            do("c")
    with pytest.raises(BenchError, match="was not started"):
        bench.pull("a")
