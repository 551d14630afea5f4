"""What the points of a run come to, held against constructed data and against plain definitions.

`tests/data/constructed_indicator_cal.csv` is constructed: no real gauge was measured. Its figures
(µm: max|e| 8, span 10, up-span 8, down-span 7, hysteresis 3, largest 1 mm change 3) follow from the
definitions by hand.
"""

import csv
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daq.calibration.correction import correction_table
from daq.calibration.errors import CalibrationError
from daq.calibration.points import Point
from daq.calibration.results import results_of

D = Decimal
DATA = Path(__file__).parents[2] / "data" / "constructed_indicator_cal.csv"
U = D("0.0001")


def point(series, nominal_mm, error_um, direction=None, **more):
    nominal_mm = D(nominal_mm)
    reading_mm = nominal_mm + D(error_um) / 1000
    facts = {"place": 1, "reference_mm": nominal_mm, "u_reference_mm": U, "u_reading_mm": U}
    return Point(
        series=series,
        nominal_mm=nominal_mm,
        direction=direction or series,
        reading_mm=reading_mm,
        **facts | more,
    )


def constructed():
    with DATA.open(newline="") as file:
        rows = list(csv.DictReader(file))
    ways = [
        point(way, row["nominal_mm"], row[f"error_{way}_um"]) for way in ("up", "down")
        for row in rows
    ]  # fmt: skip
    repeats = [point("repeat", 5, um, "up") for um in (2, 3, 1, 2, 3)]
    return [*ways, *repeats]


def um(characteristic):
    return characteristic.value_mm * 1000


def test_the_constructed_calibration_has_the_characteristics_worked_out_by_hand():
    results = results_of(constructed(), partial_mm=D(1))
    found = {each.what: um(each) for each in results.characteristics}
    assert found == {
        "fixed-zero error": 8,
        "span error": 10,
        "one-way span": 8,
        "partial-range error": 3,
        "hysteresis": 3,
        "repeatability": 2,
    }
    (repeat,) = results.repeats
    assert repeat.mean_mm == D("5.0022")
    assert repeat.s_mm.quantize(D("1e-9")) == D("0.000836660")


def test_each_characteristic_says_which_points_made_it():
    results = results_of(constructed(), partial_mm=D(1))
    assert [(str(p.nominal_mm), p.direction) for p in results.fixed_zero.points] == [("5", "down")]
    assert [(str(p.nominal_mm), p.direction) for p in results.span.points] == [
        ("8", "up"), ("5", "down")
    ]  # fmt: skip
    assert results.span.words == "from -0.002 mm at 8 mm up to +0.008 mm at 5 mm down"
    there, back = results.hysteresis.points
    assert (there.nominal_mm, there.direction, back.direction) == (D(0), "up", "down")
    assert len(results.repeatability.points) == 5


def test_as_found_and_as_left_are_kept_apart():
    left = [replace(each, run="as left", reading_mm=each.reference_mm) for each in constructed()]
    both = [*constructed(), *left]
    assert um(results_of(both).fixed_zero) == 8
    assert um(results_of(both, run="as left").fixed_zero) == 0


def test_what_was_not_measured_is_not_stated():
    up = [each for each in constructed() if each.series == "up"]
    results = results_of(up)
    assert (results.hysteresis, results.repeatability, results.partial) == (None, None, None)
    assert [each.what for each in results.characteristics] == [
        "fixed-zero error", "span error", "one-way span"
    ]  # fmt: skip
    assert results_of(up, partial_mm=D("0.5")).partial is None


def test_a_single_reading_has_no_repeatability():
    results = results_of([point("up", 0, 0), point("repeat", 5, 2, "up")])
    assert results.repeats[0].s_mm is None
    assert results.repeatability is None


def test_the_worst_of_several_repeated_points_counts_and_directions_are_not_mixed():
    points = [
        point("up", 0, 0),
        *(point("repeat", 5, um, "up") for um in (1, 2)),
        *(point("repeat", 5, um, "down") for um in (7, 9)),
    ]
    results = results_of(points)
    assert um(results.repeatability) == 2
    assert results.repeatability.points[0].direction == "down"


def test_without_a_way_up_there_is_no_result():
    with pytest.raises(CalibrationError, match="no point on the way up as left"):
        results_of(constructed(), run="as left")


def test_a_point_taken_twice_is_refused():
    with pytest.raises(CalibrationError, match="5 mm was taken twice on the way up"):
        results_of([*constructed(), point("up", 5, 1)])


def test_a_piece_of_no_length_is_none():
    with pytest.raises(CalibrationError, match="must be above zero"):
        results_of(constructed(), partial_mm=D(0))


ERRORS = st.lists(st.tuples(st.integers(-20, 20), st.integers(-20, 20)), min_size=2, max_size=9)


def run_of(errors):
    return [
        point(way, number, pair[which])
        for which, way in enumerate(("up", "down"))
        for number, pair in enumerate(errors)
    ]


@given(ERRORS, st.integers(-50, 50))
def test_a_constant_added_changes_the_fixed_zero_error_and_nothing_else(errors, constant):
    points = [*run_of(errors), point("repeat", 1, 3, "up"), point("repeat", 1, 4, "up")]
    moved = [replace(p, reading_mm=p.reading_mm + D(constant) / 1000) for p in points]
    before, after = results_of(points, D(2)), results_of(moved, D(2))
    assert um(after.fixed_zero) == max(abs(e + constant) for pair in errors for e in pair)
    assert [each.value_mm for each in after.characteristics[1:]] == [
        each.value_mm for each in before.characteristics[1:]
    ]


@given(ERRORS, st.integers(1, 10))
def test_partial_range_error_is_the_largest_difference_of_two_points_no_further_apart(
    errors, length
):
    wanted = max(
        abs(one - other)
        for which in (0, 1)
        for a, one in enumerate(pair[which] for pair in errors)
        for b, other in enumerate(pair[which] for pair in errors)
        if abs(a - b) <= length
    )
    assert um(results_of(run_of(errors), D(length)).partial) == wanted


@given(ERRORS)
def test_the_characteristics_are_never_at_odds_with_each_other(errors):
    results = results_of(run_of(errors), D(len(errors)))
    assert results.one_way_span.value_mm <= results.span.value_mm
    assert results.partial.value_mm <= results.span.value_mm
    assert results.span.value_mm <= 2 * results.fixed_zero.value_mm
    assert results.hysteresis.value_mm <= results.span.value_mm


@given(ERRORS, st.randoms())
def test_the_order_in_which_points_come_does_not_matter(errors, random):
    points = run_of(errors)
    shuffled = random.sample(points, len(points))
    values = [
        [each.value_mm for each in results_of(given, D(1)).characteristics]
        for given in (points, shuffled)
    ]
    assert values[0] == values[1]


def test_a_correction_takes_the_mean_error_out_of_a_reading():
    table = correction_table(constructed(), "as found")
    row = table.rows[5]
    assert (row.reading_mm, row.correction_mm, row.between_ways_mm) == (
        D("5.007"), D("-0.007"), D("0.002")
    )  # fmt: skip
    assert table.at(D("5.007")) == (D("-0.007"), D("0.000141421"))


def test_between_two_rows_a_correction_runs_straight_and_the_less_sure_row_speaks_for_it():
    points = [point("up", 0, 0), point("up", 4, 4, u_reading_mm=D(0)), point("up", 8, 12)]
    table = correction_table(points, "as found")
    quarter_mm = D("4.004") + (D("8.012") - D("4.004")) / 4
    assert table.at(quarter_mm) == (D("-0.006"), D("0.000141421"))
    assert table.at(D("4.004")) == (D("-0.004"), D("0.0001"))
    assert table.at(D("1.001")) == (D("-0.001"), D("0.000141421"))


@pytest.mark.parametrize("reading_mm", ["-0.001", "10.5"])
def test_a_correction_is_not_made_outside_what_was_calibrated(reading_mm):
    with pytest.raises(CalibrationError, match=r"it is known from 0\.0015 mm to 10\.002 mm"):
        correction_table(constructed(), "as found").at(D(reading_mm))


@given(ERRORS)
def test_a_corrected_mean_reading_is_the_reference(errors):
    table = correction_table(run_of(errors), "as found")
    for row in table.rows:
        correction_mm, u_mm = table.at(row.reading_mm)
        assert row.reading_mm + correction_mm == row.nominal_mm
        assert u_mm > 0


def test_no_table_is_made_of_too_little_or_of_readings_that_do_not_ascend():
    with pytest.raises(CalibrationError, match="takes two points at least"):
        correction_table(constructed(), "as left")
    with pytest.raises(CalibrationError, match="do not ascend from 0 mm to 1 mm"):
        correction_table([point("up", 0, 0), point("up", 1, -1500)], "as found")
