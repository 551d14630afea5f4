"""The chi-square tail against published counts, a closed form, and another library."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import chi2, chisquare

from daq.audit.statistics import chi_square_p, chi_square_statistic, chi_square_tail

# NIST StRD univariate data, PiDigits: the counts of the 5,000 digits, counted from the data set.
PI_DIGITS = (466, 531, 496, 461, 508, 525, 513, 488, 491, 521)


def test_digits_of_pi_come_evenly():
    assert chi_square_statistic(PI_DIGITS, 500) == pytest.approx(10.356, abs=5e-4)
    assert chi_square_p(PI_DIGITS, 500) == pytest.approx(0.32244, abs=5e-6)


# The table of any statistics handbook; to three places.
@pytest.mark.parametrize(("statistic", "p"), [(16.919, 0.05), (21.666, 0.01), (27.877, 0.001)])
def test_the_tail_with_nine_degrees_of_freedom_is_that_of_the_tables(statistic, p):
    assert chi_square_tail(statistic, 9) == pytest.approx(p, rel=2e-4)


@given(st.floats(0, 600))
def test_with_two_degrees_of_freedom_the_tail_is_an_exponential(statistic):
    assert chi_square_tail(statistic, 2) == pytest.approx(math.exp(-statistic / 2), rel=1e-12)


@given(st.integers(1, 2000), st.floats(1e-3, 20))
def test_the_tail_agrees_with_another_library(dof, over):
    assert chi_square_tail(dof * over, dof) == pytest.approx(
        chi2.sf(dof * over, dof), rel=1e-9, abs=1e-300
    )


def test_the_ends_of_the_tail():
    assert chi_square_tail(0, 9) == 1
    assert chi_square_tail(math.inf, 9) == 0


def test_expected_counts_may_differ():
    seen, wanted = (30, 14, 34, 45, 57, 20), (20, 20, 30, 40, 60, 30)
    ours, theirs = chi_square_p(seen, wanted), chisquare(seen, wanted)
    assert ours == pytest.approx(theirs.pvalue, rel=1e-10)


@pytest.mark.parametrize(
    ("counts", "expected", "why"),
    [
        ((5,), (5,), "two classes or more"),
        ((5, 5), (5, 5, 0), "same length"),
        ((5, 5), (10, 0), "above 0"),
        ((5, 5), (6, 5), "11 are expected"),
    ],
)
def test_counts_that_cannot_be_tested_are_refused(counts, expected, why):
    with pytest.raises(ValueError, match=why):
        chi_square_p(counts, expected)


@pytest.mark.parametrize(("statistic", "dof"), [(-1, 9), (1, 0), (math.nan, 9)])
def test_a_tail_that_makes_no_sense_is_refused(statistic, dof):
    with pytest.raises(ValueError, match="no tail"):
        chi_square_tail(statistic, dof)
