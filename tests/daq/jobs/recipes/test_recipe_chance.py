"""Tails of chi-square and Student's t, least squares, and the larger of scatter and own u."""

import itertools
import math
import random

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from daq.jobs.recipes.chance import chi_square_tail, highest_of, safety_factor, student_within
from daq.jobs.recipes.fitting import NoFitError, agreement, fit

DOFS = (1, 2, 3, 4, 5, 8, 19, 60, 199, 500)


@pytest.mark.parametrize(
    ("dof", "at_5_percent", "at_1_percent"),
    [(1, 3.841, 6.635), (2, 5.991, 9.210), (3, 7.815, 11.345), (9, 16.919, 21.666)],
)
def test_chi_square_tails_are_those_of_the_printed_table(dof, at_5_percent, at_1_percent):
    """Critical values as in any printed table, such as NIST/SEMATECH 1.3.6.7.4 (from memory)."""
    assert chi_square_tail(at_5_percent, dof) == pytest.approx(0.05, abs=2e-5)
    assert chi_square_tail(at_1_percent, dof) == pytest.approx(0.01, abs=2e-5)


@given(st.floats(0, 700))
def test_chi_square_with_two_degrees_of_freedom_is_an_exponential(value):
    assert chi_square_tail(value, 2) == pytest.approx(math.exp(-value / 2), rel=1e-12)


@pytest.mark.parametrize(
    ("dof", "t_95", "t_99"),
    [(1, 12.71, 63.66), (2, 4.30, 9.92), (4, 2.78, 4.60), (9, 2.26, 3.25), (20, 2.09, 2.85)],
)
def test_students_t_is_that_of_the_guide(dof, t_95, t_99):
    """JCGM 100:2008, Table G.2, printed to two decimals."""
    for t, p in ((t_95, 0.95), (t_99, 0.99)):
        assert student_within(t - 0.005, dof) < p < student_within(t + 0.005, dof)


def test_students_t_with_one_degree_of_freedom_is_a_cauchy_distribution():
    for t in (0.0, 0.3, 1.0, 7.0):
        assert student_within(t, 1) == pytest.approx(2 / math.pi * math.atan(t))


@pytest.mark.parametrize(
    ("dof", "t"),
    [(1, "13.97"), (2, "4.53"), (4, "2.87"), (9, "2.32"), (20, "2.13"), (50, "2.05")],
)
def test_the_safety_factor_is_half_of_students_t_for_two_sigma(dof, t):
    """JCGM 100:2008, Table G.2, column 95.45."""
    assert f"{2 * safety_factor(dof):.2f}" == t


def test_the_safety_factor_is_that_for_few_measurements():
    """ISO 14253-2, safety factor for 2 to 5 measurements: 7.0, 2.3, 1.7, 1.4 (from memory)."""
    assert [f"{safety_factor(n - 1):.1f}" for n in (2, 3, 4, 5)] == ["7.0", "2.3", "1.7", "1.4"]


def test_the_safety_factor_falls_to_one_without_a_step():
    factors = [safety_factor(dof) for dof in (*range(1, 230), 1000, 10**6)]
    assert all(a > b for a, b in itertools.pairwise(factors))
    assert factors[-1] == pytest.approx(1, abs=2e-6)


@pytest.mark.parametrize(
    ("count", "d2"), [(1, 0), (2, 1.12838), (5, 2.32593), (10, 3.07751), (25, 3.93063)]
)
def test_the_highest_of_several_is_half_of_the_expected_range(count, d2):
    """d2 of control charts, exact by integration; Blom's approximation is good to 0.03."""
    assert highest_of(count) == pytest.approx(d2 / 2, abs=0.03)


def test_tails_agree_with_a_reference_library():
    stats = pytest.importorskip("scipy.stats")
    for dof in DOFS:
        for value in (1e-3, 0.5, 3.0, 20.0, 150.0, 900.0):
            expected = stats.chi2.sf(value, dof)
            assert chi_square_tail(value, dof) == pytest.approx(expected, rel=1e-9, abs=1e-300)
        for t in (0.0, 0.4, 1.5, 4.0, 30.0):
            expected = 1 - 2 * stats.t.sf(t, dof)
            assert student_within(t, dof) == pytest.approx(expected, abs=1e-12)
        half_t = stats.t.ppf((1 + math.erf(math.sqrt(2))) / 2, dof) / 2
        assert safety_factor(dof) == pytest.approx(half_t, abs=3e-5)


def test_of_three_rests_the_difference_on_a_line_of_drift_is_the_bracketed_one():
    """A, B, A': B - (A + A')/2, exactly, whatever the three are."""
    a, b, a_again = 1.003, 1.352, 1.009
    rows = [[1, -1, 0], [1, 0, 1], [1, 1, 0]]
    found = fit(rows, [a, b, a_again])
    assert found.parameters[2] == pytest.approx(b - (a + a_again) / 2, abs=1e-12)
    assert found.gains[2] == pytest.approx((-0.5, 1, -0.5), abs=1e-12)
    assert found.dof == 0


def test_least_squares_are_those_of_another_solver():
    """numpy.linalg.lstsq, which goes by singular values."""
    chance = random.Random(4)
    for parameters in (1, 2, 3, 4):
        rows = [[chance.gauss(0, 10**k) for k in range(parameters)] for _ in range(9)]
        values = [chance.gauss(50, 3) for _ in rows]
        found = fit(rows, values)
        theirs, square, *_ = np.linalg.lstsq(np.array(rows), np.array(values), rcond=None)
        assert found.parameters == pytest.approx(theirs.tolist(), rel=1e-9)
        assert math.hypot(*found.residuals) ** 2 == pytest.approx(square[0], rel=1e-9)
        assert np.array(found.gains) == pytest.approx(np.linalg.pinv(np.array(rows)), rel=1e-7)
        assert found.dof == 9 - parameters


def test_the_own_uncertainty_of_a_parameter_follows_each_value():
    found = fit([[1.0], [1.0]], [2.0, 4.0])
    assert found.own_u(0, [3.0, 4.0]) == pytest.approx(2.5)


@pytest.mark.parametrize(
    "rows", [[[1, 2], [2, 4], [3, 6]], [[1, 0], [1, 0]], [[1, 1]], [[1, 1], [1, 1 + 1e-9]]]
)
def test_parameters_that_cannot_be_told_apart_are_refused(rows):
    with pytest.raises(NoFitError):
        fit(rows, [1.0] * len(rows))


def test_scatter_below_the_own_uncertainty_leaves_it():
    assert agreement([0.1, -0.1, 0.0], [1.0, 1.0, 1.0], 2).factor == 1.0
    assert (agreement([], [1.0], 0).factor, agreement([], [1.0], 0).chance) == (1.0, 1.0)


def test_scatter_that_chance_explains_counts_as_it_is():
    seen = agreement([1.05, -1.05, 0.0], [1.0, 1.0, 1.0], 2)
    assert seen.factor == pytest.approx(1.05)
    assert seen.chance == pytest.approx(math.exp(-(1.05**2)))
    assert not seen.is_doubtful


def test_scatter_that_chance_does_not_explain_is_widened_for_the_few_values():
    seen = agreement([5.0, -5.0, 0.0], [1.0, 1.0, 1.0], 2)
    assert (seen.scatter, seen.expected) == (pytest.approx(5), pytest.approx(1))
    assert seen.factor == pytest.approx(5 * safety_factor(2))
    assert seen.is_doubtful


def test_an_uncertainty_of_nothing_is_taken_as_a_nanometre():
    assert agreement([0.0, 0.0], [0.0, 0.0], 1).factor == 1.0
    assert agreement([3e-6, -3e-6], [0.0, 0.0], 1).factor > 10
