"""Charts and the outlier test, against the NIST/SEMATECH e-Handbook and published run lengths."""

import itertools
import math

import numpy as np
import pytest

from daq.calibration.study import (
    Flag,
    StudyError,
    averages,
    broken_rules,
    cusum,
    ewma,
    grubbs,
    individuals,
)
from tests.daq.calibration.study.study_data import column


def test_individuals_are_the_published_ones():
    # NIST/SEMATECH e-Handbook 6.3.2.2: 50.81, 55.8041, 45.8159, with d2 rounded to 1.128; with
    # d2 = 2/√π the limits are 55.802412 and 45.817588.
    study = individuals(column("flowrate_6_3_2_2", "flowrate"))
    singles, moving = study.charts
    assert study.centre == pytest.approx(50.81)
    assert moving.values == pytest.approx([2.0, 2.3, 1.4, 3.5, 3.4, 1.4, 0.2, 1.2, 1.5])
    assert moving.centre == pytest.approx(1.8778, abs=5e-5)
    assert singles.upper[0] == pytest.approx(55.802412, abs=1e-6)
    assert singles.lower[0] == pytest.approx(45.817588, abs=1e-6)
    rounded = 3 * moving.centre / 1.128
    assert (study.centre + rounded, study.centre - rounded) == pytest.approx(
        (55.8041, 45.8159), abs=5e-5
    )
    assert moving.upper[0] == pytest.approx(3.2665 * 1.8778, abs=1e-3)
    assert moving.lower is None
    assert study.is_stable


def test_ewma_is_the_published_one():
    # NIST/SEMATECH e-Handbook 6.3.2.4: limits 52.5884 and 47.4115 with a factor cut to 0.4201;
    # exact 52.588432 and 47.411568.
    values, printed = (column("ewma_6_3_2_4", each) for each in ("x", "ewma_published_2dp"))
    study = ewma(values, target=50, sd=2.0539, weight=0.3)
    chart = study.charts[0]
    # The page's first average, 50.60, is that of its first value; 0.005 is its rounding.
    assert chart.values == pytest.approx(printed, abs=0.005)
    assert chart.upper[-1] == pytest.approx(52.588432, abs=1e-6)
    assert chart.lower[-1] == pytest.approx(47.411568, abs=1e-6)
    assert study.is_stable


def test_the_limits_of_a_young_ewma_are_narrower():
    study = ewma([50.0] * 40, target=50, sd=2.0, weight=0.2, widening=True)
    chart = study.charts[0]
    # The first average is weight · value: its standard deviation is weight · sd.
    assert chart.upper[0] == pytest.approx(50 + 3 * 0.2 * 2.0)
    assert chart.upper[-1] == pytest.approx(50 + 3 * 2.0 / 3.0, rel=1e-6)


def test_the_cumulative_sum_is_the_published_one():
    # NIST/SEMATECH e-Handbook 6.3.2.3: first signal at group 14 (4.94), 19.04 at group 20.
    study = cusum(column("cusum_6_3_2_3", "x"), target=325, k=0.3175, h=4.1959)
    chart = study.charts[0]
    assert chart.values == pytest.approx(column("cusum_6_3_2_3", "S_hi"), abs=1e-9)
    assert [-low for low in chart.mirrored] == pytest.approx(
        column("cusum_6_3_2_3", "S_lo"), abs=1e-9
    )
    assert chart.flags[0] == Flag(13, "sum on the high side above h")
    assert chart.values[13] == pytest.approx(4.94, abs=0.005)
    assert chart.values[19] == pytest.approx(19.04, abs=0.0051)
    assert all("high" in flag.rule for flag in chart.flags)


def test_the_cumulative_sum_sees_a_fall_too():
    study = cusum([10.0, 9.0, 9.0, 9.0], target=10, k=0.5, h=1.2)
    assert study.charts[0].mirrored == pytest.approx([0, -0.5, -1.0, -1.5])
    assert study.charts[0].flags == (Flag(3, "sum on the low side above h"),)


def test_grubbs_is_the_published_one():
    # NIST/SEMATECH e-Handbook 1.3.5.17.1: G 2.4687, one-sided critical value 2.032, an outlier.
    found = grubbs(column("uranium_1_3_5_17", "x"), side="high")
    assert (found.index, found.value) == (7, 245.57)
    assert found.g == pytest.approx(2.4687, abs=1e-4)
    assert found.critical == pytest.approx(2.032, abs=5e-4)
    assert found.is_outlier
    either = grubbs(column("uranium_1_3_5_17", "x"))
    assert either.critical == pytest.approx(2.126645, abs=1e-6)  # recomputed
    low = grubbs(column("uranium_1_3_5_17", "x"), side="low")
    assert low.value == 199.31
    assert not low.is_outlier


def _worth_keeping(history):
    """What of the last values can still matter to a rule: the shortest tail that says as much."""
    side = math.copysign(1, history[-1])
    run = 0
    while run < min(7, len(history)) and math.copysign(1, history[-1 - run]) == side:
        run += 1
    kept = list(history[-max(run, 4) :])
    # Beyond the last two, more than 2 is as good as more than 1; beyond the last four, only a side.
    for back in range(3, len(kept) + 1):
        size = abs(kept[-back])
        kept[-back] = math.copysign(0.5 if back > 4 or size < 1 else 1.5, kept[-back])
    if len(history) > len(kept):
        kept = kept[-7:]
    return tuple(kept)


def _mean_run_length(rules, shift=0.0):
    """Points to the first signal, exactly: a Markov chain over the last values' zones."""

    def below(z):
        return 0.5 * math.erfc(-z / math.sqrt(2))

    edges = [-3, -2, -1, 0, 1, 2, 3]
    middles = [-2.5, -1.5, -0.5, 0.5, 1.5, 2.5]
    chances = [below(b - shift) - below(a - shift) for a, b in itertools.pairwise(edges)]
    states, rows = {(): 0}, []
    waiting = [()]
    while waiting:
        state = waiting.pop()
        row = []
        for z, chance in zip(middles, chances, strict=True):
            history = [*state, z]
            last = len(history) - 1
            if any(f.index == last for f in broken_rules(history, 0.0, 1.0, rules)):
                continue
            new = _worth_keeping(history)
            if new not in states:
                states[new] = len(states)
                waiting.append(new)
            row.append((states[new], chance))
        rows.append((states[state], row))
    matrix = np.eye(len(states))
    for at, row in rows:
        for to, chance in row:
            matrix[at, to] -= chance
    return float(np.linalg.solve(matrix, np.ones(len(states)))[0])


@pytest.mark.parametrize(
    ("rules", "shift", "published"),
    # Champ and Woodall, Technometrics 29 (1987) 393: mean run lengths without and with a shift of
    # the mean (first column from memory; all recomputed).
    [
        ("limits", 0.0, 370.40), ("limits", 1.0, 43.89), ("zones", 0.0, 91.75),
        ("zones", 0.2, 66.80), ("zones", 1.0, 9.22), ("zones", 2.0, 3.13),
    ],
)  # fmt: skip
def test_the_rules_are_wrong_as_often_as_published(rules, shift, published):
    assert _mean_run_length(rules, shift) == pytest.approx(published, abs=0.006)


def test_a_point_that_has_come_back_is_not_flagged():
    flags = broken_rules([2.5, 2.5, 0.1], 0.0, 1.0)
    assert flags == (Flag(1, "2 of 3 beyond 2 standard deviations, on one side"),)


def test_a_pattern_is_looked_for_in_no_more_points_than_it_says():
    assert broken_rules([1.5, 1.5, 1.5, -0.5, -0.5, 1.5], 0.0, 1.0) == ()
    assert broken_rules([2.5, -0.5, 0.5, 2.5], 0.0, 1.0) == ()
    assert broken_rules([1.5, 1.5, -0.5, 1.5, 1.5], 0.0, 1.0)[0].index == 4
    assert broken_rules([0.5] * 7 + [-0.5], 0.0, 1.0) == ()


def test_two_sides_do_not_add_up():
    assert broken_rules([2.5, -2.5, 2.5, -2.5], 0.0, 1.0)[0].index == 2
    assert broken_rules([1.5, -1.5] * 4, 0.0, 1.0) == ()


def test_averages_and_ranges_take_their_limits_from_the_factors():
    groups = [[10.0, 10.2, 10.1], [10.1, 10.3, 9.9], [10.0, 10.0, 10.3]]
    study = averages(groups, rules="limits")
    of_means, of_ranges = study.charts
    assert of_ranges.centre == pytest.approx((0.2 + 0.4 + 0.3) / 3)
    # A2 = 1.02333, D4 = 2.57459 for three values (tables in print).
    assert of_means.upper[0] - of_means.centre == pytest.approx(1.02333 * 0.3, abs=1e-5)
    assert of_ranges.upper[0] == pytest.approx(2.57459 * 0.3, abs=1e-5)
    by_sd = averages(groups, by="sd")
    mean_sd = by_sd.charts[1].centre
    # A3 = 1.95441, B4 = 2.56817.
    assert by_sd.charts[0].upper[0] - study.centre == pytest.approx(1.95441 * mean_sd, abs=1e-5)
    assert by_sd.charts[1].upper[0] == pytest.approx(2.56817 * mean_sd, abs=1e-5)


def test_a_chart_of_nothing_is_refused():
    with pytest.raises(StudyError, match="too coarse"):
        individuals([5.0, 5.0, 5.0])
    with pytest.raises(StudyError, match="2 at least"):
        individuals([5.0])
    with pytest.raises(StudyError, match="equally many"):
        averages([[1.0, 2.0], [1.0, 2.0, 3.0]])
    with pytest.raises(StudyError, match="none is further off"):
        grubbs([1.0, 1.0, 1.0])
    with pytest.raises(StudyError, match="h must be above 0"):
        cusum([1.0], target=1, k=0.5, h=0)
    with pytest.raises(StudyError, match="has no limits"):
        ewma([1.0], target=1, sd=0.0)
