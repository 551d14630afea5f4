"""The page answers under the names on its list, in any way of writing, and under no others."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daq.page.door.errors import HostError
from daq.page.door.hosts import AllowedHosts, Authority, authority_from, host_from

LOOPBACK = AllowedHosts.of("127.0.0.1", 8420)
LAN = AllowedHosts.of("192.168.1.20", 8420, more=["Bench-PC.example."])
EVERYWHERE = AllowedHosts.of("0.0.0.0", 8420, found=["192.168.1.20"], more=["fd00::20"])


def lets_in(hosts, text, arrived_at=None):
    asked = authority_from(text, 80)
    return asked is not None and hosts.lets_in(asked, arrived_at)


@pytest.mark.parametrize(
    "text",
    [
        "127.0.0.1:8420",
        "localhost:8420",
        "LocalHost:8420",
        "localhost.:8420",
        "[::1]:8420",
        "[0:0:0:0:0:0:0:1]:8420",
    ],
)
def test_on_loopback_this_machines_own_names_are_let_in(text):
    assert lets_in(LOOPBACK, text)


@pytest.mark.parametrize(
    "text",
    [
        "evil.example:8420",
        "localhost.evil.example:8420",
        "evil-localhost:8420",
        "sub.localhost:8420",
        "127.0.0.1.evil.example:8420",
        "127.0.0.2:8420",
        "127.0.0.1",
        "127.0.0.1:80",
        "127.0.0.1:8421",
        "127.0.0.1:18420",
        "0.0.0.0:8420",
        "[::]:8420",
        "[::ffff:127.0.0.1]:8420",
        "192.168.1.20:8420",
    ],
)
def test_on_loopback_everything_else_stays_out(text):
    assert authority_from(text, 80) is not None
    assert not lets_in(LOOPBACK, text)


@pytest.mark.parametrize(
    "text",
    [
        "",
        " ",
        ":8420",
        "::1:8420",
        "[::1",
        "[::1]x:8420",
        "[localhost]:8420",
        "[fe80::1%25eth0]:8420",
        "127.0.0.1:8420:8420",
        "127.0.0.1:",
        "127.0.0.1:0",
        "127.0.0.1:65536",
        "127.0.0.1:+8420",
        "127.0.0.1:８４２０",
        "127.0.0.1:8420 ",
        "127.0.0.1, evil.example",
        "user@127.0.0.1:8420",
        "127.0.0.1/../:8420",
        "127.1:8420",
        "2130706433:8420",
        "0x7f.1:8420",
        "0x7f000001:8420",
        "127.0.0.1..:8420",
        "127.00.0.1:8420",
        "ｌocalhost:8420",
        "local\u212aost:8420",
        "localhost\x00:8420",
        "localhost\n:8420",
        "-bench:8420",
        "a" * 64 + ":8420",
        "a." * 130 + "a:8420",
    ],
)
def test_what_names_no_host_is_none(text):
    assert authority_from(text, 80) is None


def test_on_an_address_of_the_network_that_address_and_the_given_names_are_let_in():
    assert lets_in(LAN, "192.168.1.20:8420")
    assert lets_in(LAN, "bench-pc.example:8420")
    assert lets_in(LAN, "BENCH-PC.EXAMPLE.:8420")
    assert not lets_in(LAN, "bench-pc:8420")
    assert not lets_in(LAN, "localhost:8420")
    assert not lets_in(LAN, "192.168.1.21:8420", arrived_at="192.168.1.21")


def test_on_all_addresses_the_one_that_a_connection_came_to_is_let_in_too():
    assert lets_in(EVERYWHERE, "192.168.1.20:8420")
    assert lets_in(EVERYWHERE, "[fd00:0::20]:8420")
    assert lets_in(EVERYWHERE, "localhost:8420")
    assert lets_in(EVERYWHERE, "10.0.0.7:8420", arrived_at="10.0.0.7")
    assert not lets_in(EVERYWHERE, "10.0.0.7:8420", arrived_at="192.168.1.20")
    assert not lets_in(EVERYWHERE, "evil.example:8420", arrived_at="192.168.1.20")
    assert not lets_in(EVERYWHERE, "0.0.0.0:8420", arrived_at="192.168.1.20")


@pytest.mark.parametrize(("default", "is_let_in"), [(80, True), (443, False)])
def test_a_host_without_a_port_means_the_port_of_its_scheme(default, is_let_in):
    asked = authority_from("localhost", default)
    assert AllowedHosts.of("127.0.0.1", 80).lets_in(asked) is is_let_in


@pytest.mark.parametrize(
    "name", ["", "http://bench-pc", "bench-pc:8420", "a b", "*", "*.example", "0.0.0.0", "127.1"]
)
def test_a_name_to_let_in_that_is_none_is_refused_with_what_to_give(name):
    with pytest.raises(HostError, match="as it stands in the browser's address line"):
        AllowedHosts.of("127.0.0.1", 8420, more=[name])


def test_an_authority_is_written_as_in_an_address():
    assert str(Authority("::1", 8420)) == "[::1]:8420"
    assert str(Authority("bench-pc", 8420)) == "bench-pc:8420"


@given(st.text(max_size=60))
def test_no_text_makes_it_fail_and_what_it_names_it_names_again(text):
    host = host_from(text)
    if host is not None:
        assert authority_from(str(Authority(host, 8420)), 80) == Authority(host, 8420)
