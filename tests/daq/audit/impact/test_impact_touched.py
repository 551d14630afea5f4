"""What becomes of captures: worked out by hand, and against another library's normal tail."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import norm

from daq.audit.impact import GROUPS, Captures, ErrorCurve, Run, periods_of, touched

U_CURVE = 0.0003
FOUND = ErrorCurve(np.array([0.0, 10.0]), np.array([0.010, 0.030]), np.full(2, U_CURVE))
BEFORE = ErrorCurve(np.array([0.0, 10.0]), np.array([0.0, 0.002]), np.full(2, U_CURVE))
NONE = math.inf


def period(found=FOUND, before=BEFORE):
    good = Run("DI-7", "C-1", 0, 1_000, before, before, False, False)
    bad = Run("DI-7", "C-2", 2_000, 2_100, found, found, True, False)
    (only,) = periods_of([good, bad])
    return only


def captures(*rows):
    """Rows of (time, value, lower, upper) and, if need be, u."""
    at, value, lower, upper, u = (
        np.array(column, dtype=float)
        for column in zip(*((*row, 0.0004)[:5] for row in rows), strict=True)
    )
    words = np.full(len(rows), "", dtype=object)
    n = np.arange(1, len(rows) + 1)
    return Captures(n, at.astype(int), value, u, lower, upper, words, words, words, words)


def become(*rows, **how):
    found = touched(period(), captures(*rows), **how)
    return [GROUPS[group] for group in found.group]


def test_the_error_between_two_nominals_is_taken_off():
    found = touched(period(), captures((1_500, 5.0, 4.9, 5.1)))
    assert found.error_mm == pytest.approx([0.020], abs=1e-15)
    assert found.corrected_mm == pytest.approx([4.980], abs=1e-15)
    assert found.corrected_u_mm == pytest.approx([0.0005], rel=1e-12)  # 3-4-5


def test_only_captures_of_the_period_are_touched():
    rows = [(at, 5.0, 4.9, 5.1) for at in (999, 1_000, 1_001, 2_000, 2_001, 2_100, 3_000)]
    assert touched(period(), captures(*rows)).captures.at_us.tolist() == [1_001, 2_000]


@pytest.mark.parametrize(
    ("value", "lower", "upper", "group"),
    [
        (5.0, 4.990, 5.010, "flips"),  # within before, 4.980 is out
        (5.0, 4.970, 4.990, "flips"),  # out before, 4.980 is within
        (5.0, 4.9795, 5.1, "weakened"),  # 0.5 µm inside, where the expanded uncertainty is 1 µm
        (5.0, 4.9, 5.1, "unaffected"),
        (5.0, 4.900, 5.0005, "unaffected"),  # near a limit before, and far from any after
        (5.0, 4.9795, 5.0005, "unaffected"),  # as near one limit before as another after
        (5.0, 4.9, 4.95, "unaffected"),  # out before and after
        (5.0, 4.990, NONE, "flips"),
        (5.0, -NONE, 4.990, "flips"),
        (5.0, -NONE, 5.1, "unaffected"),
        (5.0, -NONE, NONE, "not judged"),
    ],
)
def test_what_becomes_of_a_capture(value, lower, upper, group):
    assert become((1_500, value, lower, upper)) == [group]


def test_on_a_limit_is_within():
    found = touched(period(), captures((1_500, 10.0, 10.0, 10.5)))
    assert found.within_before.tolist() == [True]
    flat = ErrorCurve(np.array([0.0]), np.array([0.0]), np.array([0.0]))
    found = touched(period(found=flat), captures((1_500, 10.0, 10.0, 10.5)))
    assert (found.within_before[0], found.within_after[0]) == (True, True)


def test_in_time_the_error_grows_from_one_calibration_to_the_next():
    rows = [(at, 5.0, 4.9, 5.1) for at in (1_250, 1_500, 2_000)]
    found = touched(period(), captures(*rows), in_time=True)
    # 0.001 mm at 1,000 µs, 0.020 mm at 2,000 µs.
    assert found.error_mm == pytest.approx([0.00575, 0.0105, 0.020], abs=1e-15)


def test_in_time_an_error_that_a_gauge_was_left_with_goes_over_into_the_next():
    bad = Run("DI-7", "C-1", 0, 1_000, FOUND, FOUND, False, True)
    good = Run("DI-7", "C-2", 2_000, 2_100, BEFORE, BEFORE, False, False)
    (only,) = periods_of([bad, good])
    found = touched(only, captures((1_250, 5.0, 4.9, 5.1)), in_time=True)
    assert found.error_mm == pytest.approx([0.75 * 0.020 + 0.25 * 0.001], abs=1e-15)


def test_in_time_without_errors_at_the_other_end_what_was_found_counts_for_all():
    found = touched(period(before=None), captures((1_001, 5.0, 4.9, 5.1)), in_time=True)
    assert found.error_mm == pytest.approx([0.020], abs=1e-15)


@given(st.floats(4.97, 5.03), st.floats(1e-4, 0.02))
def test_the_probability_within_agrees_with_another_library(value, u):
    found = touched(period(), captures((1_500, value, 4.99, 5.01, u)))
    for p, at, sd in (
        (found.p_before[0], value, u),
        (found.p_after[0], found.corrected_mm[0], found.corrected_u_mm[0]),
    ):
        expected = norm.cdf((5.01 - at) / sd) - norm.cdf((4.99 - at) / sd)
        assert p == pytest.approx(expected, abs=1e-12)


def test_without_an_uncertainty_nothing_is_said_to_be_weakened_nor_how_likely():
    found = touched(period(), captures((1_500, 5.0, 4.9795, 5.1, math.nan)))
    assert GROUPS[found.group[0]] == "unaffected"
    assert math.isnan(found.p_before[0])
    assert math.isnan(found.p_after[0])


def test_values_beyond_the_calibrated_lengths_are_told():
    found = touched(period(), captures((1_500, 12.0, 11, 13), (1_500, 5.0, 4, 6)))
    assert found.outside.tolist() == [True, False]
    assert found.error_mm == pytest.approx([0.030, 0.020], abs=1e-15)


def test_a_calibration_that_is_a_slip_of_the_unit_corrects_nothing():
    slip = ErrorCurve(FOUND.nominal_mm, FOUND.error_mm, FOUND.u_mm, "its readings are inches")
    found = touched(period(found=slip), captures((1_500, 5.0, 4.99, 5.01)))
    assert GROUPS[found.group[0]] == "not corrected"
    assert math.isnan(found.corrected_mm[0])
