"""Play between two stops, the part rocked several times."""

import itertools
import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daq.jobs.recipes import Component, Play, RecipeError, Refusal, Result
from tests.daq.jobs.recipes.making import covered, refused, settled

LOW, HIGH = 1.200, 1.550


def rests(sides, *, drift=0.0, play=0.35, u_mm=0.0005, noise=None):
    """Rests at the sides, in order: 0 is the lower stop, 1 the higher one."""
    return [
        settled(LOW + play * side + drift * i + (noise() if noise else 0.0), u_mm)
        for i, side in enumerate(sides)
    ]


@pytest.mark.parametrize(
    "sides", ["010101", "101010", "0110101", "0010101", "01010111", "0101001", "110011001"]
)
def test_the_sides_are_told_by_level_whatever_their_order(sides):
    points = rests(map(int, sides))
    made = Play(3 if sides != "110011001" else 2).result(points)
    assert made.value_mm == pytest.approx(0.35)
    assert made.of == tuple(point.uid for point in points)
    twice = any(a == b for a, b in itertools.pairwise(sides))
    assert any("same stop in succession" in remark for remark in made.remarks) == twice
    assert made.doubts == ()


@given(
    st.floats(-0.004, 0.004),
    st.lists(st.booleans(), min_size=8, max_size=14).filter(
        lambda sides: sum(a != b for a, b in itertools.pairwise(sides)) > 3
    ),
)
def test_a_steady_drift_cancels_exactly(drift, sides):
    made = Play(2).result(rests(sides, drift=drift))
    assert made.value_mm == pytest.approx(0.35, abs=1e-9)
    assert made.part("drift of the zero").value == pytest.approx(drift * (len(sides) - 1), abs=1e-9)


def test_a_drift_is_remarked_on_when_it_is_more_than_noise():
    """Six rests at alternating stops, times -2.5 to 2.5: u of the slope in closed form."""
    made = Play(3).result(rests([0, 1, 0, 1, 0, 1], drift=0.002))
    (remark,) = made.remarks
    assert remark == "the zero drifted by +0.010 mm meanwhile; that cancels"
    # About the mean of their own side, the times of each side have a sum of squares of 8.
    assert made.part("drift of the zero").u == pytest.approx(5 * 0.0005 / 4)
    assert Play(3).result(rests([0, 1, 0, 1, 0, 1], drift=0.0002)).remarks == ()
    twice = Play(2).result(rests([0, 1, 1, 0, 1]))
    assert twice.remarks == ("rests 2 to 3 are at the same stop in succession; all are used",)


def test_drift_is_judged_by_the_clock_where_there_is_one():
    times = (0.0, 4.0, 7.0, 20.0, 23.0, 31.0)
    points = [settled(LOW + 0.35 * (i % 2) + 0.0005 * t, at_s=1e5 + t) for i, t in enumerate(times)]
    assert Play(3).result(points).value_mm == pytest.approx(0.35, abs=1e-9)
    without = [settled(point.value_mm) for point in points]
    assert Play(3).result(without).value_mm != pytest.approx(0.35, abs=1e-4)


def test_a_clock_that_does_not_rise_is_not_used():
    points = [settled(LOW + 0.35 * (i % 2), at_s=5.0) for i in range(6)]
    assert Play(3).result(points).value_mm == pytest.approx(0.35)


@given(st.floats(-20, 20), st.booleans())
def test_a_constant_offset_or_a_reversed_gauge_changes_nothing(offset, turned):
    chance = random.Random(7)
    points = rests([0, 1, 0, 1, 1, 0, 1], noise=lambda: chance.gauss(0, 0.0005))
    plain = Play(3).result(points)
    sign = -1 if turned else 1
    moved = Play(3).result([settled(sign * point.value_mm + offset) for point in points])
    assert moved.value == pytest.approx(plain.value, abs=1e-9)
    assert moved.u == pytest.approx(plain.u, rel=1e-6)


def test_the_uncertainty_is_that_of_a_difference_of_means():
    """Three rests a side, no drift to speak of in the weights: near u · sqrt(2/3), and above it."""
    made = Play(3).result(rests([0, 1, 0, 1, 0, 1]))
    assert 0.0005 * (2 / 3) ** 0.5 <= made.u_mm < 0.0005 * (2 / 3) ** 0.5 * 1.05


def test_rocks_that_do_not_agree_are_doubted_and_widen_the_uncertainty():
    points = rests([0, 1, 0, 1, 0, 1])
    points[3] = settled(HIGH - 0.02)
    made = Play(3).result(points)
    assert made.u_mm > 0.005
    (doubt,) = made.doubts
    assert "the rocks do not agree" in doubt
    assert doubt.endswith("number 4")
    # Brackets of 0.35, 0.34 (at the rests beside it) and 0.33 (at the rest itself).
    assert made.part("spread of the rocks").value == pytest.approx(0.02)


def test_off_the_pivot_the_movement_is_multiplied_by_the_lever():
    """Backlash at radius 80 mm, read at 100 mm, is 0.8 of it."""
    made = Play(3, ratio=0.8, u_ratio=0.01, common=(Component("hysteresis", 0.001),)).result(
        rests([0, 1, 0, 1, 0, 1])
    )
    assert made.value_mm == pytest.approx(0.28)
    assert made.part("movement read").value == pytest.approx(0.35)
    by_name = {each.name: each.contribution for each in made.components}
    assert by_name["lever ratio"] == pytest.approx(0.35 * 0.01)
    assert by_name["hysteresis"] == 0.001
    plain = Play(3).result(rests([0, 1, 0, 1, 0, 1]))
    assert by_name["rests at the two stops"] == pytest.approx(0.8 * plain.u_mm)


def test_no_play_is_refused_not_reported_as_nought():
    made = Play(2).result(rests([0, 1, 0, 1], play=0.0005))
    assert refused(made, "no play can be told", "0.0005 mm", "Rock the part firmly")
    assert not made.missing


@pytest.mark.parametrize("times", [1, 3])
def test_play_is_told_from_six_times_the_u_of_a_rest_on(times):
    for play, told in ((5.9, False), (6.1, True)):
        points = [
            settled(LOW + play * 0.0005 * times * side, 0.0005 * times) for side in (0, 1) * 2
        ]
        assert isinstance(Play(2).result(points), Result) == told


def test_the_u_of_unlike_rests_counts_with_its_root_mean_square():
    """Two rests of u and two of seven times as much count as five times u: 0.015 mm is 6 of it."""
    for play, told in ((0.0149, False), (0.0151, True)):
        points = [
            settled(LOW + play * (i % 2), 0.0005 * (7 if i in (0, 3) else 1)) for i in range(4)
        ]
        assert isinstance(Play(2).result(points), Result) == told


def test_a_part_that_hangs_between_the_stops_is_refused():
    points = rests([0, 1, 0, 1, 0])
    points.append(settled(LOW + 0.17))
    assert refused(Play(3).result(points), "more than two levels", "1.370 mm")
    assert Play(3).wants(points) is None


@pytest.mark.parametrize("knocked", [0.5, 1.5, 5.0, -0.5, -5.0])
def test_a_rest_far_from_all_others_is_refused(knocked):
    points = [*rests([0, 1, 0, 1, 0]), settled(HIGH + knocked)]
    assert refused(Play(3).result(points), "more than two levels", f"{HIGH + knocked:.3f} mm")


def test_rests_that_scatter_much_at_one_stop_are_still_one_stop():
    points = [settled(value, 0.0001) for value in (0.000, 0.008, 0.001, 0.350, 0.004, 0.342)]
    assert isinstance(Play(2).result(points), Result)


def test_missing_pairs_are_asked_for_side_by_side():
    recipe, points = Play(2), []
    said = []
    for side in (0, 0, 1, 0, 0, 1):
        wanted = recipe.wants(points)
        said.append((wanted.position, wanted.number, wanted.of))
        assert refused(recipe.result(points), wanted.words.capitalize())
        points += rests([side])
    assert recipe.wants(points) is None
    assert isinstance(recipe.result(points), Result)
    assert said == [
        ("one stop", 1, 4),
        ("other stop", 2, 4),
        ("other stop", 3, 4),
        ("lower stop", 4, 5),
        ("higher stop", 5, 5),
        ("higher stop", 6, 6),
    ]


@given(st.lists(st.booleans(), max_size=12), st.integers(2, 4))
def test_a_result_comes_when_and_only_when_nothing_more_is_wanted(sides, pairs):
    points = rests(sides)
    recipe = Play(pairs)
    made = recipe.result(points)
    if recipe.wants(points) is None:
        assert isinstance(made, Result) or not made.missing
    else:
        assert isinstance(made, Refusal)
        assert made.missing


@pytest.mark.parametrize("facts", [{"pairs": 1}, {"ratio": 0.0}, {"ratio": -1.0}, {"u_ratio": -1}])
def test_a_recipe_that_means_nothing_is_refused(facts):
    with pytest.raises(RecipeError):
        Play(**facts)


@pytest.mark.parametrize(("pairs", "times"), [(2, 1), (3, 1), (5, 1), (3, 4), (5, 4)])
def test_the_stated_interval_covers_the_truth(pairs, times):
    """With drift, and with rests that scatter as their u says or four times as much."""
    chance = random.Random(pairs)

    def trial():
        points = rests(
            [0, 1] * pairs,
            drift=chance.gauss(0, 0.002),
            noise=lambda: chance.gauss(0, 0.0005 * times),
        )
        made = Play(pairs).result(points)
        return None if isinstance(made, Refusal) else (made.value, made.u, 0.35)

    assert 0.93 < covered(trial) < (0.985 if times == 1 else 0.97)
