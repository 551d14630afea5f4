"""True top dead centre, and the slider-crank equation that it leans on."""

import math
import random

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from daq.jobs.recipes import (
    Component,
    EqualHeights,
    HeightFit,
    RecipeError,
    Refusal,
    Result,
    SliderCrank,
)
from tests.daq.jobs.recipes.making import covered, refused, settled

CRANK = SliderCrank(70, 240)
"""Invented: stroke 140 mm, rod 240 mm."""

cranks = st.builds(
    lambda radius, ratio, offset: SliderCrank(radius, radius * ratio, radius * offset),
    st.floats(20, 300),
    st.floats(1.5, 6),
    st.floats(-0.3, 0.3),
)


def height(crank, after_deg, top_mm=50.0):
    return top_mm - crank.drop_mm(after_deg)


def heights(crank, angles, true_deg=0.0, u_mm=0.003, noise=None, noise_deg=None):
    """Heights at angles from the true top, read off a scale on which it is at ``true_deg``."""
    return [
        settled(
            height(crank, angle) + (noise() if noise else 0),
            u_mm,
            angle_deg=(true_deg + angle + (noise_deg() if noise_deg else 0)) % 360,
            position="before" if angle < 0 else "after",
        )
        for angle in angles
    ]


# The equation.


def test_known_places_of_the_piston():
    """Right angle: r + l - sqrt(l² - r²); bottom: the stroke, 2r. Closed forms."""
    assert CRANK.drop_mm(0) == 0
    assert CRANK.drop_mm(90) == pytest.approx(70 + 240 - math.sqrt(240**2 - 70**2))
    assert CRANK.drop_mm(180) == pytest.approx(140)
    assert CRANK.slope_mm_per_deg(0) == pytest.approx(0, abs=1e-15)
    assert CRANK.slope_mm_per_deg(90) == pytest.approx(math.radians(70))


@given(cranks, st.floats(-180, 180))
def test_the_rod_keeps_its_length(crank, angle):
    """The piston pin from the equation is a rod's length from the crank pin: Pythagoras."""
    top = math.sqrt((crank.rod_mm + crank.radius_mm) ** 2 - crank.offset_mm**2)
    t = crank.top_rad + math.radians(angle)
    pin_mm = (crank.radius_mm * math.sin(t), crank.radius_mm * math.cos(t))
    piston_mm = (crank.offset_mm, top - crank.drop_mm(angle))
    assert math.dist(pin_mm, piston_mm) == pytest.approx(crank.rod_mm, rel=1e-12)
    assert crank.drop_mm(angle) >= -1e-9


@given(cranks, st.floats(-170, 170))
def test_the_slope_is_the_derivative(crank, angle):
    step = 1e-4
    slope = (crank.drop_mm(angle + step) - crank.drop_mm(angle - step)) / (2 * step)
    assert crank.slope_mm_per_deg(angle) == pytest.approx(slope, rel=1e-5, abs=1e-6)


@given(cranks, st.booleans())
def test_the_piston_stands_still_at_the_bottom_and_is_lowest_there(crank, after):
    bottom = crank.bottom_deg(after=after)
    assert abs(crank.slope_mm_per_deg(bottom)) < 1e-9 * crank.radius_mm
    assert crank.drop_mm(bottom) >= max(crank.drop_mm(bottom + by) for by in (-5, -1, 1, 5))


@given(cranks, st.floats(0.005, 0.95), st.booleans())
def test_the_angle_of_a_drop_is_found_again(crank, share, after):
    signed = share * crank.bottom_deg(after=after)
    found = crank.angle_deg(crank.drop_mm(signed), after=after)
    assert found == pytest.approx(signed, abs=1e-6)


@given(cranks, st.floats(1, 120))
def test_an_offset_is_mirrored_by_turning_the_other_way(crank, angle):
    other = SliderCrank(crank.radius_mm, crank.rod_mm, -crank.offset_mm)
    assert other.drop_mm(-angle) == pytest.approx(crank.drop_mm(angle), rel=1e-9, abs=1e-12)


def test_next_to_the_top_the_piston_follows_a_parabola():
    """r(1 + r/l)·t²/2 for small t: series of the equation, no offset. No digits are lost."""
    for angle in (1e-6, 1e-3, 0.1):
        t = math.radians(angle)
        assert CRANK.drop_mm(angle) == pytest.approx(70 * (1 + 70 / 240) * t * t / 2, rel=1e-5)


def test_the_height_tells_most_between_70_and_80_degrees():
    slopes = {angle: CRANK.slope_mm_per_deg(angle) for angle in range(1, 180)}
    assert 70 <= max(slopes, key=slopes.get) <= 80


def test_the_equation_agrees_with_a_reference_library():
    optimize = pytest.importorskip("scipy.optimize")
    crank = SliderCrank(70, 240, 12)
    lowest = optimize.minimize_scalar(
        lambda t: -(70 * math.cos(t) + math.sqrt(240**2 - (70 * math.sin(t) - 12) ** 2)),
        bounds=(-0.5, 0.5),
        method="bounded",
        options={"xatol": 1e-12},
    )
    assert crank.top_rad == pytest.approx(lowest.x, abs=1e-6)
    for drop in (0.5, 12.0, 60.0):
        for after, far in ((True, 150), (False, -150)):
            theirs = optimize.brentq(lambda a, drop=drop: crank.drop_mm(a) - drop, 0, far)
            assert crank.angle_deg(drop, after=after) == pytest.approx(theirs, abs=1e-9)


@pytest.mark.parametrize(
    "facts", [(0, 240), (70, 60), (70, 100, 40), (70, math.nan), (70, 240, 0, -1)]
)
def test_a_crank_that_cannot_turn_is_refused(facts):
    with pytest.raises(RecipeError):
        SliderCrank(*facts)


def test_a_drop_beyond_the_stroke_is_refused():
    with pytest.raises(RecipeError, match=r"does not drop by 140\.5"):
        CRANK.angle_deg(140.5, after=True)


# Equal heights.


@example(SliderCrank(20, 40), 0.0, 90.0)
@given(cranks, st.floats(-179, 179), st.floats(0, 359))
def test_the_true_top_is_found_exactly(crank, late, mark):
    points = heights(crank, (-40, -30), mark + late)
    equal = [crank.angle_deg(crank.drop_mm(a), after=True) for a in (-30, -40)]
    points += heights(crank, equal, mark + late)
    made = EqualHeights(crank, 0.1, marked_deg=mark).result(points)
    assert (made.value - late + 180) % 360 - 180 == pytest.approx(0, abs=1e-4)
    assert made.unit == "deg"
    assert made.of == tuple(point.uid for point in points)
    assert made.doubts == ()


def test_without_an_offset_the_middle_does_not_depend_on_stroke_or_rod():
    points = heights(CRANK, (-40, 40), 0.7)
    for crank in (CRANK, SliderCrank(50, 300), SliderCrank(120, 200)):
        assert EqualHeights(crank, 0.1, angles_deg=(40,)).result(points).value == pytest.approx(0.7)


def test_with_an_offset_the_plain_middle_would_be_wrong():
    crank = SliderCrank(70, 240, 12)
    equal = crank.angle_deg(crank.drop_mm(-40), after=True)
    points = heights(crank, (-40, equal))
    plain = EqualHeights(CRANK, 0.1, angles_deg=(40,)).result(points)
    known = EqualHeights(crank, 0.1, angles_deg=(40,)).result(points)
    assert known.value == pytest.approx(0, abs=1e-6)
    assert plain.value == pytest.approx((equal - 40) / 2)
    assert plain.value > 0.1
    unsure = SliderCrank(70, 240, u_offset_mm=12)
    made = EqualHeights(unsure, 0.1, angles_deg=(40,)).result(points)
    share = {each.name: each.contribution for each in made.components}["offset"]
    assert share == pytest.approx(plain.value, rel=0.02)


def test_heights_of_a_pair_that_differ_a_little_are_put_right_by_the_pistons_speed():
    points = heights(CRANK, (-40, 40.4), 0.7)
    made = EqualHeights(CRANK, 0.1, angles_deg=(40,)).result(points)
    assert made.value == pytest.approx(0.7, abs=2e-3)
    depth = [settled(-p.value_mm, angle_deg=p.angle_deg, position=p.position) for p in points]
    gauge = EqualHeights(CRANK, 0.1, angles_deg=(40,), higher_reads_higher=False)
    assert gauge.result(depth).value == pytest.approx(made.value, abs=1e-9)


def test_the_uncertainty_is_that_of_the_angles_and_of_the_heights_through_the_speed():
    """One pair: u² = u_angle²/2 + (u_height/speed)²/2."""
    points = heights(CRANK, (-40, 40), u_mm=0.02)
    shared = Component("parallax", 0.05, "deg")
    made = EqualHeights(CRANK, 0.1, angles_deg=(40,), common=(shared,)).result(points)
    of_heights = 0.02 / CRANK.slope_mm_per_deg(40)
    assert made.u == pytest.approx(math.sqrt((0.1**2 + of_heights**2) / 2 + 0.05**2))
    assert any("not held against the crank's equation" in remark for remark in made.remarks)


def test_heights_too_near_to_the_top_are_doubted_then_refused():
    made = EqualHeights(CRANK, 0.1, angles_deg=(6,)).result(heights(CRANK, (-6, 6)))
    assert "too near to the top" in made.doubts[0]
    coarse = EqualHeights(CRANK, 0.1, angles_deg=(20,)).result(heights(CRANK, (-20, 20), u_mm=0.2))
    assert "too near to the top" in coarse.doubts[0]
    # At 30° the piston moves 0.767 mm for a degree: of 0.1° that is the share of a u of 0.077 mm.
    for u_mm, doubted in ((0.07, False), (0.08, True)):
        points = heights(CRANK, (-30, 30), u_mm=u_mm)
        made = EqualHeights(CRANK, 0.1, angles_deg=(30,)).result(points)
        assert bool(made.doubts) == doubted
    made = EqualHeights(CRANK, 0.1).result(heights(CRANK, (-1.5, -1, 1, 1.5)))
    assert refused(made, "cannot tell it", "some tens of degrees")


@pytest.mark.parametrize(
    ("points", "words"),
    [
        (heights(CRANK, (-40, -30, 30, 42)), "differ by"),
        (heights(CRANK, (-40, -30, 30, 40, 40)), "do not pair"),
        ([settled(1.0, position="before")], "no angle"),
        ([settled(1.0, angle_deg=320)], "neither before nor after"),
    ],
)
def test_heights_that_contradict_each_other_are_refused(points, words):
    made = EqualHeights(CRANK, 0.1).result(points)
    assert refused(made, words)
    assert not made.missing


def test_before_and_after_the_wrong_way_round_are_refused():
    swapped = [
        settled(p.value_mm, angle_deg=-(p.angle_deg or 0) % 360, position=p.position)
        for p in heights(CRANK, (-40, -30, 30, 40))
    ]
    assert refused(EqualHeights(CRANK, 0.1).result(swapped), "280° apart", "running direction")


def test_a_wrong_rod_or_a_tilted_gauge_shows_against_the_equation():
    angles = (-60, -40, -20, 20, 40, 60)
    recipe = EqualHeights(CRANK, 0.05, angles_deg=(60, 40, 20))
    assert recipe.result(heights(CRANK, angles)).doubts == ()
    wrong = EqualHeights(SliderCrank(70, 150), 0.05, angles_deg=(60, 40, 20))
    made = wrong.result(heights(CRANK, angles))
    assert made.value == pytest.approx(0, abs=1e-9)
    assert "do not follow the crank's equation" in made.doubts[0]
    tilted = [
        settled(p.value_mm * 1.06, 0.003, angle_deg=p.angle_deg, position=p.position)
        for p in heights(CRANK, angles)
    ]
    assert "do not follow the crank's equation" in recipe.result(tilted).doubts[0]


def test_levels_whose_middles_differ_are_doubted():
    points = [*heights(CRANK, (-40, 40), 0.0), *heights(CRANK, (-30, 30), 1.5)]
    doubts = EqualHeights(CRANK, 0.1).result(points).doubts
    assert "the middles of the levels differ by 1.50°" in doubts


def test_heights_are_asked_for_before_then_the_same_after():
    recipe, points, said = EqualHeights(CRANK, 0.1, marked_deg=10), [], []
    while (wanted := recipe.wants(points)) is not None:
        made = recipe.result(points)
        assert isinstance(made, Refusal)
        assert made.missing
        said.append((wanted.position, wanted.angle_deg))
        assert (wanted.number, wanted.of) == (len(said), 4)
        points += heights(CRANK, ((wanted.angle_deg - 10 + 180) % 360 - 180,), 10)
    assert said == [("before", 330), ("before", 340), ("after", 40), ("after", 50)]
    assert isinstance(recipe.result(points), Result)
    assert "until the gauge reads 38.056 mm again" in recipe.wants(points[:2]).words


@pytest.mark.parametrize("angles", [(), (1.0,), (40, 2)])
def test_equal_heights_at_the_top_are_not_asked_for(angles):
    with pytest.raises(RecipeError, match="more than 2°"):
        EqualHeights(CRANK, 0.1, angles_deg=angles)


# Heights at several angles.


sides = st.lists(st.floats(5, 95), min_size=2, max_size=4, unique_by=lambda angle: angle // 5)


@given(cranks, st.floats(-179, 179), st.booleans(), sides, sides)
def test_the_fit_finds_the_true_top_exactly(crank, late, higher, before, after):
    points = heights(crank, (*(-angle for angle in before), *after), late)
    if not higher:
        points = [settled(-p.value_mm, 0.003, angle_deg=p.angle_deg) for p in points]
    made = HeightFit(crank, 0.1, higher_reads_higher=higher).result(points)
    assert (made.value - late + 180) % 360 - 180 == pytest.approx(0, abs=1e-6)
    assert made.doubts == ()


def test_the_fit_agrees_with_a_reference_library():
    optimize = pytest.importorskip("scipy.optimize")
    chance = random.Random(16)
    angles = (-41, -33, -20, 18, 29, 44)
    points = heights(CRANK, angles, 0.4, noise=lambda: chance.gauss(0, 0.01), u_mm=0.01)
    # With the angles as good as exact, every height weighs alike: ordinary least squares.
    made = HeightFit(CRANK, 1e-6).result(points)
    at = [(p.angle_deg + 180) % 360 - 180 for p in points]
    theirs = optimize.least_squares(
        lambda x: [
            x[1] - CRANK.drop_mm(a - x[0]) - p.value_mm for a, p in zip(at, points, strict=True)
        ],
        (0.0, 50.0),
        xtol=1e-14,
        ftol=1e-14,
        gtol=1e-14,
    )
    assert made.value == pytest.approx(theirs.x[0], abs=1e-7)
    scatter = made.part("scatter about the equation").value
    assert scatter == pytest.approx(math.sqrt(2 * theirs.cost / 4), rel=1e-6)


def test_the_fit_leans_on_the_rod_where_the_heights_are_lopsided():
    points = heights(CRANK, (-60, -50, -40, 10, 15))
    crank = SliderCrank(70, 240, u_rod_mm=2.0, u_radius_mm=0.2, u_offset_mm=0.5)
    made = HeightFit(crank, 0.05).result(points)
    shares = {each.name: each.contribution for each in made.components}
    assert set(shares) == {"heights and angles", "rod length", "crank radius", "offset"}
    longer = HeightFit(SliderCrank(70, 242), 0.05).result(points).value
    assert shares["rod length"] == pytest.approx(abs(longer), rel=1e-6)
    assert shares["rod length"] > 0.01
    level = HeightFit(SliderCrank(70, 240, u_rod_mm=2.0), 0.05).result(
        heights(CRANK, (-40, -30, 30, 40))
    )
    assert level.components[1].contribution < 1e-6


@pytest.mark.parametrize(
    ("points", "words", "missing"),
    [
        (heights(CRANK, (-40, -30, 30)), "3 of at least 4", True),
        (heights(CRANK, (20, 25, 30, 40)), "one side", True),
        ([*heights(CRANK, (-40, -30, 30)), settled(38.0)], "no angle", False),
    ],
)
def test_heights_that_cannot_tell_the_top_are_refused(points, words, missing):
    made = HeightFit(CRANK, 0.1).result(points)
    assert refused(made, words)
    assert made.missing == missing


def test_angles_on_both_sides_are_asked_for():
    assert HeightFit(CRANK, 0.1).wants([]).angle_deg == 320
    recipe, points = HeightFit(CRANK, 0.1, marked_deg=350), []
    while (wanted := recipe.wants(points)) is not None:
        assert isinstance(recipe.result(points), Refusal) or len(points) >= 4
        points += heights(CRANK, ((wanted.angle_deg - 350 + 180) % 360 - 180,), 350)
    assert len(points) == 6
    assert recipe.result(points).value == pytest.approx(0, abs=1e-9)
    with pytest.raises(RecipeError, match="both sides"):
        HeightFit(CRANK, 0.1, angles_deg=(10, 20, 30, 40))
    with pytest.raises(RecipeError, match="4 heights"):
        HeightFit(CRANK, 0.1, angles_deg=(-10, 10))


@pytest.mark.parametrize(
    ("recipe", "angles"),
    [
        (EqualHeights(CRANK, 0.1), (-40, -30, 30, 40)),
        (EqualHeights(CRANK, 0.1, angles_deg=(25,)), (-25, 25)),
        (HeightFit(CRANK, 0.1), (-45, -20, 15, 30, 35)),
    ],
    ids=["two levels", "one level", "lopsided fit"],
)
def test_the_stated_interval_covers_the_truth(recipe, angles):
    chance = random.Random(17)

    def trial():
        points = heights(
            CRANK,
            angles,
            0.4,
            u_mm=0.02,
            noise=lambda: chance.gauss(0, 0.02),
            noise_deg=lambda: chance.gauss(0, 0.1),
        )
        made = recipe.result(points)
        return None if isinstance(made, Refusal) else (made.value, made.u, 0.4)

    assert 0.935 < covered(trial) < 0.985
