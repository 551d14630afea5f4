"""The staircase reader on made-up staircases with known levels."""

import math
import random

import pytest

from daq.settle import (
    Difference,
    Plateau,
    PlateauReader,
    Settler,
    bracketed,
    mean_difference,
    pairs,
)

T = 0.001


def read(levels_mm, hold_s=4.0, rate=50, sd=0.2 * T, seed=3):
    """Plateaus of a staircase that rests hold_s on every level."""
    rng = random.Random(seed)
    reader = PlateauReader(Settler(T, T, rate), T)
    over = []
    for i in range(int(len(levels_mm) * hold_s * rate)):
        t = i / rate
        shown = round((levels_mm[int(t / hold_s)] + rng.gauss(0, sd)) / T) * T
        plateau = reader.push(t, shown)
        if plateau is not None:
            over.append(plateau)
    return [*over, reader.finish()]


def test_each_click_is_one_plateau_with_the_step_up_to_it():
    levels = [5.0, 5.0123, 5.0251, 5.0198]
    plateaus = read(levels)
    assert [p.number for p in plateaus] == [1, 2, 3, 4]
    assert plateaus[0].step_mm is None
    for k in range(1, 4):
        step = levels[k] - levels[k - 1]
        assert abs(plateaus[k].step_mm - step) <= 2 * plateaus[k].u_step_mm
        assert plateaus[k].u_step_mm == pytest.approx(
            math.hypot(plateaus[k].u_mm, plateaus[k - 1].u_mm), rel=1e-9
        )
        assert plateaus[k].since_s > plateaus[k - 1].until_s


def test_a_rest_lost_and_found_at_the_same_level_is_one_plateau():
    """The plunger is lifted for an instant and comes back."""
    rng = random.Random(1)
    reader = PlateauReader(Settler(T, T, 50), T)
    for i in range(500):
        level = 5.3 if 200 <= i < 215 else 5.0
        assert reader.push(i / 50, level + rng.gauss(0, 0.1 * T)) is None
    only = reader.finish()
    assert only.number == 1
    assert only.value_mm == pytest.approx(5.0, abs=T)
    assert only.since_s < 3
    assert only.until_s > 9


def test_the_plateau_is_there_to_show_while_the_part_still_rests():
    reader = PlateauReader(Settler(T, T, 50), T)
    for i in range(200):
        reader.push(i / 50, 5.0)
    assert reader.present.number == 1
    assert reader.finish() is not None
    assert reader.present is None


def plateau(number, value_mm, u_mm=0.001):
    return Plateau(number, value_mm, u_mm, 50, float(number), number + 0.5)


def test_pairs_take_the_second_less_the_first():
    run = [plateau(k, v) for k, v in enumerate([1.0, 1.5, 1.1, 1.7, 9.0], 1)]
    assert [(round(d.value_mm, 9), d.of) for d in pairs(run)] == [(0.5, (1, 2)), (0.6, (3, 4))]
    assert pairs(run)[0].u_mm == pytest.approx(0.001 * math.sqrt(2))


def test_a_bracketed_difference_is_free_of_a_steady_drift():
    drifting = [plateau(k, (0.5 if k % 2 == 0 else 0.0) + 0.01 * k) for k in range(1, 6)]
    found = bracketed(drifting)
    assert [d.of for d in found] == [(1, 2, 3), (3, 4, 5)]
    assert [d.value_mm for d in found] == pytest.approx([0.5, 0.5])
    assert found[0].u_mm == pytest.approx(0.001 * math.sqrt(1.5))


def test_a_mean_difference_is_no_more_certain_than_its_scatter():
    agreeing = [Difference(0.5, 0.01, (1, 2)), Difference(0.5, 0.01, (3, 4))]
    assert mean_difference(agreeing).u_mm == pytest.approx(0.01 / math.sqrt(2))
    apart = [Difference(0.4, 0.01, (1, 2)), Difference(0.6, 0.01, (3, 4))]
    assert mean_difference(apart).u_mm == pytest.approx(0.1)
    assert mean_difference(apart).of == (1, 2, 3, 4)
    with pytest.raises(ValueError, match="no difference"):
        mean_difference([])
