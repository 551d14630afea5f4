"""Simulated gauges behind real ports, read as any program would: the few tests in real time."""

import contextlib
import select
import socket
import sys
import time

import pytest

from drivers.profiles import load_profile
from simulated_devices import Bench, BenchError, SimulatedGauge, WireFaults
from simulated_devices.motion import Still
from simulated_devices.ports import PtyPort, TcpPort
from tests.simulated_devices.gauge_tools import (
    WITHIN_S,
    Program,
    events_of,
    gauge_at,
    readings,
    until,
)

pytestmark = [
    pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminals"),
    pytest.mark.usefixtures("nothing_left_behind"),
]
WAYS = ["pty", "tcp"]


@pytest.mark.parametrize("way", WAYS)
def test_what_comes_over_a_port_is_what_the_gauge_sends_byte_for_byte(way):
    gauge = gauge_at(12.34, noise_mm=0.01, seed=3)
    with Bench.single(gauge, transport=way) as bench, Program(bench.ports["gauge"]) as program:
        got = program.read_until(lambda got: got.count(b"\n") >= 4)
    sent = gauge_at(12.34, noise_mm=0.01, seed=3).advance(60.0)
    assert got in sent
    if way == "pty":  # a terminal keeps what came before it was opened
        assert sent.startswith(got)


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("name", ["numeric-query", "modbus-registers"])
def test_a_gauge_answers_what_a_program_asks(way, name):
    profile = load_profile(name)
    answer = profile.samples[0].wire
    gauge = SimulatedGauge(profile, Still(12.3456))
    with Bench.single(gauge, transport=way) as bench, Program(bench.ports["gauge"]) as program:
        for _ in range(2):
            program.write(profile.request)
            assert program.read_until(lambda got: len(got) >= len(answer)) == answer


@pytest.mark.parametrize("way", WAYS)
def test_several_gauges_each_have_a_port_of_their_own(way):
    gauges = {name: (gauge_at(at), None) for name, at in (("left", 1.5), ("right", -2.5))}
    with Bench(gauges, way) as bench:
        for name, number in (("left", b"+0001.500"), ("right", b"-0002.500")):
            with Program(bench.ports[name]) as program:
                got = program.read_until(lambda got: got.count(b"\n") >= 2)
                assert set(got.split(b" mm\r\n")[:-1]) == {number}


@pytest.mark.parametrize("way", WAYS)
def test_a_bench_that_is_stopped_hangs_up_and_leaves_no_name(way):
    with contextlib.ExitStack() as stack:
        with Bench.single(gauge_at(1.0), transport=way) as bench:
            address = bench.ports["gauge"]
            program = stack.enter_context(Program(address))
            program.read()
        assert program.hears_the_end()
        with pytest.raises(OSError, match=r"."):
            Program(address)


@pytest.mark.parametrize("way", WAYS)
def test_a_pulled_cable_is_a_hang_up_and_the_port_comes_back_under_its_name(way):
    with Bench.single(gauge_at(1.0), transport=way) as bench:
        address = bench.ports["gauge"]
        with Program(address) as program:
            program.read()
            bench.pull("gauge")
            assert program.hears_the_end()
            with pytest.raises(OSError, match=r"."):
                Program(address)
            bench.pull("gauge")  # it is out already
            bench.plug_in("gauge")
            bench.plug_in("gauge")  # it is in already
            # The old program still has its dead port open; another one gets the new one.
            with Program(address) as again:
                assert b"+0001.000 mm\r\n" in again.read_until(lambda got: got.count(b"\n") >= 2)
    assert bench.ports["gauge"] == address


def test_a_gauge_goes_on_while_its_cable_is_out():
    with Bench.single(gauge_at(1.0)) as bench:
        bench.pull("gauge")
        before_s = bench.gauge("gauge").t_s
        until(lambda: bench.gauge("gauge").t_s > before_s + 0.05)


def test_on_tcp_a_second_program_is_turned_away_until_the_first_has_gone():
    with Bench.single(gauge_at(1.0), transport="tcp") as bench:
        with Program(bench.ports["gauge"]) as first:
            first.read()
            with Program(bench.ports["gauge"]) as second:
                assert second.read() == b""
            assert first.read() != b""

        def served():
            with Program(bench.ports["gauge"]) as third:
                return third.read() != b""

        until(served)


def test_a_program_that_closes_in_anger_does_not_stop_the_bench():
    """A reset instead of an end: the socket is closed with bytes unread and no lingering."""
    with Bench.single(gauge_at(1.0, "counts-sum"), transport="tcp") as bench:
        host, _, number = bench.ports["gauge"].removeprefix("socket://").rpartition(":")
        with socket.create_connection((host, int(number)), WITHIN_S) as rude:
            assert rude.recv(10)
            rude.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, b"\x01\0\0\0\0\0\0\0")

        def served():
            with Program(bench.ports["gauge"]) as next_one:
                return next_one.read() != b""

        until(served)


def test_a_gauge_that_says_nothing_notices_too_when_its_program_goes():
    """Nothing is written to it, so only reading tells."""
    gauge = gauge_at(12.34, "marked-xor")
    with Bench.single(gauge, transport="tcp") as bench:
        for _ in range(3):
            with Program(bench.ports["gauge"]) as program:
                bench.send("gauge", b"hello")
                assert program.read() == b"hello"
            gone_s = gauge.t_s
            until(lambda gone_s=gone_s: gauge.t_s > gone_s + 0.05)


def test_a_port_that_only_writes_notices_too_when_its_program_goes():
    port = TcpPort()
    for _ in range(2):
        with Program(port.address) as program:
            port.write(b"hello")
            assert program.read() == b"hello"
            port.write(b"left unread: this makes the end a reset")
        for _ in range(3):
            port.write(b"into the void")
            select.select([], [], [], 0.01)
    port.pull()


@pytest.mark.parametrize("way", WAYS)
def test_with_nobody_reading_no_gauge_ever_waits(way):
    """A minute of 4000 bytes a second is far more than a terminal holds."""
    gauges = {"mute": (gauge_at(1.0, "counts-sum"), None), "other": (gauge_at(2.0), None)}
    with Bench(gauges, way, speed=100.0) as bench, Program(bench.ports["mute"]):
        until(lambda: bench.gauge("mute").t_s > 60)
        with Program(bench.ports["other"]) as program:
            assert b"+0002.000 mm\r\n" in program.read_until(lambda got: got.count(b"\n") >= 2)


def test_a_full_terminal_refuses_bytes_at_once(tmp_path):
    port = PtyPort(tmp_path / "gauge")
    port.plug_in()
    begin_s = time.monotonic()
    for _ in range(2000):
        port.write(b"x" * 1000)
    took_s = time.monotonic() - begin_s
    with Program(port.address) as program:
        kept = len(program.read())
    port.pull()
    assert took_s < 2.0
    assert 1000 <= kept <= 65536


def test_what_a_terminal_gets_is_not_sent_back_to_it():
    """A cooked terminal would echo; the gauge's own bytes would come back as questions."""
    with Bench.single(gauge_at(1.0, "numeric-query")) as bench:
        bench.send("gauge", b"READ?\n")
        with Program(bench.ports["gauge"]) as program:
            assert program.read_until(lambda got: got.endswith(b"\n")) == b"READ?\n"
            program.write(b"READ?\n")
            answer = program.read_until(lambda got: got.endswith(b"\n"))
    assert answer == b"+1.00000000E-03\n"


def test_bytes_of_all_values_go_through_a_terminal_unchanged():
    every = bytes(range(256))
    with Bench.single(gauge_at(1.0, "marked-xor")) as bench, Program(bench.ports["gauge"]) as port:
        bench.send("gauge", every)
        assert port.read_until(lambda got: len(got) >= 256) == every


def test_keys_are_pressed_while_everything_stands_still():
    gauge = gauge_at(12.34, "marked-xor")
    with Bench.single(gauge) as bench, Program(bench.ports["gauge"]) as program:
        with bench.still():
            at_s, frame = gauge.t_s, gauge.press("data")
            bench.send("gauge", frame)
            select.select([], [], [], 0.05)
            assert gauge.t_s == at_s
        assert program.read_until(lambda got: len(got) >= len(frame)) == frame
        until(lambda: gauge.t_s > at_s)


def test_the_faults_of_a_wire_are_its_own():
    gauges = {"bad": (gauge_at(1.0), WireFaults(double=1.0)), "good": (gauge_at(1.0), None)}
    with (
        Bench(gauges) as bench,
        Program(bench.ports["bad"]) as bad,
        Program(bench.ports["good"]) as good,
    ):
        assert bad.read_until(lambda got: len(got) >= 8).startswith(b"++000000")
        assert good.read_until(lambda got: len(got) >= 8).startswith(b"+0001.00")


def test_what_a_stutter_holds_back_comes_without_another_frame():
    wire = WireFaults(stutter=1.0)
    gauge = gauge_at(12.34, "marked-xor")
    with Bench({"gauge": (gauge, wire)}) as bench, Program(bench.ports["gauge"]) as program:
        with bench.still():
            frame = wire.through(gauge.press("data"))
        assert frame == b""
        assert len(program.read_until(lambda got: got[-3:-2] == b"\x03")) == 13


def test_a_faster_bench_has_more_seconds_in_a_second():
    with Bench.single(gauge_at(1.0)) as bench:
        begin_s, at_s = time.monotonic(), bench.gauge("gauge").t_s
        until(lambda: bench.gauge("gauge").t_s > at_s + 0.2)
        took_s = time.monotonic() - begin_s
    with Bench({"gauge": (gauge_at(1.0), None)}, speed=100.0) as bench:
        begin_s, at_s = time.monotonic(), bench.gauge("gauge").t_s
        until(lambda: bench.gauge("gauge").t_s > at_s + 20.0)
        fast_s = time.monotonic() - begin_s
    assert took_s > 0.18
    assert 0.18 < fast_s < 100 * took_s


def test_readings_over_a_port_are_readings():
    gauge = gauge_at(12.345, "packed-digits")
    with Bench.single(gauge) as bench, Program(bench.ports["gauge"]) as program:
        got = program.read_until(lambda got: len(got) >= 18)
    values = {str(reading.value) for reading in readings(events_of(gauge.profile, [got]))}
    assert values == {"12.345"}


def test_a_number_that_another_program_took_while_the_cable_was_out_is_told():
    with Bench.single(gauge_at(1.0), transport="tcp") as bench:
        number = int(bench.ports["gauge"].rpartition(":")[2])
        bench.pull("gauge")
        taken = pytest.raises(BenchError, match=f"TCP port {number} cannot be opened")
        with socket.create_server(("127.0.0.1", number)), taken:
            bench.plug_in("gauge")
        bench.plug_in("gauge")
        with Program(bench.ports["gauge"]) as program:
            assert program.read()


def test_a_bench_that_never_runs_leaves_nothing_and_complains_of_nothing():
    Bench.single(gauge_at(1.0))
    Bench.single(gauge_at(1.0), transport="tcp")
