"""Where the page is served and what people type; found out without sending anything."""

import socket

import pytest

from daq.page.door.address import (
    Listen,
    addresses_to_type,
    listen_from,
    own_addresses,
    with_token,
)
from daq.page.errors import ListenError


@pytest.mark.parametrize(
    ("text", "host", "port"),
    [
        ("127.0.0.1", "127.0.0.1", 8420),
        ("localhost", "127.0.0.1", 8420),
        ("localhost:9000", "127.0.0.1", 9000),
        ("192.168.1.20:9000", "192.168.1.20", 9000),
        ("0.0.0.0", "0.0.0.0", 8420),
        (":9000", "127.0.0.1", 9000),
        ("127.0.0.1:0", "127.0.0.1", 0),
        ("[::1]", "::1", 8420),
        ("[::1]:9000", "::1", 9000),
        ("::1", "::1", 8420),
        ("[FD00:0::20]:9000", "fd00::20", 9000),
        ("::", "::", 8420),
        (" 127.0.0.1:9000 ", "127.0.0.1", 9000),
    ],
)
def test_where_to_listen_is_an_address_and_perhaps_a_port(text, host, port):
    assert listen_from(text) == Listen(host, port)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("bench-pc:8420", "goes to --host"),
        ("http://127.0.0.1", "no address"),
        ("127.1", "no address"),
        ("256.0.0.1", "no address"),
        ("[127.0.0.1]", "no address"),
        ("[::1", "no address"),
        ("fe80::1%eth0", "no address"),
        ("127.0.0.1:", "whole number"),
        ("127.0.0.1:x", "whole number"),
        ("127.0.0.1:-1", "whole number"),
        ("127.0.0.1:65536", "whole number"),
        ("127.0.0.1:٨", "whole number"),
        ("[::1]9000", "no address"),
        ("[::1]:", "whole number"),
    ],
)
def test_anything_else_is_refused_with_what_would_be_right(text, words):
    with pytest.raises(ListenError, match=words):
        listen_from(text)


def test_it_is_known_who_can_reach_the_page():
    assert Listen("127.0.0.1").is_loopback
    assert Listen("::1").is_loopback
    assert not Listen("192.168.1.20").is_loopback
    assert not Listen("0.0.0.0").is_loopback
    assert Listen("0.0.0.0").is_everywhere
    assert Listen("::").is_everywhere
    assert not Listen("192.168.1.20").is_everywhere


def found():
    return ("192.168.1.20", "fd00::20")


def test_on_loopback_one_address_is_typed():
    assert addresses_to_type(Listen(port=9000), found=found) == ("http://127.0.0.1:9000/",)


def test_on_all_addresses_those_that_others_can_reach_come_first():
    assert addresses_to_type(Listen("0.0.0.0"), found=found) == (
        "http://192.168.1.20:8420/",
        "http://127.0.0.1:8420/",
    )
    assert "http://[fd00::20]:8420/" in addresses_to_type(Listen("::"), found=found)


def test_a_name_that_was_given_comes_before_all():
    assert addresses_to_type(Listen("192.168.1.20"), hosts=["bench-pc"], tls=True, found=found) == (
        "https://bench-pc:8420/",
        "https://192.168.1.20:8420/",
    )


def test_the_token_stands_where_the_door_looks_for_it():
    assert with_token("http://127.0.0.1:8420/", "abc") == "http://127.0.0.1:8420/?t=abc"


def test_this_machines_addresses_are_addresses_that_it_can_listen_on():
    for address in own_addresses():
        family = socket.AF_INET6 if ":" in address else socket.AF_INET
        with socket.socket(family) as listening:
            listening.bind((address, 0))
        assert not address.startswith(("127.", "169.254.", "fe80"))


def test_finding_them_sends_nothing_and_asks_no_name_server(monkeypatch):
    def forbidden(*_args, **_more):
        raise AssertionError("it went outside")

    for name in ("getaddrinfo", "gethostbyname", "gethostbyname_ex", "getfqdn"):
        monkeypatch.setattr(socket, name, forbidden)

    class Silent(socket.socket):
        send = sendto = sendall = sendmsg = forbidden

        def connect(self, address):
            assert self.type == socket.SOCK_DGRAM, "only a datagram socket connects silently"
            super().connect(address)

    monkeypatch.setattr(socket, "socket", Silent)
    assert own_addresses() == tuple(dict.fromkeys(own_addresses()))
