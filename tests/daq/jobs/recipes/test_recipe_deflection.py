"""Crank-web deflection from five positions of the crank pin."""

import math
import random

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from daq.jobs.recipes import POSITIONS, Component, Deflection, RecipeError, Refusal, Result
from tests.daq.jobs.recipes.making import covered, refused, settled

PARTS = (
    "vertical, dead centre to dead centre",
    "second harmonic, upright",
    "second harmonic, slanting",
)
small = st.floats(-0.2, 0.2)


def angles(past_bottom_deg=30.0):
    """Crank pin angles from bottom, in running direction, of the five positions."""
    return (past_bottom_deg, 90.0, 180.0, 270.0, 360.0 - past_bottom_deg)


def shape(angle_deg, c=1.0, a=0.02, b=0.005, d=0.0, e=0.0):
    """c - a cos + b sin + d cos 2 + e sin 2, of the angle from bottom."""
    t = math.radians(angle_deg)
    return c - a * math.cos(t) + b * math.sin(t) + d * math.cos(2 * t) + e * math.sin(2 * t)


def throw(past_bottom_deg=30.0, u_mm=0.0003, noise=None, **harmonics):
    """Five readings and the first one again."""
    at = angles(past_bottom_deg)
    return [
        settled(shape(angle, **harmonics) + (noise() if noise else 0), u_mm, position=position)
        for angle, position in zip((*at, at[0]), (*POSITIONS, POSITIONS[0]), strict=True)
    ]


def test_vertical_and_horizontal_misalignment():
    """a(1 + cos 30°) and 2b: closed form of the first harmonic."""
    points = throw()
    made = Deflection().result(points)
    assert made.part("vertical").value == pytest.approx(0.02 * (1 + math.cos(math.radians(30))))
    assert made.part("horizontal").value == pytest.approx(0.01)
    assert made.value_mm == pytest.approx(made.part("vertical").value)
    assert made.of == tuple(point.uid for point in points)
    assert made.doubts == ()


def test_readings_of_a_sheet_by_hand():
    """Invented readings in hundredths: bottom 0 and -1, top +6, sides +3 and +2."""
    readings = dict(zip(POSITIONS, (0.00, 0.03, 0.06, 0.02, -0.01), strict=True))
    points = [settled(value, 0.002, position=name) for name, value in readings.items()]
    made = Deflection().result([*points, settled(0.0, 0.002, position=POSITIONS[0])])
    assert made.part("vertical").value == pytest.approx(0.065)
    assert made.part("horizontal").value == pytest.approx(0.01)


@given(small, small, small, small, small, st.floats(5, 60))
def test_all_five_harmonics_are_found_exactly(c, a, b, d, e, past_bottom):
    points = throw(past_bottom, c=c, a=a, b=b, d=d, e=e)
    made = Deflection(past_bottom_deg=past_bottom).result(points)
    found = [made.part(name).value for name in PARTS]
    assert found == pytest.approx([2 * a, d, e], abs=1e-9)


@given(st.lists(st.floats(-1, 1), min_size=5, max_size=5), st.floats(5, 60))
def test_the_closed_form_is_the_solution_of_five_equations(readings, past_bottom):
    """Against numpy.linalg.solve, for readings of any kind."""
    rows = [
        [1, -math.cos(t), math.sin(t), math.cos(2 * t), math.sin(2 * t)]
        for t in map(math.radians, angles(past_bottom))
    ]
    _, a, _, d, e = np.linalg.solve(np.array(rows), np.array(readings))
    points = [settled(v, position=p) for v, p in zip(readings, POSITIONS, strict=True)]
    points.append(settled(readings[0], position=POSITIONS[0]))
    made = Deflection(past_bottom_deg=past_bottom).result(points)
    found = [made.part(name).value for name in PARTS]
    assert found == pytest.approx([2 * a, d, e], abs=1e-9)


def test_it_agrees_with_a_reference_library():
    linalg = pytest.importorskip("scipy.linalg")
    readings = (0.00, 0.03, 0.06, 0.02, -0.01)
    rows = [
        [1, -math.cos(t), math.sin(t), math.cos(2 * t), math.sin(2 * t)]
        for t in map(math.radians, angles())
    ]
    _, a, _, d, e = linalg.solve(rows, readings)
    points = [settled(v, 0.01, position=p) for v, p in zip(readings, POSITIONS, strict=True)]
    made = Deflection().result([*points, settled(0.0, 0.01, position=POSITIONS[0])])
    assert [made.part(name).value for name in PARTS] == pytest.approx([2 * a, d, e])


def test_the_sum_rule_top_and_bottom_equal_side_and_side():
    """T + B = S + S where there is no second harmonic; the misfit is 4 d."""
    for d in (0.0, 0.003):
        harmonics = {"a": 0.02, "b": 0.005, "d": d}
        bottom, first, top, second = (shape(at, **harmonics) for at in (0, 90, 180, 270))
        made = Deflection().result(throw(**harmonics))
        found = made.part("second harmonic, upright").value
        assert top + bottom - first - second == pytest.approx(4 * found, abs=1e-12)


def test_a_second_harmonic_is_doubted_when_it_is_more_than_noise_and_counts():
    made = Deflection().result(throw(d=0.006))
    assert [doubt for doubt in made.doubts if "second harmonic, upright: +0.006 mm" in doubt]
    made = Deflection().result(throw(e=-0.006))
    assert [doubt for doubt in made.doubts if "second harmonic, slanting: -0.006 mm" in doubt]
    assert Deflection().result(throw(d=0.001)).doubts == ()
    assert Deflection().result(throw(d=0.006, u_mm=0.01)).doubts == ()


def test_a_wrong_reading_is_doubted():
    points = throw()
    points[1] = settled(points[1].value_mm + 0.02, 0.0003, position=POSITIONS[1])
    assert Deflection().result(points).doubts


@given(small, small, st.floats(-20, 20))
def test_the_sign_the_zero_and_the_larger_of_the_two(a, b, zero):
    made = Deflection().result(throw(a=a, b=b))
    turned = Deflection(open_reads_higher=False).result(
        [settled(zero - p.value_mm, 0.0003, position=p.position) for p in throw(a=a, b=b)]
    )
    for name in ("vertical", "horizontal"):
        assert turned.part(name).value == pytest.approx(made.part(name).value, abs=1e-9)
    both = (made.part("vertical").value, made.part("horizontal").value)
    assert made.value_mm == pytest.approx(max(map(abs, both)), abs=1e-12)
    assert made.value_mm >= 0


def test_the_uncertainty_is_that_of_the_readings():
    """Vertical: top, the first one twice and the last: 1 + 2(1/4)² + (1/2)². Horizontal: 2."""
    made = Deflection(common=(Component("hysteresis", 0.001),)).result(throw(u_mm=0.001))
    assert made.part("vertical").u == pytest.approx(0.001 * math.sqrt(1 + 2 / 16 + 1 / 4))
    assert made.part("horizontal").u == pytest.approx(0.001 * math.sqrt(2))
    assert made.u_mm == pytest.approx(math.hypot(made.part("vertical").u, 0.001))


def test_a_turn_that_closes_badly_is_doubted_and_then_refused():
    for off, expected in ((0.0012, Result), (0.0014, Result), (0.003, Result), (0.006, Refusal)):
        points = throw(u_mm=0.0003)
        points[-1] = settled(points[0].value_mm + off, 0.0003, position=POSITIONS[0])
        made = Deflection().result(points)
        assert isinstance(made, expected)
        if off < 0.003:
            # Three times the u of the difference, √2 · 0.0003 mm, is 0.00127 mm.
            assert bool(made.doubts) == (off == 0.0014)
        if off == 0.003:
            assert "closes only to +0.003 mm" in made.doubts[-1]
            assert made.components[1].u == pytest.approx(0.003 / math.sqrt(3))
        if off == 0.006:
            assert refused(made, "+0.006 mm from before", "gauge has moved")
            assert not made.missing
            assert isinstance(Deflection(closing_limit_mm=0.01).result(points), Result)


def test_a_turn_that_closes_too_low_is_refused_whatever_the_sign_of_the_deflection():
    for harmonics in ({"a": 0.02, "b": 0.0}, {"a": -0.02, "b": 0.0}, {"a": 0.0, "b": -0.02}):
        for off, expected in ((-0.006, Refusal), (-0.002, Result)):
            points = throw(u_mm=0.0003, **harmonics)
            points[-1] = settled(points[0].value_mm + off, 0.0003, position=POSITIONS[0])
            made = Deflection().result(points)
            assert isinstance(made, expected)
            if off == -0.002:
                assert len(made.doubts) == 1
                assert made.value_mm > 0


def test_positions_are_asked_for_in_running_direction_and_the_first_again():
    recipe, points, said = Deflection(past_bottom_deg=25), [], []
    while (wanted := recipe.wants(points)) is not None:
        made = recipe.result(points)
        assert isinstance(made, Refusal)
        assert made.missing
        said.append(wanted.position)
        assert (wanted.number, wanted.of) == (len(said), 6)
        assert "in running direction" in wanted.words
        points.append(settled(1.0, position=wanted.position))
    assert said == [*POSITIONS, POSITIONS[0]]
    assert isinstance(recipe.result(points), Result)
    assert "25° past bottom" in recipe.wants([]).words


def test_a_reading_at_no_position_is_refused():
    made = Deflection().result([*throw(), settled(1.0, position="bottom")])
    assert refused(made, "no position 'bottom'")
    assert not made.missing


@pytest.mark.parametrize(
    "facts", [{"past_bottom_deg": 4}, {"past_bottom_deg": 61}, {"closing_limit_mm": -1}]
)
def test_a_recipe_that_means_nothing_is_refused(facts):
    with pytest.raises(RecipeError):
        Deflection(**facts)


def test_the_stated_intervals_cover_the_truth():
    chance = random.Random(15)
    truths = {
        "vertical": 0.02 * (1 + math.cos(math.radians(30))) + 0.001 * (1 - math.cos(math.pi / 3)),
        "horizontal": 0.01,
        "second harmonic, upright": 0.001,
        "second harmonic, slanting": -0.0005,
    }
    for name, truth in truths.items():

        def trial(name=name, truth=truth):
            points = throw(d=0.001, e=-0.0005, noise=lambda: chance.gauss(0, 0.0003))
            part = Deflection().result(points).part(name)
            return part.value, part.u, truth

        assert 0.93 < covered(trial) < 0.97
