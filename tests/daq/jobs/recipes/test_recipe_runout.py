"""Run-out over a turn: movement, eccentricity or tilt, form, and whether the turn closes."""

import itertools
import math
import random

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from daq.jobs.recipes import Component, RecipeError, Refusal, Result, RunOut, first_harmonic
from daq.jobs.recipes.fitting import NoFitError
from daq.jobs.recipes.harmonic import peak_to_valley
from tests.daq.jobs.recipes.making import covered, refused, settled

EIGHT = tuple(45.0 * k for k in range(8))
UNEQUAL = (3.0, 41.0, 77.0, 100.0, 149.0, 201.0, 240.0, 271.0, 322.0)


def cosine(angle_deg, half_swing=0.02, high_deg=70.0, mean=5.0):
    return mean + half_swing * math.cos(math.radians(angle_deg - high_deg))


def turn(angles=(*EIGHT, 360.0), shape=cosine, noise=None, u_mm=0.0005):
    return [
        settled(shape(angle) + (noise() if noise else 0.0), u_mm, angle_deg=angle)
        for angle in angles
    ]


# The first harmonic.


@given(
    st.lists(st.floats(0, 359.9), min_size=4, max_size=30),
    st.floats(1e-3, 2),
    st.floats(0, 360),
    st.floats(-20, 20),
)
def test_a_pure_cosine_is_found_exactly_at_any_angles(angles, half_swing, high, mean):
    turns = np.radians(angles)
    design = np.column_stack([np.ones_like(turns), np.cos(turns), np.sin(turns)])
    if np.linalg.cond(design) > 100:
        return
    values = [cosine(angle, half_swing, high, mean) for angle in angles]
    found = first_harmonic(angles, values, [1e-6] * len(angles))
    assert found.half_swing == pytest.approx(half_swing, rel=1e-6)
    assert (found.high_deg - high + 180) % 360 - 180 == pytest.approx(0, abs=1e-5)
    assert found.mean == pytest.approx(mean, abs=1e-7)
    assert max(map(abs, found.residuals)) < 1e-8


def test_at_equal_angles_it_is_the_first_term_of_the_fourier_series():
    """a = 2/n sum y cos, b = 2/n sum y sin: closed form; u = u sqrt(2/n) in every direction."""
    chance = random.Random(5)
    values = [chance.gauss(0, 1) for _ in EIGHT]
    pairs = list(zip(values, map(math.radians, EIGHT), strict=True))
    a = 2 / 8 * sum(y * math.cos(t) for y, t in pairs)
    b = 2 / 8 * sum(y * math.sin(t) for y, t in pairs)
    found = first_harmonic(EIGHT, values, [0.01] * 8)
    assert found.half_swing == pytest.approx(math.hypot(a, b))
    assert found.high_deg == pytest.approx(math.degrees(math.atan2(b, a)) % 360)
    assert found.u_half_swing == pytest.approx(0.01 * math.sqrt(2 / 8))
    assert found.u_high_deg == pytest.approx(
        math.degrees(0.01 * math.sqrt(2 / 8) / found.half_swing)
    )


@pytest.mark.parametrize("high", [10.0, 70.0, 200.0])
def test_angles_met_badly_make_the_high_spot_uncertain(high):
    """At n equal angles, u(e) = e·u(angle)·sqrt(1/2n), u(high) = u(angle)·sqrt(3/2n)."""
    values = [cosine(angle, 0.02, high) for angle in EIGHT]
    found = first_harmonic(EIGHT, values, [1e-9] * 8, 2.0)
    assert found.u_half_swing == pytest.approx(0.02 * math.radians(2) * math.sqrt(1 / 16), rel=1e-6)
    assert found.u_high_deg == pytest.approx(2 * math.sqrt(3 / 16), rel=1e-6)


def test_it_agrees_with_a_reference_library_at_unequal_angles():
    optimize = pytest.importorskip("scipy.optimize")
    chance = random.Random(6)
    values = [cosine(angle) + chance.gauss(0, 0.001) for angle in UNEQUAL]

    def model(angle, mean, half_swing, high):
        return mean + half_swing * np.cos(np.radians(angle - high))

    theirs, covariance = optimize.curve_fit(
        model, UNEQUAL, values, p0=(5, 0.02, 60), sigma=[0.001] * 9, absolute_sigma=True
    )
    found = first_harmonic(UNEQUAL, values, [0.001] * 9)
    assert [found.mean, found.half_swing, found.high_deg] == pytest.approx(list(theirs), rel=1e-5)
    # Ours holds the form on top, which here is noise above the stated u, and never less.
    assert found.u_half_swing >= math.sqrt(covariance[1, 1]) * 0.999
    assert found.u_half_swing == pytest.approx(math.sqrt(covariance[1, 1]), rel=0.3)
    assert found.u_high_deg == pytest.approx(math.sqrt(covariance[2, 2]), rel=0.3)


@pytest.mark.parametrize("harmonic", [2, 3, 4])
def test_form_at_equal_angles_is_no_eccentricity(harmonic):
    values = [0.01 * math.cos(math.radians(harmonic * angle - 20)) for angle in EIGHT]
    found = first_harmonic(EIGHT, values, [1e-5] * 8)
    assert found.half_swing < 1e-12
    assert found.u_high_deg is None
    assert found.u_half_swing < 2e-5


@pytest.mark.parametrize("harmonic", [2, 3])
def test_form_at_unequal_angles_leaks_and_the_uncertainty_holds_it(harmonic):
    missed = 0
    for phase in range(0, 360, 5):
        values = [
            cosine(angle) + 0.004 * math.cos(math.radians(harmonic * angle - phase))
            for angle in UNEQUAL
        ]
        found = first_harmonic(UNEQUAL, values, [1e-5] * 9)
        missed += abs(found.half_swing - 0.02) > 2 * found.u_half_swing
        assert found.u_half_swing > 5e-5
    assert missed <= 0.1 * 72


def test_the_uncertainty_is_that_of_the_harmonic_that_leaks_most():
    """At uneven angles, over all phases of the form: error of the half swing beside its u."""
    for seed in range(8):
        chance = random.Random(seed)
        count = chance.randint(8, 14)
        angles = [360 / count * i + chance.uniform(-12, 12) for i in range(count)]
        worst = 0.0
        for harmonic in (2, 3, 4):
            phases = range(0, 360, 6)
            found = [
                first_harmonic(
                    angles,
                    [cosine(a) + 0.004 * math.cos(math.radians(harmonic * a - p)) for a in angles],
                    [1e-6] * count,
                )
                for p in phases
            ]
            error = math.hypot(*(each.half_swing - 0.02 for each in found))
            worst = max(worst, error / math.hypot(*(each.u_half_swing for each in found)))
        assert 0.7 < worst < 1.05


@given(st.floats(0, 360), st.floats(-5, 5), st.sampled_from([1, -1]))
def test_turning_the_start_adding_a_constant_and_reversing_the_sign(start, added, sign):
    chance = random.Random(8)
    values = [cosine(angle) + chance.gauss(0, 0.001) for angle in UNEQUAL]
    plain = first_harmonic(UNEQUAL, values, [0.001] * 9)
    moved = first_harmonic(
        [angle + start for angle in UNEQUAL], [sign * v + added for v in values], [0.001] * 9
    )
    assert moved.half_swing == pytest.approx(plain.half_swing, rel=1e-8)
    assert moved.u_half_swing == pytest.approx(plain.u_half_swing, rel=1e-6)
    expected = plain.high_deg + start + (0 if sign == 1 else 180)
    assert (moved.high_deg - expected + 180) % 360 - 180 == pytest.approx(0, abs=1e-6)


def test_two_places_tell_no_harmonic():
    with pytest.raises(NoFitError):
        first_harmonic([0, 0, 180, 180], [1, 1, 2, 2], [0.1] * 4)


@pytest.mark.parametrize("half_swing", [0.0, 0.0004, 0.002, 0.02])
@pytest.mark.parametrize("angles", [EIGHT, UNEQUAL])
def test_the_stated_interval_of_the_eccentricity_covers_the_truth(half_swing, angles):
    """With an angle missed by 2° at every place; near nothing it is a Rayleigh distribution."""
    chance = random.Random(9)

    def trial():
        high = chance.uniform(0, 360)
        values = [
            cosine(a + chance.gauss(0, 2), half_swing, high) + chance.gauss(0, 0.0005)
            for a in angles
        ]
        found = first_harmonic(angles, values, [0.0005] * len(angles), 2.0)
        return found.half_swing, found.u_half_swing, half_swing

    assert 0.93 < covered(trial) < 0.98


def test_the_stated_interval_of_the_high_spot_covers_the_truth():
    chance = random.Random(10)

    def trial():
        high = chance.uniform(0, 360)
        values = [cosine(a, 0.005, high) + chance.gauss(0, 0.0005) for a in EIGHT]
        found = first_harmonic(EIGHT, values, [0.0005] * 8)
        return (found.high_deg - high + 180) % 360 - 180, found.u_high_deg, 0

    assert 0.93 < covered(trial) < 0.97


# Highest less lowest.


def test_of_a_round_part_noise_makes_a_movement_and_its_size_is_known():
    """Expected range of eight equal values: d2 = 2.847 sd (control-chart constant)."""
    chance = random.Random(11)
    seen = [peak_to_valley([chance.gauss(0, 1) for _ in EIGHT], [1.0] * 8) for _ in range(4000)]
    assert sum(moved for moved, _, _ in seen) / 4000 == pytest.approx(2.847, abs=0.05)
    told = sorted(upward for _, _, upward in seen)
    assert told[2000] == pytest.approx(2.847, rel=0.02)


def test_where_the_extremes_stand_out_noise_adds_nothing():
    moved, u, upward = peak_to_valley([0, 10, 5, 5.1, 4.9], [0.1] * 5)
    assert (moved, upward) == (10, 0)
    assert u == pytest.approx(0.1 * math.sqrt(2))


# The recipe.


def test_an_eccentric_round_part():
    points = turn()
    made = RunOut(u_angle_deg=0).result(points)
    # The places nearest to the high spot at 70° and the low one at 250° are 90° and 270°.
    assert made.value_mm == pytest.approx(2 * 0.02 * math.cos(math.radians(20)))
    eccentricity, high = made.part("eccentricity"), made.part("high spot")
    assert eccentricity.value == pytest.approx(0.02)
    assert (high.value, high.unit) == (pytest.approx(70), "deg")
    assert made.part("form, peak to valley").value == pytest.approx(0, abs=1e-9)
    assert made.part("closing difference").value == pytest.approx(0, abs=1e-12)
    assert made.of == tuple(point.uid for point in points)
    assert made.doubts == ()
    # Between places 45° apart, 1 - cos 22.5° of the swing can hide.
    hidden = {each.name: each.u for each in made.components}["between the angles"]
    assert hidden == pytest.approx(0.04 * (1 - math.cos(math.radians(22.5))) / math.sqrt(3))


def test_what_noise_may_add_is_in_the_uncertainty_as_a_rectangle():
    """Of a part with no run-out all values are alike: 2 · 1.43 u for the eight places, over √3."""
    made = RunOut().result(turn(shape=lambda _: 5.0))
    _, _, upward = peak_to_valley([5.0] * 8, [0.0005 / math.sqrt(2), *[0.0005] * 7])
    share = {each.name: each.u for each in made.components}["noise picks the extremes"]
    assert share == pytest.approx(upward / math.sqrt(3))
    assert share == pytest.approx(0.0005 * 2.87 / math.sqrt(3), rel=0.04)


def test_a_face_has_a_tilt_at_its_radius():
    made = RunOut(face_radius_mm=250).result(turn())
    tilt = made.part("tilt")
    assert (tilt.value, tilt.unit) == (pytest.approx(0.08), "mm/m")
    assert "eccentricity" not in [part.name for part in made.parts]
    assert any("thrust face" in remark for remark in made.remarks)


def test_form_is_what_the_first_harmonic_leaves():
    made = RunOut(u_angle_deg=0).result(
        turn(shape=lambda a: cosine(a) + 0.003 * math.cos(math.radians(2 * a)))
    )
    assert made.part("eccentricity").value == pytest.approx(0.02)
    assert made.part("form, peak to valley").value == pytest.approx(0.006)


def test_a_sweep_is_a_turn_of_many_samples():
    chance = random.Random(12)
    points = turn([0.5 * k for k in range(721)], noise=lambda: chance.gauss(0, 0.0005))
    made = RunOut(u_angle_deg=0).result(points)
    assert made.part("eccentricity").value == pytest.approx(0.02, abs=1e-4)
    assert 0.0400 < made.value_mm < 0.0400 + 8 * 0.0005
    assert any("too large" in remark for remark in made.remarks)


def test_a_sweep_that_overlaps_closes_by_the_mean_of_what_it_sees_again():
    """From 359.5° on, 42 samples see a place again: u of their mean difference is √2 u / √42."""
    points = turn([0.5 * k for k in range(761)], u_mm=0.0005)
    made = RunOut(u_angle_deg=0).result(points)
    assert made.part("closing difference").u == pytest.approx(0.0005 * math.sqrt(2 / 42))
    crept = [
        settled(p.value_mm + (0.0005 if p.angle_deg > 359 else 0), 0.0005, angle_deg=p.angle_deg)
        for p in points
    ]
    made = RunOut(u_angle_deg=0).result(crept)
    assert made.part("closing difference").value == pytest.approx(0.0005, abs=5e-6)
    assert "closes only to +0.0005 mm" in made.doubts[0]


def test_a_turn_the_other_way_round_is_a_turn():
    made = RunOut().result(turn([-angle for angle in (*EIGHT, 360)]))
    assert made.part("eccentricity").value == pytest.approx(0.02)


def test_a_turn_that_closes_within_its_uncertainty_is_no_doubt():
    points = turn(u_mm=0.001)
    points[-1] = settled(points[0].value_mm + 0.002, 0.001, angle_deg=360)
    made = RunOut().result(points)
    assert made.doubts == ()
    assert made.part("closing difference").value == pytest.approx(0.002)


def test_a_turn_that_closes_badly_is_doubted_and_the_uncertainty_holds_it():
    points = turn(u_mm=0.0002)
    points[-1] = settled(points[0].value_mm - 0.003, 0.0002, angle_deg=360)
    made = RunOut(u_angle_deg=0).result(points)
    assert "closes only to -0.003 mm" in made.doubts[0]
    assert {each.name: each.u for each in made.components}["closing"] == pytest.approx(
        0.003 / math.sqrt(3)
    )


def test_a_place_met_badly_may_close_as_badly_as_the_slope_there_allows():
    """Half the swing, 0.0188 mm, times 2° is 0.00066 mm: three times √2 of that is 0.0028 mm."""
    for off, u_angle, doubted in ((0.0025, 2, False), (0.0025, 1, True), (0.0031, 2, True)):
        points = turn(u_mm=1e-5)
        points[-1] = settled(points[0].value_mm + off, 1e-5, angle_deg=360)
        assert bool(RunOut(u_angle_deg=u_angle).result(points).doubts) == doubted


def test_a_turn_may_close_a_little_beside_the_first_place():
    """0.4° beside it the value may differ by half the swing times 0.4°: 0.00013 mm."""
    for off, doubted in ((0.00012, False), (0.00018, True)):
        points = turn(u_mm=1e-6)
        points[-1] = settled(points[0].value_mm + off, 1e-6, angle_deg=360.4)
        assert bool(RunOut(u_angle_deg=0).result(points).doubts) == doubted


@pytest.mark.parametrize("off", [0.006, -0.006])
def test_a_turn_that_does_not_close_is_refused_unless_the_sheet_lets_it(off):
    points = turn(u_mm=0.0002)
    points[-1] = settled(points[0].value_mm + off, 0.0002, angle_deg=360)
    made = RunOut(u_angle_deg=0).result(points)
    assert refused(made, "does not close", f"{off:+.3f} mm", "has moved")
    assert not made.missing
    let = RunOut(u_angle_deg=0, closing_limit_mm=0.01).result(points)
    assert isinstance(let, Result)
    assert let.doubts


@pytest.mark.parametrize(
    ("angles", "words"),
    [
        ((), "0 places"),
        (EIGHT[:7], "7 places"),
        (EIGHT, "not closed. Turn on to 360°"),
        ((*(30.0 * k for k in range(10)), 360.0), "gap between them 90°"),
        ((*(angle + 5 for angle in EIGHT), 360.0), "Turn on to 365°"),
        (tuple(-angle for angle in EIGHT), "not closed. Turn on to -360°"),
    ],
)
def test_a_turn_that_is_not_whole_is_refused(angles, words):
    made = RunOut().result(turn(angles))
    assert refused(made, words)
    assert made.missing


def test_a_value_without_an_angle_is_refused():
    assert refused(RunOut().result([*turn(), settled(5.0)]), "a value has no angle")


@pytest.mark.parametrize("start", [0.0, 5.0, -12.0])
def test_angles_are_asked_for_round_the_turn(start):
    assert RunOut().wants([]).angle_deg == 0
    recipe, points, said = RunOut(angles=9, start_deg=start), [], []
    while (wanted := recipe.wants(points)) is not None:
        made = recipe.result(points)
        assert isinstance(made, Refusal)
        assert made.missing
        said.append(wanted.angle_deg)
        assert (wanted.number, wanted.of) == (len(said), 10)
        assert ("must repeat" if len(said) == 10 else f"({len(said)} of 10)") in wanted.words
        points += turn([wanted.angle_deg])
    assert said == pytest.approx([start + 40 * k for k in range(10)])
    assert isinstance(recipe.result(points), Result)


@given(st.lists(st.floats(-5.0, 5.0), min_size=8, max_size=8))
def test_angles_that_are_met_only_nearly_make_a_whole_turn(offs):
    recipe, points = RunOut(), []
    for off in itertools.cycle(offs):
        wanted = recipe.wants(points)
        if wanted is None:
            break
        points += turn([wanted.angle_deg + (off if wanted.number < 9 else 0)])
        assert len(points) <= 9
    assert isinstance(recipe.result(points), Result)


@pytest.mark.parametrize(
    "facts",
    [
        {"angles": 7},
        {"face_radius_mm": 0.0},
        {"start_deg": math.nan},
        {"u_angle_deg": -1.0},
        {"closing_limit_mm": -1.0},
    ],
)
def test_a_recipe_that_means_nothing_is_refused(facts):
    with pytest.raises(RecipeError):
        RunOut(**facts)


@given(st.floats(-5, 5), st.sampled_from([1, -1]), st.floats(0, 360))
def test_the_movement_does_not_depend_on_zero_sign_or_start(added, sign, start):
    chance = random.Random(13)
    points = turn(noise=lambda: chance.gauss(0, 0.0003))
    plain = RunOut().result(points)
    moved = RunOut().result(
        [settled(sign * p.value_mm + added, angle_deg=p.angle_deg + start) for p in points]
    )
    assert moved.value == pytest.approx(plain.value, abs=1e-9)
    assert moved.u == pytest.approx(plain.u, rel=1e-6)


def test_what_does_not_cancel_is_added():
    share = Component("hysteresis", 0.003)
    made = RunOut(common=(share,)).result(turn())
    assert made.u == pytest.approx(math.hypot(RunOut().result(turn()).u, 0.003))


@pytest.mark.parametrize("half_swing", [0.0, 0.002, 0.02])
def test_the_stated_interval_of_the_movement_covers_the_truth(half_swing):
    """The noise of the extremes and what hides between angles are bounds: it covers more than 95 %.

    Of a part with no run-out at all the movement is nothing but noise, and still covered.
    """
    chance = random.Random(14)

    def trial():
        high = chance.uniform(0, 360)
        points = turn(
            shape=lambda a: cosine(a + chance.gauss(0, 2), half_swing, high),
            noise=lambda: chance.gauss(0, 0.0005),
        )
        made = RunOut().result(points)
        return None if isinstance(made, Refusal) else (made.value, made.u, 2 * half_swing)

    assert covered(trial) > 0.93
