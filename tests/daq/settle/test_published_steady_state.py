"""Measures of steadiness and of correlation, against published and independent figures.

Where a distribution is known, the measure is computed many times over seeded readings: the share of
the results below a published quantile is binomial about the quantile's probability, and may be four
of its standard deviations off.
"""

import math
from pathlib import Path

import numpy as np
import pytest

from daq.settle import autocorrelation_factor, mean_and_sd, von_neumann_ratio
from daq.settle.history import BIN_S, History
from tests.benchmarks.settling.rivals import RatioOfVariances

# Quantiles of the von Neumann ratio, sum (x[i+1] - x[i])^2 / sum (x[i] - mean)^2, of n independent
# normal readings, at 1 %, 5 %, 95 % and 99 %. Computed exactly outside this project by Imhof's
# method (Biometrika 48 (1961) 419-426). B. I. Hart, Ann. Math. Stat. 13 (1942) 445-447, prints
# 0.6256 and 0.7805 for n = 4, 0.5379 and 0.8204 for 5, 0.7518 and 1.0623 for 10, 1.0406 and 1.2996
# for 20 (from memory).
PROBABILITIES = (0.01, 0.05, 0.95, 0.99)
VON_NEUMANN = {
    4: (0.6256, 0.7805, 3.2195, 3.3744),
    5: (0.5379, 0.8204, 3.1796, 3.4621),
    10: (0.7517, 1.0621, 2.9379, 3.2483),
    20: (1.0406, 1.2996, 2.7004, 2.9594),
    50: (1.3629, 1.5435, 2.4565, 2.6371),
}
TRIALS = 6000

# Percentiles of (2 - l1) nu^2 / delta^2 on independent normal readings, by the filter factors l1,
# l2, l3, at 1, 5, 10, 50, 90, 95 and 99 %. Simulated outside this project from the formulae of
# S. Cao and R. R. Rhinehart, J. Process Control 5 (1995) 363-374: 1.2 million values each, printed
# to 3 decimals. The table that the authors published has not been available.
R_PERCENTS = (1, 5, 10, 50, 90, 95, 99)
R_STATISTIC = {
    (0.2, 0.1, 0.1): (0.710, 0.770, 0.810, 1.000, 1.314, 1.439, 1.731),
    (0.1, 0.1, 0.1): (0.688, 0.752, 0.793, 0.998, 1.351, 1.493, 1.839),
    (0.05, 0.05, 0.05): (0.745, 0.803, 0.839, 0.999, 1.238, 1.325, 1.522),
    (0.1, 0.05, 0.05): (0.754, 0.810, 0.845, 1.000, 1.227, 1.309, 1.495),
    (0.2, 0.05, 0.05): (0.772, 0.825, 0.857, 1.001, 1.205, 1.279, 1.439),
    (0.2, 0.2, 0.2): (0.637, 0.700, 0.745, 0.995, 1.509, 1.739, 2.327),
}


def may_be_off(probability, trials):
    return 4 * math.sqrt(probability * (1 - probability) / trials)


def ratio_in(history):
    """The von Neumann ratio from what the history keeps.

    Both variances there have the divisor n, although the n readings since the start have only n - 1
    differences between them. So 2 noise2 / variance is the ratio of the two sums and needs no
    factor n / (n - 1).
    """
    _, variance, noise2 = history.since(0)
    return 2 * noise2 / variance


def history_of(readings, gap_s=2 * BIN_S):
    """Readings that come slower than the bins are long: each is a bin of its own."""
    history = History(gap_s)
    for place, y in enumerate(readings):
        assert history.add(place * gap_s, y)
    return history


@pytest.mark.parametrize("n", VON_NEUMANN)
def test_scatter_and_noise_of_independent_readings_are_in_the_ratio_von_neumann_found(n):
    rng = np.random.default_rng([1941, n])
    trials = [readings.tolist() for readings in rng.standard_normal((TRIALS, n))]
    ratios = np.array([ratio_in(history_of(readings)) for readings in trials])
    assert ratios[:50] == pytest.approx([von_neumann_ratio(t) for t in trials[:50]], rel=1e-9)
    for probability, quantile in zip(PROBABILITIES, VON_NEUMANN[n], strict=True):
        share = float((ratios < quantile).mean())
        assert share == pytest.approx(probability, abs=may_be_off(probability, TRIALS))


def test_a_look_back_that_begins_later_counts_the_step_into_it_too():
    """With n differences of n readings the ratio is 2 n / (n - 1) on average instead of 2."""
    readings = [0.3, -1.1, 0.7, 0.2, 1.9, -0.4]
    _, variance, noise2 = history_of(readings).since(2)
    steps = [0.7 + 1.1, 0.2 - 0.7, 1.9 - 0.2, -0.4 - 1.9]
    mean = sum(readings[2:]) / 4
    assert 4 * variance == pytest.approx(sum((y - mean) ** 2 for y in readings[2:]), rel=1e-12)
    assert 8 * noise2 == pytest.approx(sum(d * d for d in steps), rel=1e-12)


@pytest.mark.parametrize("factors", R_STATISTIC)
def test_the_r_statistic_of_the_comparison_has_its_distribution(factors):
    """Many streams beside each other; a new value counts when the last one has been forgotten."""
    streams, looks = 4000, 25
    rng = np.random.default_rng([1995, *(round(100 * f) for f in factors)])
    forgotten = math.ceil(7 / min(factors))
    ratio = RatioOfVariances(*factors, rng.standard_normal(streams))
    values = []
    for _ in range(looks):
        for _ in range(forgotten):
            r = ratio.update(rng.standard_normal(streams))
        values.append(r)
    values = np.concatenate(values)
    for percent, printed in zip(R_PERCENTS, R_STATISTIC[factors], strict=True):
        off = may_be_off(percent / 100, len(values))
        low, high = np.quantile(values, [max(0, percent / 100 - off), percent / 100 + off])
        assert low - 0.0005 <= printed <= high + 0.0005


def test_correlated_readings_count_for_as_few_as_three_public_packages_say():
    """One series of AR(1) readings, rho 0.9, n 5000: in theory n / 19 = 263 independent ones.

    Computed outside this project, from the same file: pymbar's statistical inefficiency 19.91064,
    emcee's integrated time 20.07873, arviz's effective sample size 235.147 (a factor of 21.26). Any
    one of the three is within 4 % of their middle; 6 % are allowed here.
    """
    path = Path(__file__).parents[2] / "data" / "ar1_rho0.9_n5000.csv"
    values = [float(line) for line in path.read_text("utf-8").split()[1:]]
    assert mean_and_sd(values) == pytest.approx((-0.196671, 2.331878), abs=6e-7)
    assert autocorrelation_factor(values) == pytest.approx((19.91064 + 21.26) / 2, rel=0.06)
