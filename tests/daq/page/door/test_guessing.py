"""Wrong tokens are slowed down, for each address and for all of them, in bounded memory."""

import pytest

from daq.page.door.guessing import (
    BURST,
    BURST_OF_ALL,
    MOST_ADDRESSES,
    PAUSE_OF_ALL_S,
    PAUSE_S,
    Guessing,
)


def wrong(guessing, client, times, at_s=0.0):
    for _ in range(times):
        guessing.was_wrong(client, at_s)


def guesses_in(guessing, clients, seconds):
    """How many wrong tokens are looked at when every client tries ten times a second."""
    looked_at = 0
    for tenth in range(seconds * 10):
        for client in clients:
            if guessing.wait_s(client, tenth / 10) == 0:
                guessing.was_wrong(client, tenth / 10)
                looked_at += 1
    return looked_at


def test_a_few_mistakes_cost_nothing():
    guessing = Guessing()
    wrong(guessing, "192.168.1.5", BURST - 1)
    assert guessing.wait_s("192.168.1.5", 0.0) == 0


def test_after_them_an_address_waits_and_others_do_not():
    guessing = Guessing()
    wrong(guessing, "192.168.1.5", BURST)
    assert guessing.wait_s("192.168.1.5", 0.0) == pytest.approx(PAUSE_S)
    assert guessing.wait_s("192.168.1.5", PAUSE_S - 1) == pytest.approx(1.0)
    assert guessing.wait_s("192.168.1.5", PAUSE_S) == 0
    assert guessing.wait_s("192.168.1.6", 0.0) == 0


def test_one_address_gets_so_many_guesses_an_hour():
    assert guesses_in(Guessing(), ["192.168.1.5"], 3600) <= BURST + 3600 / PAUSE_S


def test_many_addresses_together_get_not_many_more():
    clients = [f"10.0.{n // 250}.{n % 250}" for n in range(1000)]
    assert guesses_in(Guessing(), clients, 60) <= BURST_OF_ALL + 60 / PAUSE_OF_ALL_S


def test_the_addresses_of_one_ipv6_host_count_as_one():
    guessing = Guessing()
    for n in range(BURST):
        guessing.was_wrong(f"2001:db8::{n}", 0.0)
    assert guessing.wait_s("2001:db8::ffff", 0.0) > 0
    assert guessing.wait_s("2001:db8:0:1::1", 0.0) == 0


def test_what_it_remembers_is_bounded():
    guessing = Guessing()
    for n in range(4 * MOST_ADDRESSES):
        guessing.was_wrong(f"10.0.{n // 250}.{n % 250}", float(n * 60))
    assert len(guessing) == MOST_ADDRESSES


def test_a_clock_that_stands_or_an_address_that_is_none_does_no_harm():
    guessing = Guessing()
    wrong(guessing, "", BURST, at_s=100.0)
    assert guessing.wait_s("", 100.0) > 0
    assert guessing.wait_s("", 50.0) > 0
