"""Corrections for tilt, temperature and the gauge's own calibration."""

import itertools
import math
import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daq.jobs.recipes import (
    Body,
    Deflection,
    EqualHeights,
    Field,
    GaugeTable,
    Length,
    Play,
    RecipeError,
    RunOut,
    SliderCrank,
    TablePoint,
    Temperature,
    Tilt,
    corrected,
)
from tests.daq.jobs.recipes.making import refused, settled

STEEL, ALUMINIUM = 11.5e-6, 23.2e-6


def one(value_mm, correction, u_mm=0.0):
    return corrected(Length(), [settled(value_mm, u_mm)], [correction])


def shares(result):
    return {each.name: each.contribution for each in result.components}


def table(*errors_mm, u_mm=0.0004, **more):
    """Errors at 0, 5, 10 mm and so on."""
    points = tuple(TablePoint(5.0 * i, error, u_mm) for i, error in enumerate(errors_mm))
    return GaugeTable(points, "certificate 12, invented", **more)


# Tilt.


@pytest.mark.parametrize(("tilt", "percent"), [(5, 0.4), (10, 1.5)])
def test_a_tilted_gauge_reads_long_by_its_cosine(tilt, percent):
    """5° is 0.4 %, 10° is 1.5 %: common practice; true = read · cos, exactly."""
    made = one(20.0, Tilt(tilt, 0.0))
    assert made.value_mm == pytest.approx(20 * math.cos(math.radians(tilt)))
    (applied,) = made.corrections
    assert applied.amount == pytest.approx(made.value_mm - 20)
    assert -applied.amount / 20 * 100 == pytest.approx(percent, abs=0.05)
    assert f"stood at {tilt}°" in applied.why


def test_only_the_travel_from_where_it_was_mastered_is_wrong():
    assert one(76.2, Tilt(10, 0, mastered_mm=76.2)).value_mm == pytest.approx(76.2)
    made = one(76.7, Tilt(10, 0, mastered_mm=76.2))
    assert made.value_mm == pytest.approx(76.2 + 0.5 * math.cos(math.radians(10)))


def test_the_uncertainty_of_the_tilt_is_travel_times_sine_times_u():
    made = one(20.0, Tilt(10, 1))
    u = math.radians(1)
    expected = 20 * math.sin(math.radians(10)) * u
    assert shares(made)["tilt"] == pytest.approx(expected, rel=1e-3)
    assert {each.name: each.unit for each in made.components}["tilt"] == "deg"
    assert shares(made)["tilt, second order"] < 0.1 * expected


def test_a_gauge_meant_to_stand_square_has_only_the_second_order():
    """Mean cos = 1 - u², sd = u² for two planes: JCGM 100:2008, F.2.4.4 (from memory)."""
    made = one(20.0, Tilt(0, 2))
    spread = math.radians(2) ** 2
    assert made.corrections[0].amount == pytest.approx(-20 * spread, rel=1e-3)
    assert shares(made)["tilt"] == 0
    assert shares(made)["tilt, second order"] == pytest.approx(20 * spread, rel=2e-3)


@pytest.mark.parametrize(("tilt", "u"), [(0, 3), (4, 3), (15, 2)])
def test_mean_and_spread_of_the_cosine_are_those_of_a_simulation(tilt, u):
    chance = random.Random(18)
    seen = [
        math.cos(math.radians(chance.gauss(tilt, u))) * math.cos(math.radians(chance.gauss(0, u)))
        for _ in range(40_000)
    ]
    mean = math.fsum(seen) / len(seen)
    sd = math.sqrt(math.fsum((each - mean) ** 2 for each in seen) / len(seen))
    made = one(1.0, Tilt(tilt, u))
    assert made.value == pytest.approx(mean, abs=4 * sd / 200)
    assert made.u == pytest.approx(sd, rel=0.03)


@pytest.mark.parametrize("facts", [(31, 1), (-1, 1), (5, 11), (5, -1), (5, 1, math.nan)])
def test_a_tilt_too_large_to_correct_is_refused(facts):
    with pytest.raises(RecipeError):
        Tilt(*facts)


# Temperature.


@pytest.mark.parametrize(
    ("length", "gauge", "part", "amount_um"),
    [
        (100, (20, STEEL), (25, STEEL), -5.75),
        (100, (25, STEEL), (20, STEEL), 5.75),
        (25, (20, STEEL), (21, STEEL), -0.2875),
        (100, (25, STEEL), (25, ALUMINIUM), -5.85),
        (100, (25, STEEL), (25, STEEL), 0),
    ],
)
def test_lengths_are_brought_to_20_degrees(length, gauge, part, amount_um):
    """Steel 11.5e-6 /K (JCGM 100:2008, H.1), aluminium 23.2e-6 /K; products exact."""
    bodies = [Body(celsius, 0, alpha, 0) for celsius, alpha in (gauge, part)]
    made = one(length, Temperature(*bodies))
    assert made.corrections[0].amount * 1000 == pytest.approx(amount_um, abs=1e-9)
    assert made.value_mm == pytest.approx(length + amount_um / 1000)


def test_the_uncertainty_is_that_of_the_guides_end_gauge():
    """JCGM 100:2008, H.1: of 50.000623 mm, 2.9 nm from the difference in expansion coefficients,
    16.6 nm from that in temperature, and 11.7 and 1.7 nm to second order (H.1.7).

    The guide's differences, δα and δθ, are taken here as the inputs of one body.
    """
    delta_alpha, delta_theta = 1e-6 / math.sqrt(3), 0.05 / math.sqrt(3)
    theta, u_theta = -0.1, math.hypot(0.2, 0.5 / math.sqrt(2))
    length = 50.000623
    part = Body(20 + theta, 0, STEEL, delta_alpha)
    made = one(length, Temperature(Body(20, 0, STEEL, 0), part))
    assert shares(made)["expansion of the part"] * 1e6 == pytest.approx(2.9, abs=0.05)
    part = Body(20 + theta, delta_theta, STEEL, 0)
    made = one(length, Temperature(Body(20, 0, STEEL, 0), part))
    assert shares(made)["temperature of the part"] * 1e6 == pytest.approx(16.6, abs=0.05)
    for u_celsius, u_alpha, nm in (
        (u_theta, delta_alpha, 11.7),
        (delta_theta, 2e-6 / math.sqrt(3), 1.7),
    ):
        made = one(length, Temperature(Body(20, 0, STEEL, 0), Body(20, u_celsius, STEEL, u_alpha)))
        assert shares(made)["expansion, second order"] * 1e6 == pytest.approx(nm, abs=0.05)


def test_every_figure_of_both_bodies_is_in_the_uncertainty():
    gauge, part = Body(24, 0.5, STEEL, 1.2e-6), Body(35, 2.0, ALUMINIUM, 2e-6)
    found = shares(one(200.0, Temperature(gauge, part)))
    assert found["temperature of the gauge"] == pytest.approx(200 * STEEL * 0.5)
    assert found["temperature of the part"] == pytest.approx(200 * ALUMINIUM * 2.0)
    assert found["expansion of the gauge"] == pytest.approx(200 * 4 * 1.2e-6)
    assert found["expansion of the part"] == pytest.approx(200 * 15 * 2e-6)
    assert found["expansion, second order"] == pytest.approx(200 * math.hypot(0.6e-6, 4e-6))


def test_the_stated_temperature_uncertainty_is_that_of_a_simulation():
    chance = random.Random(19)
    gauge, part = Body(24, 0.5, STEEL, 1.2e-6), Body(21, 1.0, ALUMINIUM, 2e-6)
    seen = [
        200
        * (
            1
            + chance.gauss(STEEL, 1.2e-6) * (chance.gauss(24, 0.5) - 20)
            - chance.gauss(ALUMINIUM, 2e-6) * (chance.gauss(21, 1.0) - 20)
        )
        for _ in range(40_000)
    ]
    mean = math.fsum(seen) / len(seen)
    sd = math.sqrt(math.fsum((each - mean) ** 2 for each in seen) / len(seen))
    made = one(200.0, Temperature(gauge, part))
    assert made.value == pytest.approx(mean, abs=4 * sd / 200)
    assert made.u == pytest.approx(sd, rel=0.03)


@pytest.mark.parametrize(
    "facts", [(300, 1, STEEL, 0), (-80, 1, STEEL, 0), (20, -1, STEEL, 0), (20, 1, 11.5, 0)]
)
def test_figures_that_are_no_temperature_or_coefficient_are_refused(facts):
    with pytest.raises(RecipeError):
        Body(*facts)


# The gauge's calibration.


@pytest.mark.parametrize(
    ("reads", "true"), [(0, 0), (5, 4.996), (10, 9.998), (2.5, 2.498), (7.5, 7.497), (9, 8.9976)]
)
def test_the_error_of_indication_is_taken_off_with_straight_lines_between(reads, true):
    made = one(float(reads), table(0, 0.004, 0.002))
    assert made.value_mm == pytest.approx(true)
    assert made.corrections[0].amount == pytest.approx(true - reads)
    assert "certificate 12, invented" in made.corrections[0].why


def test_at_the_value_it_was_mastered_at_a_gauge_has_no_error_left():
    """Mastered at 76.2 mm, which is 3.0 mm from the calibration's zero."""
    job = table(0, 0.005, 0.005, zero_mm=73.2, mastered_mm=76.2)
    assert one(76.2, job).value_mm == pytest.approx(76.2)
    assert one(77.2, job).value_mm == pytest.approx(77.2 - 0.001)


@pytest.mark.parametrize("reads", [-0.001, 10.001])
def test_outside_the_calibration_there_is_no_correction_and_no_result(reads):
    made = one(reads, table(0, 0.004, 0.002))
    assert refused(made, f"{reads:.3f} mm is outside its range of 0.000 mm to 10.000 mm")
    assert not made.missing
    with pytest.raises(RecipeError, match="outside the gauge's calibration"):
        table(0, 0.004, 0.002).correct(reads)
    assert refused(one(5.0, table(0, 0.004, mastered_mm=6.0)), "6.000 mm is outside")


def test_the_calibrations_uncertainty_is_that_of_its_points_not_less_between_them():
    for reads in (5.0, 6.0, 7.5):
        made = one(reads, table(0, 0.004, 0.002))
        assert shares(made)["gauge calibration"] == pytest.approx(0.0004)


def test_repeats_do_not_average_the_calibrations_uncertainty():
    points = [settled(6.0, 0.0001) for _ in range(25)]
    made = corrected(Length(25), points, [table(0, 0.004, 0.002)])
    assert shares(made)["gauge calibration"] == pytest.approx(0.0004)


def test_a_difference_has_the_calibration_at_both_ends():
    points = [settled(5.0 * (i % 2)) for i in range(6)]
    made = corrected(Play(3), points, [table(0, 0.004, 0.002)])
    assert made.value_mm == pytest.approx(4.996)
    assert shares(made)["gauge calibration"] == pytest.approx(0.0004 * math.sqrt(2))
    near = [settled(1.0 + 0.1 * (i % 2)) for i in range(6)]
    made = corrected(Play(3), near, [table(0, 0.004, 0.002)])
    # Both ends lie on one line of the table: of its error only the slope counts.
    assert shares(made)["gauge calibration"] == pytest.approx(0.1 / 5 * 0.0004 * math.sqrt(2))


@pytest.mark.parametrize(
    "points", [(), (TablePoint(0, 0, 0),), (TablePoint(5, 0, 0), TablePoint(5, 1, 0))]
)
def test_a_calibration_with_no_range_is_refused(points):
    with pytest.raises(RecipeError, match="two points or more"):
        GaugeTable(points, "certificate")


# All of them.


def test_corrections_apply_in_order_and_each_is_shown():
    bodies = Body(25, 0.5, STEEL, 1e-6), Body(30, 0.5, STEEL, 1e-6)
    every = [table(0, 0.1, 0.3), Tilt(10, 1), Temperature(*bodies)]
    made = corrected(Length(), [settled(7.5)], every)
    steps = [7.5, 7.5 - 0.2]
    steps.append(steps[-1] * Tilt(10, 1).factor)
    steps.append(steps[-1] * Temperature(*bodies).factor)
    amounts = [b - a for a, b in itertools.pairwise(steps)]
    assert [each.amount for each in made.corrections] == pytest.approx(amounts)
    assert [each.name for each in made.corrections] == [each.name for each in every]
    assert made.value_mm == pytest.approx(steps[-1])


def test_a_correction_of_nothing_is_still_shown():
    made = one(5.0, Tilt(0, 0))
    assert [each.amount for each in made.corrections] == [0]
    assert made.u == pytest.approx(0, abs=1e-15)


def test_corrections_are_in_the_parts_too():
    points = [
        settled(0.02 * math.cos(math.radians(a - 70)), angle_deg=a) for a in range(0, 361, 45)
    ]
    made = corrected(RunOut(), points, [Tilt(10, 0)])
    assert made.part("eccentricity").value == pytest.approx(0.02 * math.cos(math.radians(10)))
    assert made.corrections[0].amount == pytest.approx(
        RunOut().result(points).value * (math.cos(math.radians(10)) - 1)
    )


def test_a_tilt_moves_no_dead_centre():
    crank = SliderCrank(70, 240)
    points = [
        settled(-crank.drop_mm(a), 0.003, angle_deg=a % 360, position=side)
        for a, side in ((-40, "before"), (-30, "before"), (30, "after"), (40, "after"))
    ]
    made = corrected(EqualHeights(crank, 0.1), points, [Tilt(5, 1)])
    assert made.corrections[0].amount == pytest.approx(0, abs=1e-9)
    assert made.corrections[0].unit == "deg"


@pytest.mark.parametrize(
    "recipe",
    [
        Length(2),
        Play(),
        RunOut(),
        Field(("front",)),
        Deflection(),
        EqualHeights(SliderCrank(70, 240), 0.1),
    ],
    ids=lambda recipe: type(recipe).__name__,
)
def test_without_all_points_the_recipes_own_refusal_comes_through(recipe):
    made = corrected(recipe, [], [Tilt(5, 1), table(0, 0)])
    assert refused(made)
    assert made.missing
    assert str(made) == str(recipe.result([]))


def test_a_result_that_hangs_on_a_correction_is_refused():
    """So near to the end of the calibration that the uncertainty of the tilt reaches outside it."""
    job = [Tilt(20, 10), table(0, 0.001, 0.002)]
    made = corrected(Length(), [settled(10.97)], job)
    assert refused(made, "tilt", "hangs on it")


def test_no_correction_leaves_the_result_as_it_is():
    points = [settled(5.0)]
    assert corrected(Length(), points, []) == Length().result(points)


@given(st.floats(0.001, 50), st.floats(0, 30), st.floats(0, 10))
def test_a_cosine_never_lengthens(length, tilt, u):
    made = one(length, Tilt(tilt, u))
    assert made.value <= length
    assert made.u >= 0
