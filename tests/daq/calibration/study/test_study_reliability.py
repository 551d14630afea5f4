"""Reliability at the end of an interval, and the proposals that follow from it."""

import math

import pytest

from daq.calibration.study import (
    Staircase,
    StudyError,
    binomial_interval,
    fixed,
    for_reliability,
    scaled_interval,
    stepwise,
    trials_without_failure,
)


@pytest.mark.parametrize(
    ("successes", "trials", "confidence", "low", "high"),
    [
        # NIST/SEMATECH e-Handbook 7.2.4.1 (from memory: .071354 to .401029; exact .401028).
        (4, 20, 0.90, 0.0713539, 0.4010281),
        # Closed form for none and all: 1 − (α/2)^(1/n); the rest recomputed with another library.
        (0, 10, 0.95, 0.0, 0.3084971),
        (0, 22, 0.95, 0.0, 0.154373),
        (0, 29, 0.95, 0.0, 0.119445),
        (0, 59, 0.95, 0.0, 0.060609),
        (95, 100, 0.95, 0.8871651, 0.9835681),
        (10, 10, 0.95, 0.6915029, 1.0),
    ],
)
def test_the_exact_interval_is_the_published_one(successes, trials, confidence, low, high):
    found = binomial_interval(successes, trials, confidence)
    assert (found.low, found.high) == pytest.approx((low, high), abs=6e-7)


def test_the_exact_interval_agrees_with_scipy():
    stats = pytest.importorskip("scipy.stats")
    for trials in (1, 7, 50, 400):
        for successes in {0, 1, trials // 2, trials - 1, trials}:
            theirs = stats.binomtest(successes, trials).proportion_ci(0.9, "exact")
            ours = binomial_interval(successes, trials, 0.9)
            assert (ours.low, ours.high) == pytest.approx((theirs.low, theirs.high), rel=1e-9)


def test_the_ends_of_the_interval_are_where_the_binomial_tails_say():
    def at_least(k, n, p):
        return math.fsum(math.comb(n, i) * p**i * (1 - p) ** (n - i) for i in range(k, n + 1))

    found = binomial_interval(17, 20)
    assert at_least(17, 20, found.low) == pytest.approx(0.025, rel=1e-9)
    assert 1 - at_least(18, 20, found.high) == pytest.approx(0.025, rel=1e-9)


@pytest.mark.parametrize(
    ("confidence", "reliability", "n"),
    # ⌈ln(1 − C) / ln R⌉, as in the tables in print.
    [(0.95, 0.95, 59), (0.90, 0.95, 45), (0.95, 0.90, 29), (0.90, 0.90, 22), (0.95, 0.85, 19)],
)
def test_so_many_without_a_failure_show_a_reliability(confidence, reliability, n):
    assert trials_without_failure(reliability, confidence) == n


@pytest.mark.parametrize(("observed", "new"), [(0.90, 5.842), (0.85, 3.787), (0.98, 30.467)])
def test_an_interval_is_scaled_to_its_target(observed, new):
    # interval · ln R_target / ln R_observed from 12 months to 95 % (recomputed).
    assert scaled_interval(12, observed, 0.95) == pytest.approx(new, abs=5e-4)


def test_the_staircase_goes_by_the_last_result():
    rule = Staircase(shortest=3, longest=24)
    assert stepwise(12, ["beyond", "within"], rule).interval == 15
    assert stepwise(12, ["within", "near"], rule).interval == 12
    down = stepwise(12, ["within", "beyond"], rule)
    assert down.interval == 6
    assert down.rests_on == "the last result (beyond) of 2"
    assert stepwise(22, ["within"], rule).interval == 24
    assert "held at 3" in stepwise(4, ["beyond"], rule).rule
    with pytest.raises(StudyError, match="nothing to go by"):
        stepwise(12, [], rule)


def test_an_error_is_sorted_by_its_share_of_the_permissible_one():
    rule = Staircase(shortest=3, longest=24)
    assert [rule.found(e, 0.010) for e in (0.008, -0.009, 0.010, -0.011)] == [
        "within", "near", "near", "beyond",
    ]  # fmt: skip
    with pytest.raises(StudyError, match="write the shorter first"):
        Staircase(shortest=24, longest=3)


def test_a_fleet_is_proposed_another_interval_only_where_the_data_say_so():
    bounds = {"target": 0.95, "shortest": 1.0, "longest": 36.0}
    shorter = for_reliability(12, 80, 100, **bounds)
    assert shorter.interval == pytest.approx(12 * math.log(0.95) / math.log(0.80))
    assert "80 of 100 found within" in shorter.rests_on
    for within in (17, 18, 20):
        same = for_reliability(12, within, 20, **bounds)
        assert same.interval == 12
        assert "cannot tell" in same.rule
    longer = for_reliability(12, 500, 500, **bounds)
    low = binomial_interval(500, 500).low
    assert longer.interval == min(36.0, 12 * math.log(0.95) / math.log(low))
    assert for_reliability(12, 0, 10, **bounds).interval < 12


def test_a_fixed_interval_stays():
    assert fixed(12).interval == 12
    with pytest.raises(StudyError, match="above 0"):
        fixed(0)
    with pytest.raises(StudyError, match="has no interval"):
        binomial_interval(3, 2)
