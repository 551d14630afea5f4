"""A simulated hand brings a gauge to its aim in a few turns, with the same mistakes each time."""

import pytest

from drivers.profiles import load_profile
from simulated_devices import Hand, SimulatedGauge
from simulated_devices.motion import Still


def worked(seed, pitch_mm, start_mm):
    hand = Hand(76.2, pitch_mm, good_enough_mm=0.0015, seed=seed)
    gauge = SimulatedGauge(
        load_profile("decimal-line"), Still(start_mm), hand=hand, noise_mm=0.0003, seed=seed
    )
    gauge.advance(60.0)
    return gauge, hand


@pytest.mark.parametrize("pitch_mm", [0.5, 1.0, 1.75])
@pytest.mark.parametrize("seed", range(10))
def test_it_gets_there_within_a_few_turns(seed, pitch_mm):
    gauge, hand = worked(seed, pitch_mm, 75.9)
    assert hand.doing == "done"
    assert abs(float(gauge.shown().value) - 76.2) <= 0.0025
    assert 1 <= hand.turns_made <= 6


def test_the_same_seed_makes_the_same_mistakes():
    assert worked(3, 1.0, 75.9)[1].moved_mm == worked(3, 1.0, 75.9)[1].moved_mm
    assert worked(3, 1.0, 75.9)[1].moved_mm != worked(4, 1.0, 75.9)[1].moved_mm


def test_it_does_nothing_while_the_display_shows_no_number():
    hand = Hand(1.0, 1.0)
    for _ in range(100):
        hand.advance(0.1, None)
    assert (hand.doing, hand.moved_mm) == ("waiting", 0.0)


def test_it_begins_anew_with_another_aim():
    gauge, hand = worked(1, 1.0, 75.9)
    hand.go_on(76.5)
    gauge.advance(60.0)
    assert hand.doing == "done"
    assert abs(float(gauge.shown().value) - 76.5) <= 0.0025
