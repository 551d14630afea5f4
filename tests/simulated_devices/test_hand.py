"""A simulated hand brings a gauge to its aim in a few turns, with the same mistakes each time."""

import math
import statistics
from itertools import pairwise

import pytest

from drivers.profiles import load_profile
from simulated_devices import Hand, Press, SimulatedGauge
from simulated_devices.motion import Approach, Still
from tests.simulated_devices.gauge_tools import text


def at_work(seed=1, pitch_mm=1.0, start_mm=75.93, profile="decimal-line", presses=(), **more):
    """A hand that wants 76.200 on the display, and its gauge."""
    hand = Hand(76.2, pitch_mm, **{"good_enough_mm": 0.0005, "seed": seed, **more})
    return SimulatedGauge(
        load_profile(profile),
        Still(start_mm),
        hand=hand,
        noise_mm=0.0003,
        seed=seed,
        presses=presses,
    )


def alone(**more):
    """A hand on a display without noise: what it has moved is what is shown."""
    return Hand(1.0, 1.0, **{"look_s": 0.5, "turns_s": 2.0, "clumsiness": 0.0, **more})


def let_work(hand, seconds, dt_s=0.1):
    for _ in range(round(seconds / dt_s)):
        hand.advance(dt_s, hand.moved_mm)


@pytest.mark.parametrize("pitch_mm", [0.5, 1.0, 1.75])
@pytest.mark.parametrize(
    ("good_enough_mm", "most_turns", "usual_turns", "off_mm"),
    [
        # A step of the display is left alone: three turns at most.
        (0.001, 3, 2, 0.0015 + 3 * 0.0003),
        # All zeros are wanted: the noise makes it try a few times more.
        (0.0005, 10, 3, 0.0005 + 3 * 0.0003),
    ],
)
def test_it_gets_to_zero_within_a_few_turns_whatever_its_mistakes(
    pitch_mm, good_enough_mm, most_turns, usual_turns, off_mm
):
    """Off by what it leaves alone, half the step that the display hides, and its noise."""
    turns = []
    for seed in range(10):
        for start_mm in (75.93, 76.35, 76.197):
            gauge = at_work(seed, pitch_mm, start_mm, good_enough_mm=good_enough_mm)
            gauge.advance(40.0)
            assert gauge.hand.doing == "done"
            assert abs(start_mm + gauge.hand.moved_mm - 76.2) < off_mm
            turns.append(gauge.hand.turns_made)
    assert min(turns) >= 1
    assert max(turns) <= most_turns
    assert statistics.median(turns) <= usual_turns


@pytest.mark.parametrize("profile", ["fixed-fields", "marked-crc", "numeric-query", "counts-sum"])
def test_it_works_on_any_display(profile):
    gauge = at_work(profile=profile, good_enough_mm=0.0015)
    gauge.advance(40.0)
    assert gauge.hand.doing == "done"
    assert abs(75.93 + gauge.hand.moved_mm - 76.2) < 0.003


def test_it_reads_an_inch_display_as_the_length_that_it_is():
    gauge = at_work(presses=(Press(0.5, "unit"),), good_enough_mm=0.0013)
    gauge.advance(40.0)
    assert gauge.hand.doing == "done"
    assert text(gauge) in ("3.00000 in", "2.99995 in", "3.00005 in")


def test_the_same_seed_makes_the_same_mistakes_and_another_makes_others():
    places = []
    for seed in (3, 3, 4):
        gauge = at_work(seed)
        gauge.advance(5.0)
        places.append(gauge.hand.moved_mm)
    assert places[0] == places[1] != places[2]


def test_a_hand_that_is_never_clumsy_needs_one_turn_and_leaves_nothing():
    hand = alone()
    let_work(hand, 5.0)
    assert (hand.doing, hand.turns_made) == ("done", 1)
    assert hand.moved_mm == pytest.approx(1.0, abs=1e-12)


def test_the_size_of_its_turns_scatters_as_much_as_it_is_clumsy():
    """400 first turns of a hand with 8 %: the standard deviation is sure to 5 %, in three sigma
    (1/√(2·400) = 3.5 % each)."""
    slips = []
    for seed in range(400):
        hand = alone(clumsiness=0.08, seed=seed)
        hand.advance(0.5, 0.0)
        hand.advance(10.0, 0.0)
        slips.append(hand.moved_mm - 1.0)
    assert statistics.stdev(slips) == pytest.approx(0.08, rel=0.11)
    assert abs(statistics.mean(slips)) < 3 * 0.08 / math.sqrt(400)


def test_it_turns_no_faster_than_it_can():
    hand = Hand(5.0, 0.5, look_s=0.1, turns_s=0.5, clumsiness=0.0)
    hand.advance(0.1, 0.0)
    places = []
    for _ in range(100):
        hand.advance(0.1, hand.moved_mm)
        places.append(hand.moved_mm)
    steps = [b - a for a, b in pairwise(places)]
    # 0.5 turns a second at 0.5 mm a turn: 0.025 mm in a tenth of a second.
    assert max(steps) == pytest.approx(0.025)
    assert places[-1] == pytest.approx(100 * 0.025)


def test_it_waits_until_the_display_has_come_to_rest_before_it_looks():
    hand = alone(look_s=1.5)
    for _ in range(14):
        hand.advance(0.1, 0.0)
    assert hand.doing == "waiting"
    let_work(hand, 0.3)
    assert hand.doing == "turning"


@pytest.mark.parametrize("missing_mm", [0.001, -0.001])
def test_a_deviation_of_just_what_is_good_enough_is_left_alone(missing_mm):
    """76.200 less 76.199 is a hair more than 0.001 in floats; a person sees 0.001."""
    hand = Hand(76.2, 1.0, look_s=0.1, good_enough_mm=0.001)
    hand.advance(0.1, 76.2 - missing_mm)
    assert (hand.doing, hand.turns_made) == ("done", 0)


def test_it_does_nothing_while_the_display_shows_no_number():
    hand = Hand(1.0, 1.0)
    for _ in range(100):
        hand.advance(0.1, None)
    assert (hand.doing, hand.moved_mm) == ("waiting", 0.0)


@pytest.mark.parametrize("key", ["sleep", "error"])
def test_a_display_that_is_dark_or_shows_an_error_stops_it(key):
    gauge = at_work(presses=(Press(0.5, key),))
    gauge.advance(60.0)
    assert (gauge.hand.doing, gauge.hand.turns_made) == ("waiting", 0)


def test_it_notices_when_the_gauge_counts_the_other_way_round():
    """The direction key was pressed by a sleeve and the display preset: plus is minus now."""
    for seed in range(20):
        gauge = at_work(seed, presses=(Press(0.2, "direction"), Press(0.3, "preset", 76.35)))
        gauge.advance(120.0)
        assert gauge.hand.doing == "done"
        assert abs(float(gauge.shown().value) - 76.2) <= 0.002
        assert gauge.hand.turns_made <= 9
        assert gauge.hand.moved_mm == pytest.approx(0.15, abs=0.002)


def test_it_is_not_thrown_by_a_gauge_that_creeps():
    hand = Hand(76.2, 1.0, good_enough_mm=0.0015, seed=2)
    motion = Approach(by_mm=0.05, tau_s=4.0)
    gauge = SimulatedGauge(load_profile("decimal-line"), motion, hand=hand, seed=2)
    gauge.preset(76.1)
    gauge.advance(60.0)
    assert hand.doing == "done"


def test_when_it_is_done_it_looks_again_only_for_another_length():
    gauge = at_work(start_mm=75.9)
    gauge.advance(40.0)
    assert gauge.hand.doing == "done"
    stayed_mm = gauge.hand.moved_mm
    gauge.preset(70.0)
    gauge.advance(40.0)
    assert gauge.hand.moved_mm == stayed_mm
    gauge.hand.go_on(70.1)
    assert gauge.hand.turns_made == 0
    gauge.advance(40.0)
    assert gauge.hand.doing == "done"
    assert gauge.hand.moved_mm - stayed_mm == pytest.approx(0.1, abs=0.0015)
