"""Wire faults do what they say, as often as they say, and nothing besides."""

import math
import random
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drivers.profiles import load_profile
from simulated_devices import SimulatedGauge, WireFaults
from simulated_devices.faults import LONGEST_STUTTER
from simulated_devices.motion import Still
from tests.simulated_devices.gauge_tools import events_of, next_frame, readings

DATA = random.Random(1).randbytes(20_000)
COUNTING = bytes(range(251)) * 80
"""Each byte tells its place, so that gaps can be measured."""

EVERY_FAULT = {
    "drop": 0.05,
    "flip": 0.05,
    "double": 0.05,
    "garbage": 0.03,
    "cut": 0.01,
    "stutter": 0.1,
}
quick = settings(max_examples=50, derandomize=True, deadline=None)


def near(count, tried, chance):
    """Whether a count lies within five standard deviations of a binomial count's mean."""
    return abs(count - tried * chance) < 5 * math.sqrt(tried * chance * (1 - chance))


def is_part_of(data, whole):
    """Whether ``data`` is ``whole`` with bytes left out."""
    rest = iter(whole)
    return all(byte in rest for byte in data)


def drained(faults, pieces):
    """What comes of the pieces, one a call, with enough calls after them."""
    came = [faults.through(piece) for piece in pieces]
    return came + [faults.through(b"") for _ in range(LONGEST_STUTTER)]


@quick
@given(pieces=st.lists(st.binary(max_size=40)), seed=st.integers(0, 9))
def test_without_faults_every_piece_comes_out_as_it_went_in(pieces, seed):
    faults = WireFaults(seed=seed)
    assert [faults.through(piece) for piece in pieces] == pieces


@pytest.mark.parametrize("chance", [0.003, 0.1])
@pytest.mark.parametrize("seed", range(3))
def test_bytes_are_lost_as_often_as_asked(chance, seed):
    out = WireFaults(drop=chance, seed=seed).through(DATA)
    assert near(len(DATA) - len(out), len(DATA), chance)
    assert is_part_of(out, DATA)


@pytest.mark.parametrize("chance", [0.003, 0.1])
@pytest.mark.parametrize("seed", range(3))
def test_bytes_come_twice_as_often_as_asked(chance, seed):
    out = WireFaults(double=chance, seed=seed).through(COUNTING)
    once = bytes(byte for at, byte in enumerate(out) if not at or byte != out[at - 1])
    assert once == COUNTING
    assert near(len(out) - len(COUNTING), len(COUNTING), chance)


@pytest.mark.parametrize("chance", [0.003, 0.1])
@pytest.mark.parametrize("seed", range(3))
def test_one_bit_of_a_byte_is_turned_over_as_often_as_asked(chance, seed):
    out = WireFaults(flip=chance, seed=seed).through(DATA)
    turned = [a ^ b for a, b in zip(DATA, out, strict=True) if a != b]
    assert near(len(turned), len(DATA), chance)
    assert {each.bit_count() for each in turned} == {1}
    if chance > 0.05:
        assert all(near(turned.count(1 << bit), len(turned), 1 / 8) for bit in range(8))


@pytest.mark.parametrize("seed", range(3))
def test_noise_comes_before_bytes_as_often_as_asked_one_to_eight_bytes_of_it(seed):
    """Seven data bits, so noise can be told from bytes that are all above 127."""
    sent = bytes([200]) * 20_000
    out = WireFaults(garbage=0.02, seed=seed, data_bits=7).through(sent)
    bursts = [burst for burst in out.split(bytes([200])) if burst]
    assert out.count(200) == 20_000
    assert out[-1] == 200
    assert near(len(bursts), 20_000, 0.02)
    assert {len(burst) for burst in bursts} == set(range(1, 9))
    assert len(set(b"".join(bursts))) > 100


@pytest.mark.parametrize("cut_bytes", [1, 20, 200])
def test_a_cut_loses_so_many_bytes_in_a_row(cut_bytes):
    out = WireFaults(cut=0.001, cut_bytes=cut_bytes, seed=5).through(COUNTING)
    gaps = [(b - a - 1) % 251 for a, b in pairwise(out) if (b - a) % 251 != 1]
    assert gaps
    # Two cuts may follow each other directly.
    assert set(gaps) <= {cut_bytes * n % 251 for n in (1, 2)}
    assert near(len(gaps), len(out), 0.001)


def test_a_cut_goes_on_in_the_next_piece():
    faults = WireFaults(cut=1.0, cut_bytes=5)
    assert b"".join(faults.through(bytes([n])) for n in range(20)) == b""
    faults = WireFaults(cut=0.05, cut_bytes=30, seed=2)
    whole = WireFaults(cut=0.05, cut_bytes=30, seed=2).through(DATA[:900])
    assert b"".join(faults.through(DATA[at : at + 7]) for at in range(0, 900, 7))[:50] == whole[:50]


@pytest.mark.parametrize(
    ("fault", "comes"),
    [("drop", b""), ("cut", b""), ("double", b"aabbcc"), ("flip", None)],
)
def test_a_certain_fault_befalls_every_byte(fault, comes):
    out = WireFaults(**{fault: 1.0}).through(b"abc")
    if comes is None:
        assert [(a ^ b).bit_count() for a, b in zip(out, b"abc", strict=True)] == [1, 1, 1]
    else:
        assert out == comes


def test_a_stutter_holds_bytes_back_for_one_to_four_calls_and_loses_none():
    faults = WireFaults(stutter=0.02, seed=2)
    pieces = [COUNTING[at : at + 10] for at in range(0, 5000, 10)]
    came = drained(faults, pieces)
    assert b"".join(came) == COUNTING[:5000]
    behind, sent, arrived, waits = [], 0, 0, []
    for piece, out in zip(pieces, came, strict=False):
        sent, arrived = sent + len(piece), arrived + len(out)
        behind.append(sent - arrived)
        waits.append(0 if sent == arrived else (waits[-1] + 1 if waits and not out else 1))
    assert max(behind) > 10
    assert max(waits) == LONGEST_STUTTER


def test_a_stutter_ends_without_any_more_bytes():
    faults = WireFaults(stutter=1.0)
    calls = [faults.through(b"+0012.345 mm\r\n"), *(faults.through(b"") for _ in range(4))]
    assert calls[0] == b""
    assert b"".join(calls) == b"+0012.345 mm\r\n"
    assert sum(bool(call) for call in calls) == 1


@quick
@given(cuts=st.lists(st.integers(0, 400), max_size=20), seed=st.integers(0, 5))
def test_which_bytes_arrive_does_not_depend_on_how_they_are_cut_into_pieces(cuts, seed):
    edges = [0, *sorted(cuts), 400]
    pieces = [DATA[a:b] for a, b in pairwise(edges)]
    in_pieces = drained(WireFaults(**EVERY_FAULT, seed=seed), pieces)
    at_once = drained(WireFaults(**EVERY_FAULT, seed=seed), [DATA[:400]])
    assert b"".join(in_pieces) == b"".join(at_once) != DATA[:400]


def test_the_same_seed_has_the_same_accidents_at_the_same_moments():
    def damaged(seed):
        faults = WireFaults(**EVERY_FAULT, seed=seed)
        return [faults.through(DATA[at : at + 50]) for at in range(0, 5000, 50)]

    assert damaged(7) == damaged(7) != damaged(8)


def test_a_line_of_seven_bits_carries_no_eighth():
    data = bytes(byte & 0x7F for byte in DATA)
    out = WireFaults(flip=0.5, garbage=0.1, data_bits=7, seed=1).through(data)
    assert max(out) < 0x80
    assert max(WireFaults(flip=0.5, garbage=0.1, seed=1).through(data)) >= 0x80


@pytest.mark.parametrize("name", ["marked-crc", "modbus-registers"])
def test_with_a_crc_of_16_bits_no_wrong_number_comes_through_a_rough_wire(name):
    """About one damaged frame in 65,536 would; none of these."""
    profile = load_profile(name)
    faults = WireFaults(
        drop=0.01, flip=0.01, double=0.01, garbage=0.005, cut=0.002, stutter=0.02, seed=4
    )
    gauge = SimulatedGauge(profile, Still(12.3456))
    events = events_of(profile, (faults.through(next_frame(gauge)) for _ in range(2000)))
    values = [str(reading.value) for reading in readings(events)]
    assert set(values) == {"12.3456"}
    assert 600 < len(values) < 1900
