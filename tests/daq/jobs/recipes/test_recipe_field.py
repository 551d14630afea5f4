"""A set of points on alike parts, such as liners."""

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daq.jobs.recipes import Component, Field, RecipeError, Result
from tests.daq.jobs.recipes.making import covered, refused, settled

FOUR = ("front", "exhaust", "rear", "intake")
HEIGHTS = {
    "1": (0.102, 0.104, 0.106, 0.104),
    "2": (0.110, 0.114, 0.118, 0.114),
    "3": (0.098, 0.098, 0.098, 0.098),
}
"""Invented; the means are 0.104, 0.114 and 0.098."""


def field(heights=HEIGHTS, u_mm=0.0005):
    return [
        settled(height, u_mm, group=group, position=position)
        for group, four in heights.items()
        for position, height in zip(FOUR, four, strict=True)
    ]


def recipe(**more):
    return Field(FOUR, (("1", "2", "3"),), **more)


def test_means_ranges_steps_spread_and_line():
    made = recipe().result(field())
    assert made.value_mm == pytest.approx((0.104 + 0.114 + 0.098) / 3)
    assert [made.part("mean", of).value for of in "123"] == pytest.approx([0.104, 0.114, 0.098])
    ranges = [made.part("range within", of).value for of in "123"]
    assert ranges == pytest.approx([0.004, 0.008, 0])
    steps = [made.part("step to neighbour", of).value for of in ("1 to 2", "2 to 3")]
    assert steps == pytest.approx([0.010, -0.016])
    assert made.part("spread of the means", "1 to 3").value == pytest.approx(0.016)
    # Line through 104, 114, 98: slope -3, mean 105.333; residuals -4.333, 8.667, -4.333.
    assert made.part("departure from a line", "1 to 3").value == pytest.approx(0.013)
    (remark,) = made.remarks
    assert remark == "the widest range within is 0.008 mm at 2: highest rear, lowest front"


def test_what_all_points_share_is_in_the_means_and_cancels_in_the_rest():
    made = recipe(common=(Component("mastering", 0.002),)).result(field())
    own = 0.0005 / 2
    assert made.u_mm == pytest.approx((own**2 / 3 + 0.002**2) ** 0.5)
    assert made.part("mean", "1").u == pytest.approx((own**2 + 0.002**2) ** 0.5)
    assert made.part("step to neighbour", "1 to 2").u == pytest.approx(own * 2**0.5)


def test_banks_are_rows_of_their_own():
    made = Field(FOUR, (("1", "2"), ("3",))).result(field())
    names = [part.of for part in made.parts if part.name == "step to neighbour"]
    assert names == ["1 to 2"]
    assert not [part for part in made.parts if part.name == "departure from a line"]


def test_one_group_needs_no_name():
    points = [settled(h, position=p) for p, h in zip(FOUR, HEIGHTS["2"], strict=True)]
    made = Field(FOUR).result(points)
    assert made.value_mm == pytest.approx(0.114)
    assert made.part("range within").value == pytest.approx(0.008)


def test_a_place_taken_twice_counts_with_its_mean():
    made = recipe().result([*field(), settled(0.110, group="1", position="front")])
    assert made.part("mean", "1").value == pytest.approx((0.106 + 0.104 + 0.106 + 0.104) / 4)


def test_places_are_asked_for_group_by_group():
    points, said = [], []
    while (wanted := recipe().wants(points)) is not None:
        assert refused(recipe().result(points), "not all places are taken")
        said.append((wanted.group, wanted.position))
        assert wanted.number == len(said)
        points.append(settled(0.1, group=wanted.group, position=wanted.position))
    assert said == [(group, position) for group in "123" for position in FOUR]
    assert isinstance(recipe().result(points), Result)


def test_a_point_at_no_place_is_refused():
    strange = settled(0.1, group="9", position="front")
    made = recipe().result([*field(), strange])
    assert refused(made, "there is no place '9 front'")
    assert made.of == (strange.uid,)
    assert not made.missing


@pytest.mark.parametrize(
    ("positions", "rows"),
    [((), (("1",),)), (FOUR, ()), (("a", "a"), (("1",),)), (FOUR, (("1", "1"),))],
)
def test_a_field_that_names_nothing_or_a_thing_twice_is_refused(positions, rows):
    with pytest.raises(RecipeError, match="each once"):
        Field(positions, rows)


@given(st.floats(-10, 10), st.sampled_from([1, -1]))
def test_adding_a_constant_moves_the_means_and_nothing_else(added, sign):
    plain = recipe().result(field())
    moved = recipe().result(
        field({g: tuple(sign * h + added for h in four) for g, four in HEIGHTS.items()})
    )
    assert moved.value == pytest.approx(sign * plain.value + added, abs=1e-9)
    for before, after in zip(plain.parts, moved.parts, strict=True):
        expected = before.value
        if before.name in ("mean", "step to neighbour"):
            expected = sign * before.value + (added if before.name == "mean" else 0)
        assert after.value == pytest.approx(expected, abs=1e-9)


def test_the_stated_intervals_cover_the_truth():
    chance = random.Random(12)

    def noisy():
        return {g: tuple(h + chance.gauss(0, 0.0005) for h in f) for g, f in HEIGHTS.items()}

    def of(part, where, truth):
        def trial():
            found = recipe().result(field(noisy())).part(part, where)
            return found.value, found.u, truth

        return covered(trial)

    assert 0.93 < of("mean", "2", 0.114) < 0.97
    assert 0.93 < of("step to neighbour", "2 to 3", -0.016) < 0.97
    # A range of equal heights is all noise: it reads too large, and its u says so.
    assert 0.93 < of("range within", "3", 0.0) < 0.99
