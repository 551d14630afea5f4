"""One thread reads all ports, notices a pulled cable, and brings the port back by itself."""

import os
import socket
import sys
import threading
import tty

import pytest

from drivers.errors import PortBusyError, PortLostError, PortNotFoundError
from drivers.profile import SerialSettings
from drivers.reader import Arrived, Lost, Opened, Reader

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminals")
SETTINGS = SerialSettings()
WITHIN_S = 5.0


class Gauge:
    """The gauge's end of a pseudo-terminal, under a name that stays when it is plugged in again."""

    def __init__(self, path):
        self.path = path
        self.end = -1

    def plug_in(self):
        self.end, ours = os.openpty()
        tty.setraw(ours)
        self.path.symlink_to(os.ttyname(ours))
        os.close(ours)

    def pull(self):
        self.path.unlink(missing_ok=True)
        if self.end >= 0:
            os.close(self.end)
            self.end = -1

    def send(self, data):
        os.write(self.end, data)


@pytest.fixture
def gauges(tmp_path):
    """Three gauges, plugged in."""
    made = [Gauge(tmp_path / f"gauge-{n}") for n in range(3)]
    for gauge in made:
        gauge.plug_in()
    yield made
    for gauge in made:
        gauge.pull()


def expect(reader, kind, gauge):
    """The next happening of ``gauge`` of that kind."""
    while True:
        happening = reader.happenings.get(timeout=WITHIN_S)
        if isinstance(happening, kind) and happening.gauge == gauge:
            return happening


def test_each_arrival_carries_its_gauge_and_its_time(gauges):
    with Reader(clock=lambda: 42.0) as reader:
        for number, gauge in enumerate(gauges):
            reader.add(f"g{number}", str(gauge.path), SETTINGS)
        for number, gauge in enumerate(gauges):
            gauge.send(b"%d\r\n" % number)
        for number in range(3):
            assert expect(reader, Arrived, f"g{number}") == Arrived(
                f"g{number}", 42.0, b"%d\r\n" % number
            )


def test_a_pulled_cable_is_reported_and_the_port_comes_back_by_itself(gauges):
    with Reader() as reader:
        reader.add("g0", str(gauges[0].path), SETTINGS)
        expect(reader, Opened, "g0")
        gauges[0].pull()
        assert isinstance(expect(reader, Lost, "g0").error, PortLostError)
        gauges[0].plug_in()
        expect(reader, Opened, "g0")
        gauges[0].send(b"again\r\n")
        assert expect(reader, Arrived, "g0").data == b"again\r\n"


def test_a_pulled_cable_does_not_disturb_the_others(gauges):
    with Reader() as reader:
        for number, gauge in enumerate(gauges):
            reader.add(f"g{number}", str(gauge.path), SETTINGS)
        gauges[0].pull()
        expect(reader, Lost, "g0")
        gauges[1].send(b"here\r\n")
        assert expect(reader, Arrived, "g1").data == b"here\r\n"


def test_a_port_that_is_missing_is_an_error_or_waited_for(gauges):
    with Reader() as reader:
        gauges[0].pull()
        with pytest.raises(PortNotFoundError):
            reader.add("g0", str(gauges[0].path), SETTINGS)
        reader.add("g0", str(gauges[0].path), SETTINGS, wait=True)
        expect(reader, Lost, "g0")
        gauges[0].plug_in()
        expect(reader, Opened, "g0")


def test_the_port_is_looked_for_anew_at_each_reopening(gauges):
    """An adapter that is plugged in again may have got another name."""
    places = iter([str(gauges[0].path), str(gauges[1].path)])
    with Reader() as reader:
        reader.add("g", lambda: next(places), SETTINGS)
        gauges[0].pull()
        expect(reader, Lost, "g")
        assert expect(reader, Opened, "g").port == str(gauges[1].path)


def test_two_readers_cannot_hold_one_port(gauges):
    with Reader() as first, Reader() as second:
        first.add("g", str(gauges[0].path), SETTINGS)
        with pytest.raises(PortBusyError):
            second.add("g", str(gauges[0].path), SETTINGS)


def test_a_question_is_sent_and_one_to_a_lost_gauge_is_dropped(gauges):
    with Reader() as reader:
        reader.add("g0", str(gauges[0].path), SETTINGS)
        reader.send("g0", b"READ?\n")
        assert os.read(gauges[0].end, 64) == b"READ?\n"
        gauges[0].pull()
        expect(reader, Lost, "g0")
        reader.send("g0", b"OLD?\n")
        gauges[0].plug_in()
        expect(reader, Opened, "g0")
        reader.send("g0", b"NEW?\n")
        assert os.read(gauges[0].end, 64) == b"NEW?\n"


def test_a_port_without_a_descriptor_is_read_too():
    with Reader() as reader:
        reader.add("loop", "loop://", SETTINGS)
        reader.send("loop", b"echo")
        assert expect(reader, Arrived, "loop").data == b"echo"


def test_a_socket_that_closes_is_opened_again():
    with socket.create_server(("127.0.0.1", 0)) as server, Reader() as reader:
        reader.add("g", f"socket://127.0.0.1:{server.getsockname()[1]}", SETTINGS)
        gauge, _ = server.accept()
        gauge.sendall(b"one\r\n")
        assert expect(reader, Arrived, "g").data == b"one\r\n"
        gauge.close()
        expect(reader, Lost, "g")
        gauge, _ = server.accept()
        expect(reader, Opened, "g")
        gauge.sendall(b"two\r\n")
        assert expect(reader, Arrived, "g").data == b"two\r\n"
        gauge.close()


def test_closing_leaves_no_thread_and_no_descriptor_behind(gauges):
    threads = threading.active_count()
    descriptors = len(os.listdir("/proc/self/fd")) if os.path.isdir("/proc/self/fd") else 0
    with Reader() as reader:
        for number, gauge in enumerate(gauges):
            reader.add(f"g{number}", str(gauge.path), SETTINGS)
        reader.add("loop", "loop://", SETTINGS)
    reader.close()
    assert threading.active_count() == threads
    if descriptors:
        assert len(os.listdir("/proc/self/fd")) == descriptors
