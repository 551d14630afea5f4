"""Wire faults do what they say, and a wrong speed makes other bytes of them."""

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.decoder import Decoder
from drivers.profiles import builtin_profiles
from drivers.reading import Reading
from simulated_devices import WireFaults, as_read_at

DATA = bytes(random.Random(1).randbytes(20_000))


@given(st.binary(max_size=200))
def test_without_faults_nothing_changes(data):
    assert WireFaults(seed=1).through(data) == data


@pytest.mark.parametrize(("fault", "change"), [("drop", -1), ("double", 1)])
def test_bytes_are_lost_or_doubled_as_often_as_asked(fault, change):
    """20,000 bytes at 1 %: 200 with a standard deviation of 14; within five of them."""
    out = WireFaults(**{fault: 0.01}, seed=3).through(DATA)
    assert abs(change * (len(out) - len(DATA)) - 200) < 70


def test_a_flip_turns_one_bit_of_some_bytes():
    out = WireFaults(flip=0.01, seed=3).through(DATA)
    differing = [a ^ b for a, b in zip(DATA, out, strict=True) if a != b]
    assert 130 < len(differing) < 270
    assert {bits.bit_count() for bits in differing} == {1}


def test_a_cut_loses_a_run_of_bytes():
    out = WireFaults(cut=0.0005, cut_bytes=20, seed=1).through(DATA)
    assert (len(DATA) - len(out)) % 20 == 0
    assert len(out) < len(DATA)


def test_a_stutter_delays_bytes_and_loses_none():
    faults = WireFaults(stutter=0.01, seed=2)
    pieces = [faults.through(DATA[at : at + 50]) for at in range(0, 5000, 50)]
    assert pieces != [DATA[at : at + 50] for at in range(0, 5000, 50)]
    rest = b"".join(faults.through(b"") for _ in range(10))
    assert b"".join(pieces) + rest == DATA[:5000]


def test_the_same_seed_has_the_same_accidents():
    def damaged(seed):
        return WireFaults(drop=0.02, flip=0.02, garbage=0.01, seed=seed).through(DATA)

    assert damaged(7) == damaged(7) != damaged(8)


@given(st.binary(max_size=100))
def test_at_the_right_speed_the_bytes_are_the_bytes(data):
    assert as_read_at(data, 9600, 9600) == data


def test_a_wrong_speed_by_hand():
    """Eight data bits, lowest first, between a start bit 0 and a stop bit 1; idle is 1.

    0x00 sent at half the receiver's speed is low for nine sent bits, 18 of the receiver's: it takes
    a start and eight zeros, no stop bit; there is no new falling edge, so one 0x00 comes. 0xFF sent
    at half the speed: the start bit is two receiver bits long, a start and one zero, then ones:
    0xFE. 0xFF sent at twice the speed: in the middle of the receiver's start bit, one sent bit
    after the edge, the line is high again: no start, nothing comes.
    """
    assert as_read_at(b"\x00", 4800, 9600) == b"\x00"
    assert as_read_at(b"\xff", 4800, 9600) == b"\xfe"
    assert as_read_at(b"\xff", 19200, 9600) == b""


@pytest.mark.parametrize("sent_baud", [2400, 4800, 19200, 38400])
@pytest.mark.parametrize("profile", builtin_profiles(), ids=lambda p: p.name)
def test_no_profile_reads_a_number_at_a_wrong_speed(profile, sent_baud):
    decoder = Decoder(profile)
    wire = b"".join(sample.wire for sample in profile.samples) * 40
    events = decoder.receive(as_read_at(wire, sent_baud, 9600), 1.0)
    assert not [event for event in events if isinstance(event, Reading)]
