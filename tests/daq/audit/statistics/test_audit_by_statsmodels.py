"""The false discovery rate, the line of a drift and shares, against statsmodels, where it is there.

statsmodels is a reference of the tests alone; the program does not need it.
"""

import warnings

import numpy as np
import pytest

from daq.audit.statistics import adjusted_p, benjamini_hochberg, binomial_interval, drifts

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # what it warns of while it is imported is its own
    pytest.importorskip("statsmodels")
    from statsmodels.regression.linear_model import OLS, WLS
    from statsmodels.stats.multitest import multipletests
    from statsmodels.stats.proportion import proportion_confint


@pytest.mark.parametrize(("method", "any_dependence"), [("fdr_bh", False), ("fdr_by", True)])
@pytest.mark.parametrize("q", [0.01, 0.05, 0.3])
def test_the_same_tests_are_findings(method, any_dependence, q):
    draw = np.random.default_rng(42)
    for tests in (1, 7, 500):
        p = draw.uniform(0, 1, tests) ** draw.choice([1, 4], tests)
        found, adjusted, *_ = multipletests(p, q, method)
        assert benjamini_hochberg(p, q, any_dependence=any_dependence).tolist() == found.tolist()
        ours = adjusted_p(p, any_dependence=any_dependence)
        assert ours == pytest.approx(adjusted, rel=1e-12)


@pytest.mark.parametrize("weighed", [False, True])
def test_the_line_its_interval_and_its_chance_are_the_same(weighed):
    draw = np.random.default_rng(43)
    for size in (3, 6, 30):
        x = np.sort(draw.uniform(0, 2_000, size))
        y = 1e-6 * x + draw.normal(0, 0.002, size)
        u = draw.uniform(0.001, 0.004, size) if weighed else None
        line = np.column_stack([np.ones(size), x])
        theirs = (OLS(y, line) if u is None else WLS(y, line, weights=u**-2)).fit()
        ours = drifts([0], x, y, u, level=0.9)
        low, high = theirs.conf_int(0.1)[1]
        assert ours.slope[0] == pytest.approx(theirs.params[1], rel=1e-9)
        assert ours.slope_u[0] == pytest.approx(theirs.bse[1], rel=1e-9)
        assert (ours.slope_low[0], ours.slope_high[0]) == pytest.approx((low, high), rel=1e-7)
        assert ours.p[0] == pytest.approx(theirs.pvalues[1], rel=1e-7)


@pytest.mark.parametrize(("within", "n"), [(4, 20), (0, 59), (95, 100), (10, 10)])
@pytest.mark.parametrize("confidence", [0.9, 0.95])
def test_the_interval_of_a_share_is_the_same(within, n, confidence):
    ours = binomial_interval(within, n, confidence)
    theirs = proportion_confint(within, n, 1 - confidence, "beta")
    assert (ours.low, ours.high) == pytest.approx(theirs, abs=1e-11)
