"""Tails and quantiles against printed tables, closed forms and, where it is there, scipy."""

import math

import pytest

from daq.calibration.study.numerics import (
    beta_quantile,
    f_quantile,
    f_upper_tail,
    incomplete_beta,
    t_quantile,
    t_two_sided_tail,
)

DOFS = (1, 2, 3, 5, 10, 18, 60, 125, 1000)
PROBABILITIES = (1e-6, 0.001, 0.025, 0.3, 0.5, 0.8, 0.95, 0.9973, 0.999999)


def test_the_quantile_of_f_is_the_printed_one():
    # NIST/SEMATECH e-Handbook, 2.6.2: F.95(5, 125).
    assert f_quantile(0.95, 5, 125) == pytest.approx(2.286771, abs=5e-7)


@pytest.mark.parametrize(
    ("probability", "dof", "printed"),
    # JCGM 100:2008, Table G.2, columns 95 % and 99 % (from memory, recomputed).
    [(0.975, 1, 12.71), (0.975, 4, 2.78), (0.975, 20, 2.09), (0.995, 16, 2.92), (0.995, 50, 2.68)],
)
def test_the_quantile_of_t_is_the_printed_one(probability, dof, printed):
    assert t_quantile(probability, dof) == pytest.approx(printed, abs=0.005)
    assert t_quantile(1 - probability, dof) == pytest.approx(-printed, abs=0.005)


def test_closed_forms_are_met():
    # I_x(1, b) = 1 − (1 − x)^b and I_x(a, 1) = x^a (DLMF 8.17); t with 1 and 2 degrees of freedom.
    assert incomplete_beta(1, 7, 0.3) == pytest.approx(1 - 0.7**7, rel=1e-14)
    assert incomplete_beta(5, 1, 0.01) == pytest.approx(1e-10, rel=1e-12)
    assert t_quantile(0.975, 1) == pytest.approx(math.tan(0.475 * math.pi), rel=1e-12)
    p = 0.9
    assert t_quantile(p, 2) == pytest.approx((2 * p - 1) / math.sqrt(2 * p * (1 - p)), rel=1e-12)
    assert t_two_sided_tail(0.0, 5) == 1.0
    assert f_upper_tail(math.inf, 3, 4) == 0.0


def test_a_probability_outside_its_range_is_refused():
    for probability in (0.0, 1.0, -0.1, math.nan):
        with pytest.raises(ValueError, match="not a probability"):
            t_quantile(probability, 5)
    with pytest.raises(ValueError, match="no value"):
        incomplete_beta(1, 2, 1.5)


@pytest.mark.parametrize("dof", DOFS)
def test_t_agrees_with_scipy(dof):
    stats = pytest.importorskip("scipy.stats")
    for probability in PROBABILITIES:
        expected = stats.t.ppf(probability, dof)
        assert t_quantile(probability, dof) == pytest.approx(expected, rel=1e-10, abs=1e-14)
    for t in (0.01, 1.0, 3.0, 20.0):
        expected = 2 * stats.t.sf(t, dof)
        assert t_two_sided_tail(t, dof) == pytest.approx(expected, rel=1e-10)


@pytest.mark.parametrize("dof_1", DOFS)
def test_f_agrees_with_scipy(dof_1):
    stats = pytest.importorskip("scipy.stats")
    for dof_2 in DOFS:
        for probability in PROBABILITIES:
            expected = stats.f.ppf(probability, dof_1, dof_2)
            assert f_quantile(probability, dof_1, dof_2) == pytest.approx(expected, rel=1e-10)
        for f in (0.1, 1.0, 4.0, 50.0):
            expected = stats.f.sf(f, dof_1, dof_2)
            assert f_upper_tail(f, dof_1, dof_2) == pytest.approx(expected, rel=1e-10)


@pytest.mark.parametrize("a", [0.5, 1, 4, 17, 96, 2000])
def test_beta_agrees_with_scipy(a):
    stats = pytest.importorskip("scipy.stats")
    for b in (0.5, 1, 6, 30, 500):
        for probability in PROBABILITIES:
            expected = stats.beta.ppf(probability, a, b)
            assert beta_quantile(probability, a, b) == pytest.approx(expected, rel=1e-10)
        for x in (1e-4, 0.2, 0.5, 0.93):
            expected = stats.beta.cdf(x, a, b)
            assert incomplete_beta(a, b, x) == pytest.approx(expected, rel=1e-10, abs=1e-300)
