"""A hand at a lock nut and a rocker, with a slow reaction, and one part after the other."""

import pytest

from simulated_devices import Hand, load_scenario
from simulated_devices.scenario import gauge_of
from tests.simulated_devices.gauge_tools import gauge_at

GOOD_MM = 0.0015


def at_work(start_mm=75.93, **more):
    """A hand that wants 76.200 on a display in steps of 0.001 mm, and its gauge."""
    return gauge_at(start_mm, hand=Hand(76.2, 1.0, **{"good_enough_mm": GOOD_MM, **more}))


def all_it_does(gauge, seconds):
    """What the hand was at, in order, looked at ten times a second."""
    done = []
    for _ in range(10 * seconds):
        gauge.advance(0.1)
        if not done or done[-1] != gauge.hand.doing:
            done.append(gauge.hand.doing)
    return done


@pytest.mark.parametrize("lock_shift_mm", [0.03, -0.03, 0.2])
@pytest.mark.parametrize("seed", range(8))
def test_it_makes_up_for_what_the_nut_adds(seed, lock_shift_mm):
    gauge = at_work(lock_shift_mm=lock_shift_mm, lock_scatter=0.002, seed=seed)
    gauge.advance(120.0)
    assert (gauge.hand.doing, gauge.hand.locked) == ("done", True)
    assert abs(75.93 + gauge.hand.moved_mm - 76.2) <= GOOD_MM + 0.0005
    assert gauge.hand.turns_made <= 8


def test_it_finds_the_length_moved_by_the_nut_and_sets_it_again():
    gauge = at_work(lock_shift_mm=0.05, lock_scatter=0.0, clumsiness=0.0)
    did = [each for each in all_it_does(gauge, 60) if each != "waiting"]
    assert did == ["turning", "locking", "loosening", "turning", "locking", "done"]


def test_a_shift_that_is_good_enough_is_left():
    gauge = at_work(lock_shift_mm=0.001, lock_scatter=0.0, clumsiness=0.0)
    did = [each for each in all_it_does(gauge, 60) if each != "waiting"]
    assert did == ["turning", "locking", "done"]


def test_loosening_takes_the_shift_back_whole():
    hand = Hand(0.0, 1.0, look_s=0.5, clumsiness=0.0, lock_shift_mm=0.05, lock_scatter=0.3, seed=3)
    places = {}
    for _ in range(200):
        hand.advance(0.05, hand.moved_mm)
        places.setdefault((hand.doing, hand.locked), hand.moved_mm)
        if hand.doing == "turning":
            break
    assert places["waiting", True] == pytest.approx(0.05, rel=0.9)
    assert hand.moved_mm == pytest.approx(0.0, abs=1e-12)


def test_tightening_takes_its_time():
    hand = Hand(0.0, 1.0, look_s=0.5, lock_shift_mm=0.05, lock_s=2.0, lock_scatter=0.0)
    while hand.doing != "locking":
        hand.advance(0.1, hand.moved_mm)
    places = []
    while hand.doing == "locking":
        hand.advance(0.5, hand.moved_mm)
        places.append(hand.moved_mm)
    assert places == pytest.approx([0.0125, 0.025, 0.0375, 0.05])


def test_what_the_nut_does_is_not_taken_for_a_wrong_way():
    """A shift much larger than the last deviation would look like a turn that made it worse."""
    gauge = at_work(76.1975, lock_shift_mm=-0.3, lock_scatter=0.0, clumsiness=0.0)
    gauge.advance(120.0)
    assert gauge.hand.doing == "done"
    assert gauge.hand.turns_made == 2  # a little before the nut, and once by what the nut adds


def test_through_a_rocker_the_reading_moves_by_the_lever_s_share():
    """By hand: half a turn a second of 0.5 mm, through a rocker of 2: 0.5 mm a second."""
    hand = Hand(5.0, 0.5, look_s=0.1, turns_s=0.5, clumsiness=0.0, lever=2.0)
    hand.advance(0.1, 0.0)
    hand.advance(1.0, 0.0)
    assert hand.moved_mm == pytest.approx(0.5)


def test_it_begins_to_turn_a_reaction_after_its_look_and_by_what_it_saw_then():
    hand = Hand(1.0, 1.0, look_s=1.0, reaction_s=0.5, turns_s=100.0, clumsiness=0.0)
    for _ in range(8):
        hand.advance(0.125, 0.75)
    assert hand.doing == "deciding"
    for _ in range(3):
        hand.advance(0.125, 99.0)
    assert (hand.doing, hand.moved_mm) == ("deciding", 0.0)
    hand.advance(0.125, 99.0)
    assert hand.doing == "turning"
    hand.advance(0.125, 99.0)
    assert hand.moved_mm == pytest.approx(0.25)


def test_a_finished_length_is_left_alone_for_as_long_as_asked_and_then_the_next_part_is_off():
    gauge = at_work(next_after_s=5.0, next_off_mm=0.3, seed=2)
    rested_s, rests, offs_mm = 0.0, [], []
    for _ in range(6000):
        before, at_mm = gauge.hand.doing, gauge.hand.moved_mm
        gauge.advance(0.1)
        if before == "done":
            rested_s += 0.1
            if gauge.hand.doing != "done":
                rests.append(rested_s)
                offs_mm.append(gauge.hand.moved_mm - at_mm)
                rested_s = 0.0
    assert len(rests) >= 20
    assert rests == pytest.approx([5.0] * len(rests), abs=0.15)
    assert all(abs(off_mm) <= 0.3 for off_mm in offs_mm)
    assert len(set(offs_mm)) == len(offs_mm)


def test_the_next_part_has_its_nut_loose():
    gauge = at_work(lock_shift_mm=0.05, lock_scatter=0.0)
    gauge.advance(120.0)
    assert gauge.hand.locked
    gauge.hand.go_on(76.3)
    assert not gauge.hand.locked
    gauge.advance(120.0)
    assert (gauge.hand.doing, gauge.hand.locked) == ("done", True)
    assert abs(float(gauge.shown().value) - 76.3) <= GOOD_MM


def test_the_scenario_with_a_lock_nut_gets_every_part_right():
    scenario = load_scenario("locking")
    gauge = gauge_of(scenario.gauges[0], scenario.seed)
    finished = []
    for _ in range(6000):
        before = gauge.hand.doing
        gauge.advance(0.1)
        if gauge.hand.doing == "done" != before:
            finished.append(float(gauge.shown().value))
    assert len(finished) >= 10
    # What it saw was good enough; the display goes on flickering by its noise.
    assert all(abs(value_mm - 76.2) <= 0.0015 + 3 * 0.0003 + 0.0005 for value_mm in finished)
