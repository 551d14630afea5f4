"""Coverage factors against the printed tables and, where it is installed, against scipy."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daq.calibration.errors import CalibrationError
from daq.calibration.student import normal_k, student_k, student_within

LEVELS = (0.6827, 0.90, 0.95, 0.9545, 0.99, 0.9973)


@pytest.mark.parametrize(
    ("dof", "printed"),
    [
        # JCGM 100:2008, Table G.2. For 99.73 % and 1 dof it prints 235.80, for the level
        # 99.73002 %; the column says 99.73, for which it is 235.78.
        (1, (1.84, 6.31, 12.71, 13.97, 63.66, 235.78)),
        (2, (1.32, 2.92, 4.30, 4.53, 9.92, 19.21)),
        (4, (1.14, 2.13, 2.78, 2.87, 4.60, 6.62)),
        (9, (1.06, 1.83, 2.26, 2.32, 3.25, 4.09)),
        (20, (1.03, 1.72, 2.09, 2.13, 2.85, 3.42)),
        (50, (1.01, 1.68, 2.01, 2.05, 2.68, 3.16)),
        # The last line of the table: the normal distribution; from memory.
        (math.inf, (1.000, 1.645, 1.960, 2.000, 2.576, 3.000)),
    ],
)
def test_table_g2_of_the_gum_comes_out(dof, printed):
    for level, expected in zip(LEVELS, printed, strict=True):
        digits = 3 if math.isinf(dof) else 2
        assert round(student_k(level, dof), digits) == pytest.approx(expected, abs=1e-9)


def test_two_distributions_have_a_closed_form_to_hold_it_against():
    """One degree of freedom: tan(πp/2); two: p·√(2/(1 - p²)). Textbook, from memory."""
    for p in (0.001, 0.3, 0.5, 0.95, 0.9999):
        assert student_k(p, 1) == pytest.approx(math.tan(math.pi * p / 2), rel=2e-12)
        assert student_k(p, 2) == pytest.approx(p * math.sqrt(2 / (1 - p * p)), rel=1e-12)


def test_scipy_gives_the_same_to_1e_10_for_whole_and_broken_degrees_of_freedom():
    stats = pytest.importorskip("scipy.stats")
    dofs = (0.5, 1, 1.5, 3, 4.7, 9, 16.751856, 30, 100, 199.9, 200, 201, 1e3, 99_999, 1e5, 1e8)
    for p in (0.01, 0.1, 0.5, *LEVELS, 0.999, 0.999999):
        assert normal_k(p) == pytest.approx(float(stats.norm.isf((1 - p) / 2)), rel=1e-10, abs=0)
        for dof in dofs:
            theirs = float(stats.t.isf((1 - p) / 2, dof))
            # Well within the promise; where the series in 1/ν begin, each term of them shows.
            within = 1e-12 if dof < 1e3 else 1e-10
            assert student_k(p, dof) == pytest.approx(theirs, rel=within, abs=0), (p, dof)


@given(st.floats(0.001, 0.9999), st.floats(0.5, 1e7))
def test_the_quantile_and_the_distribution_undo_each_other(level, dof):
    inside, outside = student_within(student_k(level, dof), dof)
    assert inside + outside == pytest.approx(1, abs=1e-15)
    # The continued fraction loses digits beyond 1e5, where the quantile does not use it.
    assert inside == pytest.approx(level, rel=1e-10 if dof < 1e5 else 1e-7)


@given(st.floats(0.01, 0.999), st.floats(1, 1e6))
def test_fewer_degrees_of_freedom_never_make_k_smaller(level, dof):
    assert student_k(level, dof) >= student_k(level, dof * 1.5) >= normal_k(level)


@pytest.mark.parametrize("level", [0, 1, -0.5, 95, math.nan])
def test_a_level_that_is_no_probability_is_refused(level):
    with pytest.raises(CalibrationError, match="between 0 and 1"):
        student_k(level, 9)


@pytest.mark.parametrize("dof", [0, -1, math.nan])
def test_no_degrees_of_freedom_give_no_factor(dof):
    with pytest.raises(CalibrationError, match="degrees of freedom"):
        student_k(0.95, dof)
