"""An adapter is known by its own serial number, or by its socket; never by its port's name."""

import pytest
from serial.tools.list_ports_common import ListPortInfo

from drivers.discovery import adapters, identity_of, port_of
from drivers.errors import PortNotFoundError, PortUnusableError


def adapter(device, vid=None, pid=None, serial=None, location=None):
    info = ListPortInfo(device)
    info.vid, info.pid, info.serial_number, info.location = vid, pid, serial, location
    return info


@pytest.fixture
def plugged_in(mocker):
    """There is no simulator for the system's list of USB devices, so the list is stood in for."""
    listed = mocker.patch("drivers.discovery.list_ports.comports")
    listed.return_value = [
        adapter("/dev/ttyUSB1", 0x1209, 1, "K2", "1-1.2"),
        adapter("/dev/ttyUSB0", 0x1209, 1, "K1", "1-1.1"),
        adapter("/dev/ttyUSB2", 0x1209, 2, None, "1-1.4"),
        adapter("/dev/ttyS0"),
    ]
    return listed


def test_adapters_are_listed_by_port_with_their_identity(plugged_in):
    assert [(a.port, a.identity, a.follows_socket) for a in adapters()] == [
        ("/dev/ttyS0", "", False),
        ("/dev/ttyUSB0", "usb:1209:0001:K1", False),
        ("/dev/ttyUSB1", "usb:1209:0001:K2", False),
        ("/dev/ttyUSB2", "usb:1209:0002@1-1.4", True),
    ]


def test_the_same_adapter_is_found_when_the_names_are_swapped(plugged_in):
    assert port_of("usb:1209:0001:K1") == "/dev/ttyUSB0"
    plugged_in.return_value = [
        adapter("/dev/ttyUSB0", 0x1209, 1, "K2"),
        adapter("/dev/ttyUSB1", 0x1209, 1, "K1"),
    ]
    assert port_of("usb:1209:0001:k1") == "/dev/ttyUSB1"


def test_an_identity_that_is_not_plugged_in_is_not_found(plugged_in):
    with pytest.raises(PortNotFoundError, match="usb:1209:0001:K9"):
        port_of("usb:1209:0001:K9")


def test_two_adapters_with_one_identity_are_refused(plugged_in):
    plugged_in.return_value = [
        adapter("/dev/ttyUSB0", 0x1209, 1, "K1"),
        adapter("/dev/ttyUSB1", 0x1209, 1, "K1"),
    ]
    with pytest.raises(PortUnusableError, match="both have this identity"):
        port_of("usb:1209:0001:K1")


def test_a_name_or_an_address_is_the_port_itself(plugged_in):
    assert port_of("/dev/ttyUSB9") == "/dev/ttyUSB9"
    assert port_of("socket://127.0.0.1:5000") == "socket://127.0.0.1:5000"


def test_a_port_tells_its_identity(plugged_in):
    assert identity_of("/dev/ttyUSB1") == "usb:1209:0001:K2"
    assert identity_of("/dev/ttyS0") == ""
