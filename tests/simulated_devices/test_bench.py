"""Simulated gauges behind real ports: read as by any program, pulled and put back."""

import os
import select
import socket
import sys
import threading

import pytest

from drivers.profiles import load_profile
from simulated_devices import Bench, SimulatedGauge
from simulated_devices.motion import Still

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminals")
WIRE = b"+0012.340 mm\r\n"


def steady():
    return SimulatedGauge(load_profile("decimal-line"), Still(12.34))


def lines(read, count):
    """So many whole lines, read with an end to the waiting."""
    got = b""
    while got.count(b"\n") < count:
        piece = read()
        assert piece, "hung up"
        got += piece
    return got.splitlines(keepends=True)


def is_hung_up(port):
    """Whether reading ends: with nothing or an error, as it does when the cable is pulled."""
    try:
        while os.read(port, 4096):
            pass
    except OSError:
        pass
    return True


def test_a_pseudo_terminal_brings_whole_frames_under_a_name_that_stays():
    with Bench.single(steady()) as bench:
        port = os.open(bench.ports["gauge"], os.O_RDWR | os.O_NOCTTY)

        def read():
            assert select.select([port], [], [], 5.0)[0]
            return os.read(port, 4096)

        assert lines(read, 3)[1] == WIRE
        os.close(port)


def test_a_pulled_cable_is_a_hang_up_and_the_name_comes_back():
    with Bench.single(steady()) as bench:
        name = bench.ports["gauge"]
        port = os.open(name, os.O_RDWR | os.O_NOCTTY)
        bench.pull("gauge")
        assert not os.path.exists(name)
        assert is_hung_up(port)
        os.close(port)
        bench.plug_in("gauge")
        again = os.open(name, os.O_RDWR | os.O_NOCTTY)
        assert select.select([again], [], [], 5.0)[0]
        os.close(again)


def test_a_socket_brings_whole_frames_to_one_program_and_turns_a_second_away():
    with Bench.single(steady(), transport="tcp") as bench:
        host, port = bench.ports["gauge"].removeprefix("socket://").split(":")
        with socket.create_connection((host, int(port)), 5.0) as first:
            assert lines(lambda: first.recv(4096), 2)[-1] == WIRE
            with socket.create_connection((host, int(port)), 5.0) as second:
                second.settimeout(5.0)
                assert second.recv(4096) == b""
            assert lines(lambda: first.recv(4096), 1)[-1] == WIRE


def test_a_question_reaches_a_polled_gauge():
    gauge = SimulatedGauge(load_profile("numeric-query"), Still(12.34))
    with Bench.single(gauge, transport="tcp") as bench:
        host, port = bench.ports["gauge"].removeprefix("socket://").split(":")
        with socket.create_connection((host, int(port)), 5.0) as program:
            program.sendall(b"READ?\n")
            assert lines(lambda: program.recv(4096), 1) == [b"+1.23400000E-02\n"]


def test_with_nobody_reading_the_gauges_go_on():
    gauge = SimulatedGauge(load_profile("counts-sum"), Still(1.0))
    moved = threading.Event()
    before = gauge.advance

    def advance(dt_s):
        if gauge.t_s > 10:  # the system holds about a second of it
            moved.set()
        return before(dt_s)

    gauge.advance = advance
    with Bench({"gauge": (gauge, None)}, speed=50.0):
        assert moved.wait(20.0)


def test_a_stopped_bench_leaves_no_thread_and_no_descriptor():
    threads, descriptors = threading.active_count(), len(os.listdir("/proc/self/fd"))
    with Bench({"a": (steady(), None), "b": (steady(), None)}) as bench:
        names = list(bench.ports.values())
    assert threading.active_count() == threads
    assert len(os.listdir("/proc/self/fd")) == descriptors
    assert not any(os.path.exists(name) for name in names)
