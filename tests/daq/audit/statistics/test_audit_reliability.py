"""The share of gauges found within their errors, as an audit has it."""

import pytest
from scipy.stats import binomtest

from daq.audit.statistics import binomial_interval, trials_without_failure

# Exact limits after Clopper and Pearson; the first is the example of the NIST/SEMATECH e-Handbook,
# 7.2.4.1 (from memory .071354 and .401029; the last digit of the upper one is .401028 exactly).
INTERVALS = [
    (4, 20, 0.90, 0.0713539, 0.4010281),
    (0, 10, 0.95, 0.0, 0.308497),
    (0, 22, 0.95, 0.0, 0.154373),
    (0, 29, 0.95, 0.0, 0.119445),
    (0, 59, 0.95, 0.0, 0.060609),
    (95, 100, 0.95, 0.8871651, 0.9835681),
    (10, 10, 0.95, 0.6915029, 1.0),
]


@pytest.mark.parametrize(("within", "n", "confidence", "low", "high"), INTERVALS)
def test_the_interval_of_a_share_is_the_exact_one(within, n, confidence, low, high):
    found = binomial_interval(within, n, confidence)
    assert (found.low, found.high) == pytest.approx((low, high), abs=6e-7)
    theirs = binomtest(within, n).proportion_ci(confidence, "exact")
    assert (found.low, found.high) == pytest.approx((theirs.low, theirs.high), abs=1e-12)


# n = ln(1 − C)/ln R, rounded up.
@pytest.mark.parametrize(
    ("confidence", "reliability", "n"),
    [(0.95, 0.95, 59), (0.90, 0.95, 45), (0.95, 0.90, 29), (0.90, 0.90, 22), (0.95, 0.85, 19)],
)
def test_so_many_without_a_failure_show_a_reliability(confidence, reliability, n):
    assert trials_without_failure(reliability, confidence) == n
    assert reliability**n <= 1 - confidence < reliability ** (n - 1)
