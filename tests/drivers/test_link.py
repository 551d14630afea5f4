"""Ports: everything that can go wrong with one becomes an error of ours that says what to do."""

import gc
import os
import re
import select
import socket
import sys
import threading
import tty
from contextlib import contextmanager, suppress

import pytest
import serial
import serial.rfc2217

from drivers.errors import (
    PortBusyError,
    PortDeniedError,
    PortError,
    PortLostError,
    PortNotFoundError,
    PortUnusableError,
)
from drivers.link import Link
from drivers.profile import SerialSettings

posix = pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminals")
SETTINGS = SerialSettings()


@contextmanager
def terminal():
    """A pseudo-terminal: the gauge's end, and the name of the other one."""
    gauge_end, our_end = os.openpty()
    tty.setraw(our_end)
    name = os.ttyname(our_end)
    os.close(our_end)
    try:
        yield gauge_end, name
    finally:
        with suppress(OSError):  # the test may have pulled the cable
            os.close(gauge_end)


def read_soon(link):
    """What arrives within two seconds."""
    assert select.select([link.fileno()], [], [], 2.0)[0], "nothing arrived"
    return link.read()


def read_until_lost(link):
    """A closed socket may still give what was sent before it closed."""
    for _ in range(100):
        read_soon(link) if link.fileno() is not None else link.read()


@posix
def test_what_the_gauge_sends_is_read_and_an_empty_port_gives_nothing():
    with terminal() as (gauge, name):
        link = Link(name, SETTINGS)
        assert link.read() == b""
        os.write(gauge, b"+0012.345 mm\r\n")
        assert read_soon(link) == b"+0012.345 mm\r\n"
        assert link.read() == b""
        link.close()


@posix
def test_what_was_sent_before_opening_is_thrown_away():
    gauge, ours = os.openpty()
    tty.setraw(ours)
    os.write(gauge, b"old")
    link = Link(os.ttyname(ours), SETTINGS)
    assert link.read() == b""
    os.write(gauge, b"new")
    assert read_soon(link) == b"new"
    link.close()
    os.close(gauge)
    os.close(ours)


@posix
def test_a_question_reaches_the_gauge():
    with terminal() as (gauge, name):
        link = Link(name, SETTINGS)
        link.write(b"READ?\n")
        assert select.select([gauge], [], [], 2.0)[0]
        assert os.read(gauge, 64) == b"READ?\n"
        link.close()


@posix
def test_a_pulled_cable_is_a_port_lost_on_reading_and_on_writing():
    with terminal() as (gauge, name):
        link = Link(name, SETTINGS)
        os.close(gauge)
        with pytest.raises(PortLostError, match="went away while in use"):
            read_soon(link)
        with pytest.raises(PortLostError):
            link.write(b"READ?\n")
        link.close()
        link.close()


@posix
def test_a_second_program_is_refused_and_the_first_goes_on():
    with terminal() as (gauge, name):
        first = Link(name, SETTINGS)
        with pytest.raises(PortBusyError, match="Another program holds"):
            Link(name, SETTINGS)
        os.write(gauge, b"still here\r\n")
        assert read_soon(first) == b"still here\r\n"
        first.close()
        Link(name, SETTINGS).close()


def test_a_port_that_is_not_there_says_so():
    with pytest.raises(PortNotFoundError, match=r"There is no port .* Plug the gauge in"):
        Link("/dev/no-such-port" if sys.platform != "win32" else "COM250", SETTINGS)


@posix
def test_a_file_is_no_port(tmp_path):
    path = tmp_path / "not-a-port"
    path.write_bytes(b"")
    with pytest.raises(PortUnusableError, match="cannot be used as a gauge's port"):
        Link(str(path), SETTINGS)


@posix
@pytest.mark.skipif(os.name == "posix" and os.geteuid() == 0, reason="root may open everything")
def test_a_port_of_somebody_else_is_denied(tmp_path):
    path = tmp_path / "locked"
    path.write_bytes(b"")
    path.chmod(0)
    with pytest.raises(PortDeniedError, match="Add the user to the group"):
        Link(str(path), SETTINGS)


def test_an_address_of_no_known_kind_is_unusable():
    with pytest.raises(PortUnusableError):
        Link("pigeon://roof", SETTINGS)


def test_an_address_where_nobody_listens_is_not_found():
    with socket.socket() as unused:
        unused.bind(("127.0.0.1", 0))
        port = unused.getsockname()[1]
    with pytest.raises(PortNotFoundError):
        Link(f"socket://127.0.0.1:{port}", SETTINGS)


def test_a_socket_is_a_port_and_its_end_is_a_lost_cable():
    with socket.create_server(("127.0.0.1", 0)) as server:
        link = Link(f"socket://127.0.0.1:{server.getsockname()[1]}", SETTINGS)
        gauge, _ = server.accept()
        with gauge:
            gauge.sendall(b"+0012.345 mm\r\n")
            got = b""
            while not got.endswith(b"\n"):
                got += read_soon(link) if link.fileno() is not None else link.read()
            assert got == b"+0012.345 mm\r\n"
        with pytest.raises(PortLostError):
            read_until_lost(link)
        link.close()


class FarPort:
    """The far end of ``rfc2217://``: a serial port served over TCP, by pyserial's own half."""

    def __init__(self):
        self.server = socket.create_server(("127.0.0.1", 0))
        self.address = f"rfc2217://127.0.0.1:{self.server.getsockname()[1]}"
        self.port = serial.serial_for_url("loop://", timeout=0)
        self.connected = threading.Event()
        self.thread = threading.Thread(target=self.serve, daemon=True)
        self.thread.start()

    def write(self, data):
        self.client.sendall(data)

    def serve(self):
        self.client, _ = self.server.accept()
        self.manager = serial.rfc2217.PortManager(self.port, self)
        self.connected.set()
        while data := self.client.recv(1024):
            self.port.write(b"".join(self.manager.filter(data)))

    def send(self, data):
        self.write(b"".join(self.manager.escape(data)))

    def hang_up(self):
        self.client.shutdown(socket.SHUT_RDWR)
        self.client.close()
        self.server.close()
        self.thread.join(5)


@pytest.mark.filterwarnings("ignore:set(Daemon|Name)..:DeprecationWarning")  # pyserial's
def test_a_port_served_over_telnet_is_read_and_its_end_is_a_lost_cable():
    """RFC 2217; 0xFF is doubled on the way and must come back as one byte."""
    far = FarPort()
    link = Link(far.address, SETTINGS)
    assert far.connected.wait(5)
    far.send(b"+0012.345 mm\r\n\xff")
    got = b""
    while len(got) < 15:
        got += link.read()
    assert got == b"+0012.345 mm\r\n\xff"
    far.hang_up()
    with pytest.raises(PortLostError):
        read_until_lost(link)
    link.close()


def test_loop_reads_back_what_it_sends_without_a_descriptor():
    link = Link("loop://", SETTINGS)
    assert link.fileno() is None
    link.write(b"echo")
    assert link.read() == b"echo"
    assert link.read() == b""
    link.close()


@posix
@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")  # pyserial's file
def test_spy_sees_the_bytes(tmp_path):
    with terminal() as (gauge, name):
        seen = tmp_path / "spy.txt"
        link = Link(f"spy://{name}?file={seen}", SETTINGS)
        os.write(gauge, b"ABC")
        got = b""
        while len(got) < 3:
            got += link.read()
        link.close()
        del link
        gc.collect()  # here, and not in another test, pyserial's file is found open
    assert got == b"ABC"
    assert re.findall(r"(?:41|42|43)(?= )", seen.read_text()) == ["41", "42", "43"]


@pytest.mark.parametrize("error", PortError.__subclasses__(), ids=lambda e: e.__name__)
def test_every_port_error_names_the_port_and_what_to_do(error):
    words = str(error("/dev/ttyUSB7", "its own words"))
    assert "/dev/ttyUSB7" in words
    assert "its own words" in words
    assert any(verb in words for verb in ("Plug", "Add", "Close", "Check"))
