"""The budget of a point's error: worked out by hand, and by an independent library."""

import math
from dataclasses import replace
from decimal import Decimal

import pytest

from daq.calibration.assess import Conditions, How, assess
from daq.calibration.plan import prepared
from daq.spec.rules import GuardBand
from tests.daq.calibration.assess.invented_run import (
    ON,
    assessed,
    limited,
    lines,
    plan,
    point,
    points_of,
)
from tests.daq.calibration.invented import flat, gauge, standard

D = Decimal
S_UM = math.sqrt(0.7)
"""Of 2, 3, 1, 2, 3: squares about 2.2 add up to 2.8, over 4."""


def test_a_budget_is_the_one_worked_out_by_hand():
    made = assessed(of=limited(expansion="9"), temperature_c="20.5")
    stated = point(made, "up", "8").stated
    # One block of 8 mm, 0.1 µm at k = 2; a year of 0.05 µm; s of five readings, with the zero.
    lean = 8000 * (1 / math.cos(math.radians(0.25)) - 1)
    by_hand_um = {
        "reference": 0.05,
        "drift of the reference": 0.05 * 365 / 365.25 / math.sqrt(3),
        "expansion of the standard": 8000 * 0.5 * 1e-6,
        "expansion of the gauge": 8000 * 0.5 * 2e-6,
        "temperature": 8000 * 2.5e-6 * 0.2,
        "gauge and standard apart": 8000 * 11.5e-6 * 0.2 / math.sqrt(3),
        "alignment": lean / math.sqrt(3),
        "display step, zero": 0,
        "display step, reading": 0,
        "repeatability": math.sqrt(2) * S_UM,
    }
    rows = lines(stated)
    found_um = {name: 1000 * row.contribution for name, row in rows.items()}
    assert found_um == pytest.approx(by_hand_um, rel=1e-6)
    assert 1000 * stated.budget.u == pytest.approx(math.hypot(*by_hand_um.values()), rel=1e-6)
    # Welch and Satterthwaite: only the repeatability has finite degrees of freedom, four.
    exact = 4 * (stated.budget.u / rows["repeatability"].contribution) ** 4
    assert stated.coverage.dof == math.floor(exact) == 4
    assert stated.k == D("2.77645")  # Student's t for 95 % and 4
    assert stated.expanded_mm == pytest.approx(stated.k * stated.u_mm)


def test_a_budget_agrees_with_an_independent_library():
    gtc = pytest.importorskip("GTC")
    made = assessed(of=limited(expansion="9"), temperature_c="20.5", u_reading="0.0009")
    each = point(made, "down", "6")
    travel_mm, reading = 6.0, float(each.point.reading_mm)
    block = gtc.ureal(6.00002, 0.00005)
    drift = gtc.ureal(0, gtc.type_b.uniform(0.00005 * 365 / 365.25))
    of_standard, of_gauge = gtc.ureal(11.5e-6, 1e-6), gtc.ureal(9e-6, 2e-6)
    away, apart = gtc.ureal(0.5, 0.2), gtc.ureal(0, gtc.type_b.uniform(0.2))
    lean = gtc.ureal(0, gtc.type_b.uniform(1 / math.cos(math.radians(0.25)) - 1))
    s_mm = made.scatter.s_mm
    assert s_mm == pytest.approx(S_UM / 1000, rel=1e-7)
    again = gtc.ureal(0, s_mm * math.sqrt(2), 4)
    noise = [gtc.ureal(0, math.sqrt(0.0009**2 - s_mm**2)) for _ in range(2)]
    seen = (block + drift) + travel_mm * (
        (of_standard - of_gauge) * away + of_standard * apart + lean
    )
    error = reading + again + noise[0] - noise[1] - seen
    assert float(each.point.error_mm) == pytest.approx(error.x, abs=1e-9)
    assert each.stated.budget.u == pytest.approx(error.u, rel=1e-9)
    assert each.stated.coverage.dof_exact == pytest.approx(error.df, rel=1e-9)
    k = gtc.reporting.k_factor(math.floor(error.df), 95)
    assert each.stated.coverage.expanded == pytest.approx(k * error.u, rel=1e-6)


def test_where_readings_repeat_exactly_the_display_step_counts_twice():
    made = assessed(repeats=(2, 2, 2, 2, 2))
    rows = lines(point(made, "up", "8").stated)
    for of in ("zero", "reading"):
        step = rows[f"display step, {of}"]
        assert step.contribution == pytest.approx(0.001 / math.sqrt(12))
        assert step.distribution == "rectangular"
    assert rows["repeatability"].contribution == 0
    assert rows["repeatability"].basis.endswith("no more than the display step, which counts")


def test_where_readings_scatter_the_display_step_is_in_the_scatter_and_the_budget_says_so():
    rows = lines(point(assessed(), "up", "8").stated)
    assert rows["display step, zero"].contribution == 0
    assert rows["display step, zero"].basis.endswith("in the repeatability already")
    assert rows["repeatability"].basis == "pooled s of 5 readings; the display step is in it"


@pytest.mark.parametrize(("u_reading", "more"), [("0.0008", None), ("0.0012", 0.0012)])
def test_a_settled_readings_own_noise_counts_only_beyond_step_and_scatter(u_reading, more):
    stated = point(assessed(u_reading=u_reading), "up", "8").stated
    rows = lines(stated)
    if more is None:
        assert "noise at rest" not in rows
    else:
        reading = math.hypot(rows["noise at rest"].contribution, S_UM / 1000)
        assert reading == pytest.approx(more)
        assert rows["noise at rest, zero"].contribution == rows["noise at rest"].contribution


def test_scatter_is_pooled_over_every_point_that_was_repeated():
    more = ('at = "5 mm"', 'at = "5 mm"\n[[repeats]]\nat = "8 mm"\ntimes = 3')
    made = assessed(more, repeats=(2, 3, 1, 2, 3, 0, 4, 2))
    # Squares: 2.8 of four degrees of freedom, 8 of two.
    assert 1000 * made.scatter.s_mm == pytest.approx(math.sqrt(10.8 / 6))
    assert made.scatter.dof == 6
    assert made.doubts == ()


@pytest.mark.parametrize(
    ("limits", "width_mm"),
    [({"repeatability": "0.003 mm"}, 0.003), ({"repeatability": "0.001 mm"}, 0.002), ({}, 0.002)],
)
def test_without_repeats_the_repeatability_is_assumed_and_that_is_a_doubt(limits, width_mm):
    without = plan(('\n[[repeats]]\nat = "5 mm"\n', ""))
    ready = prepared(without, standard(), ON)
    of = gauge(limits={"source": "own rule", "over_range": "0.01 mm"} | limits)
    how = How(GuardBand())
    made = assess(ready, of, points_of(ready), "as found", Conditions(D(20)), ON, how)
    begins = "No point was repeated, so the repeatability is assumed and not measured"
    assert [each for each in made.doubts if each.startswith(begins)]
    row = lines(point(made, "up", "8").stated)["repeatability"]
    assert row.contribution == pytest.approx(math.sqrt(2) * width_mm / 2 / math.sqrt(3))
    assert row.dof == math.inf


def test_an_error_is_stated_for_20_degrees_where_gauge_and_standard_expand_differently():
    alike, other = assessed(temperature_c="21"), assessed(
        of=limited(expansion="8"), temperature_c="21"
    )  # fmt: skip
    for nominal in ("0", "5", "10"):
        before, after = (point(each, "up", nominal).point for each in (alike, other))
        # 3.5 µm for a metre and a kelvin more in the standard: 0.0035 µm a millimetre.
        seen = before.reference_mm * (1 + D("0.0000035"))
        assert after.reference_mm == pytest.approx(seen, abs=D("1e-10"))
        assert after.error_mm == after.reading_mm - after.reference_mm
    assert not any("20 °C" in each for each in alike.remarks)
    assert other.remarks[-1].endswith("by 0.000035 mm at 10 mm.")


def test_at_20_degrees_with_equal_expansions_only_the_difference_of_temperatures_is_left():
    rows = lines(point(assessed(), "up", "10").stated)
    assert not {"expansion of the standard", "expansion of the gauge", "temperature"} & set(rows)
    assert "gauge and standard apart" in rows


def test_the_keys_of_the_plan_set_the_bounds():
    keys = ("revision", "u_temperature = 0.4\napart = 1\ntilt = 0\nrevision")
    rows = lines(point(assessed(keys, of=limited(expansion="9")), "up", "10").stated)
    assert rows["temperature"].contribution == pytest.approx(10 * 2.5e-6 * 0.4)
    assert rows["gauge and standard apart"].stated == 1
    assert "alignment" not in rows


def test_a_flat_counts_with_its_own_certificate_and_drift():
    ready = prepared(plan(), standard(), ON, flat(drift_per_year="0.0001 mm"))
    made = assess(
        ready, limited(), points_of(ready), "as found", Conditions(D(20)), ON, How(GuardBand())
    )
    rows = lines(point(made, "up", "8").stated)
    assert rows["reference"].contribution == pytest.approx(0.00005 + 0.0002)
    assert rows["drift of the reference"].stated == pytest.approx(0.00015 * 365 / 365.25)
    assert rows["reference"].contribution == pytest.approx(float(ready.reference_mm(D(8))[1]))
    assert "reference" not in lines(point(made, "up", "0").stated)


def test_points_of_the_other_run_and_points_taken_back_do_not_count():
    ready = prepared(plan(), standard(), ON)
    points = points_of(ready)
    left = [replace(each, run="as left", reading_mm=each.reading_mm + 1) for each in points]
    again = replace(points[21], reading_mm=points[21].reading_mm + D("0.001"))
    taken = [*left, *points[:22], again, *points[22:], *left]
    made = assess(ready, limited(), taken, "as found", Conditions(D(20)), ON, How(GuardBand()))
    assert [each.point.place for each in made.points] == list(range(1, 28))
    assert point(made, "down", "0").point.reading_mm == again.reading_mm


def test_the_least_sure_point_is_that_with_the_largest_u():
    made = assessed()
    assert made.least_sure.stated.u_mm == max(each.stated.u_mm for each in made.points)
    assert made.least_sure.point.nominal_mm == 10
