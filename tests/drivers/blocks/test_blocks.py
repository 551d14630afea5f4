"""Frames read in blocks say what ``Decoder`` says of the same bytes, whatever they are."""

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.drivers.blocks.block_tools import Tally, check_same, frames_of, sealed
from tests.drivers.layout_tools import PROFILES, shown_values
from tests.drivers.wire_tools import BUILTIN, LOOKS, named

every_profile = pytest.mark.parametrize("profile", BUILTIN, ids=named)


@every_profile
@pytest.mark.parametrize("part", [0.0, 0.02, 0.3])
def test_blocks_say_what_the_decoder_says_of_dirty_streams(profile, part):
    tally = Tally()
    for seed in range(15):
        once = check_same([profile], [frames_of(profile)], seed, part)
        tally.in_blocks += once.in_blocks
        tally.frames += once.frames
        tally.bad += once.bad
    assert tally.frames > 500
    if part:
        assert tally.bad > 10


def test_gauges_of_several_profiles_in_one_sweep_do_not_mix():
    for seed in range(10):
        profiles = BUILTIN + BUILTIN[:3]
        tally = check_same(profiles, [frames_of(p) for p in profiles], seed, 0.05)
        assert tally.in_blocks > 100


@pytest.mark.parametrize("kind", PROFILES)
@LOOKS
@given(data=st.data())
def test_blocks_say_what_the_decoder_says_for_any_profile(kind, data):
    profile = data.draw(PROFILES[kind])
    shown = [data.draw(shown_values(profile)) for _ in range(8)]
    seed = data.draw(st.integers(0, 2**32))
    good = [profile.encode(each) for each in shown] + frames_of(profile)
    payloads = [profile.layout.encode(each) for each in shown]
    for part in (0.0, 0.01, 0.2):
        check_same([profile], [good], seed, part)
        wrong = sealed(profile, payloads * 2, random.Random(seed))
        check_same([profile], [4 * good + wrong], seed, part)
