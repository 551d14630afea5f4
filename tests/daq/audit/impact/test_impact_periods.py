"""From when to when a gauge was out of its limits: each capture in one period at most."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from daq.audit.impact import ErrorCurve, Run, periods_of

CURVE = ErrorCurve(np.array([0.0]), np.array([0.02]), np.array([0.0]))


def runs(*outs):
    """One every 100 µs, 10 µs long, by (found out, left out)."""
    return [
        Run("DI-7", f"C-{i}", 100 * i, 100 * i + 10, CURVE, CURVE, found, left)
        for i, (found, left) in enumerate(outs, 1)
    ]


def told(*outs):
    found = periods_of(runs(*outs))
    return [(each.what, each.run.run, each.after_us, each.until_us) for each in found]


GOOD, BAD, ADJUSTED, SPOILT, UNKNOWN = (
    (False, False), (True, True), (True, False), (False, True), (None, None),
)  # fmt: skip


def test_a_gauge_that_was_always_good_has_no_period():
    assert told(GOOD, GOOD, GOOD) == []


def test_a_bad_calibration_answers_for_what_came_since_the_one_before():
    assert told(GOOD, GOOD, ADJUSTED, GOOD) == [("found", "C-3", 210, 300)]


def test_without_a_calibration_before_it_answers_for_all():
    assert told(ADJUSTED, GOOD) == [("found", "C-1", None, 100)]


def test_a_calibration_that_says_nothing_is_passed_over():
    assert told(GOOD, UNKNOWN, ADJUSTED) == [("found", "C-3", 110, 300)]


def test_a_gauge_left_bad_is_in_doubt_until_the_next():
    assert told(GOOD, SPOILT, GOOD) == [("left", "C-2", 210, 300)]


def test_a_gauge_left_bad_and_used_on_is_in_doubt_to_the_end():
    assert told(GOOD, BAD) == [("found", "C-2", 110, 200), ("left", "C-2", 210, None)]


def test_what_a_later_calibration_finds_is_not_told_twice():
    assert told(GOOD, BAD, ADJUSTED) == [("found", "C-2", 110, 200), ("found", "C-3", 210, 300)]


def test_one_that_was_only_judged_as_left_begins_a_period():
    assert told((None, False), ADJUSTED) == [("found", "C-2", 110, 200)]


@given(st.lists(st.tuples(st.sampled_from([True, False, None]), st.sampled_from([True, False]))))
def test_no_capture_is_in_two_periods(outs):
    ends = [
        (-1 if after is None else after, 10**9 if until is None else until)
        for _, _, after, until in told(*outs)
    ]
    for (_, until), (after, _) in pairwise(ends):
        assert until <= after


@pytest.mark.parametrize(
    ("curve", "why"),
    [(None, "no points"), (ErrorCurve(*[np.zeros(1)] * 3, "looks like inches"), "inches")],
)
def test_a_calibration_without_sound_errors_corrects_nothing(curve, why):
    run = Run("DI-7", "C-1", 0, 1, curve, curve, True, False)
    assert why in periods_of([run])[0].why_not
