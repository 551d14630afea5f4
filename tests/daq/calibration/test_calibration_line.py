"""Lines against JCGM 100, H.3, and certified data."""

import math
import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daq.calibration.errors import CalibrationError
from daq.calibration.line import fit_line

# JCGM 100:2008, Table H.6: thermometer readings t and corrections b, in °C; from memory.
# fmt: off
T = (21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511)
B = (-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160)

# NIST Statistical Reference Datasets, linear regression, Norris; public domain.
NORRIS_X = (
    0.2, 337.4, 118.2, 884.6, 10.1, 226.5, 666.3, 996.3, 448.6, 777.0, 558.2, 0.4, 0.6, 775.5,
    666.9, 338.0, 447.5, 11.6, 556.0, 228.1, 995.8, 887.6, 120.2, 0.3, 0.3, 556.8, 339.1, 887.2,
    999.0, 779.0, 11.1, 118.3, 229.2, 669.1, 448.9, 0.5,
)
NORRIS_Y = (
    0.1, 338.8, 118.1, 888.0, 9.2, 228.1, 668.5, 998.5, 449.1, 778.9, 559.2, 0.3, 0.1, 778.1,
    668.8, 339.3, 448.9, 10.8, 557.7, 228.3, 998.0, 888.8, 119.6, 0.3, 0.6, 557.6, 339.3, 888.0,
    998.5, 778.9, 10.2, 117.6, 228.9, 668.4, 449.2, 0.2,
)
# fmt: on


def test_the_thermometer_of_gum_h3_comes_out():
    """JCGM 100:2008, H.3.3 and H.3.4: from memory, recomputed from the data above."""
    line = fit_line(T, B, origin=20.0)
    assert round(line.intercept, 4) == -0.1712
    assert round(line.u_intercept, 4) == 0.0029
    assert round(line.slope, 5) == 0.00218
    assert round(line.u_slope, 5) == 0.00067
    assert round(line.correlation, 3) == -0.930
    assert round(line.sd, 4) == 0.0035
    assert line.dof == 9
    at_30 = line.at(30.0)
    assert round(at_30.value, 4) == -0.1494
    assert round(at_30.u, 4) == 0.0041
    assert not at_30.inside
    assert line.at(24.0).inside


def test_the_certified_norris_line_comes_out():
    """NIST StRD, Norris: certified values to 15 digits."""
    line = fit_line(NORRIS_X, NORRIS_Y, origin=0.0)
    assert line.intercept == pytest.approx(-0.262323073774029, rel=1e-12)
    assert line.slope == pytest.approx(1.00211681802045, rel=1e-13)
    assert line.u_intercept == pytest.approx(0.232818234301152, rel=1e-12)
    assert line.u_slope == pytest.approx(0.429796848199937e-3, rel=1e-12)
    assert line.sd == pytest.approx(0.884796396144373, rel=1e-13)


def test_scipy_gives_the_same_line_and_covariance():
    stats = pytest.importorskip("scipy.stats")
    theirs = stats.linregress(NORRIS_X, NORRIS_Y)
    line = fit_line(NORRIS_X, NORRIS_Y, origin=0.0)
    assert line.slope == pytest.approx(theirs.slope, rel=1e-12)
    # Some versions of scipy keep ten digits of it only; the certified value above is met to 1e-12.
    assert line.u_intercept == pytest.approx(theirs.intercept_stderr, rel=1e-9)


def test_a_weighted_line_agrees_with_the_matrix_form():
    import numpy as np

    chance = random.Random(3)
    x = [chance.uniform(0, 25) for _ in range(12)]
    u = [chance.uniform(0.1, 2) for _ in x]
    y = [0.3 - 0.02 * a + chance.gauss(0, b) for a, b in zip(x, u, strict=True)]
    line = fit_line(x, y, u=u, origin=0.0)
    design = np.column_stack([np.ones(12), x])
    weights = np.diag(1 / np.square(u))
    covariance = np.linalg.inv(design.T @ weights @ design)
    best = covariance @ design.T @ weights @ np.array(y)
    assert [line.intercept, line.slope] == pytest.approx(list(best), rel=1e-10)
    assert line.u_intercept**2 == pytest.approx(covariance[0, 0], rel=1e-10)
    assert line.u_slope**2 == pytest.approx(covariance[1, 1], rel=1e-10)
    assert line.covariance == pytest.approx(covariance[0, 1], rel=1e-10)
    left = np.array(y) - design @ best
    assert line.chi_square == pytest.approx(float(left @ weights @ left), rel=1e-10)
    assert math.isinf(line.dof)
    at = line.at(7.0)
    row = np.array([1.0, 7.0])
    assert at.u == pytest.approx(float(np.sqrt(row @ covariance @ row)), rel=1e-10)
    assert at.u_single is None


def test_equal_uncertainties_give_the_plain_line_with_their_own_covariance():
    plain = fit_line(T, B, origin=20.0)
    weighted = fit_line(T, B, u=[0.007] * 11, origin=20.0)
    assert weighted.slope == pytest.approx(plain.slope, rel=1e-12)
    assert weighted.u_slope == pytest.approx(plain.u_slope * 0.007 / plain.sd, rel=1e-12)
    assert weighted.chi_square == pytest.approx(9 * (plain.sd / 0.007) ** 2, rel=1e-12)


def test_a_single_further_point_scatters_more_than_the_line():
    at = fit_line(T, B).at(24.0)
    assert at.u_single == pytest.approx(math.hypot(at.u, fit_line(T, B).sd))


def test_without_an_origin_it_is_the_mean_and_nothing_is_correlated():
    line = fit_line(T, B)
    assert line.origin == pytest.approx(sum(T) / 11)
    assert line.covariance == 0
    assert line.correlation == 0
    assert line.u_intercept == pytest.approx(line.sd / math.sqrt(11))


def test_the_u_of_the_line_is_what_scatter_really_does_to_it():
    """2,000 lines through points of known scatter: the u covers as it says, within 5 standard
    errors."""
    chance = random.Random(11)
    x = [n * 2.5 for n in range(11)]
    found = [
        fit_line(x, [chance.gauss(0.1 * a, 0.5) for a in x], u=[0.5] * 11).at(25.0)
        for _ in range(2000)
    ]
    scatter = math.sqrt(math.fsum((each.value - 2.5) ** 2 for each in found) / 2000)
    assert scatter == pytest.approx(found[0].u, rel=5 / math.sqrt(2 * 2000))


places = st.lists(st.integers(-1000, 1000), min_size=3, max_size=12, unique=True)


@given(places, st.floats(-5, 5), st.floats(-5, 5), st.floats(-2000, 2000))
def test_points_on_a_line_give_that_line_wherever_the_origin_is(x, a, b, origin):
    line = fit_line(x, [a + b * each for each in x], origin=origin)
    assert line.at(origin).value == pytest.approx(a + b * origin, abs=1e-8)
    assert line.at(0.0).value == pytest.approx(a, abs=1e-7)


@given(places, st.floats(-2000, 2000), st.floats(-1500, 1500))
def test_the_prediction_and_its_u_do_not_depend_on_the_origin(x, origin, at):
    y = [math.sin(each) for each in x]
    here, there = fit_line(x, y).at(at), fit_line(x, y, origin=origin).at(at)
    assert there.value == pytest.approx(here.value, abs=1e-8)
    assert there.u == pytest.approx(here.u, rel=1e-5, abs=1e-7)


@given(st.floats(-1e6, 1e6))
def test_points_far_from_zero_keep_their_digits(shift):
    line = fit_line([t + shift for t in T], B)
    assert line.slope == pytest.approx(fit_line(T, B).slope, rel=1e-7)


@pytest.mark.parametrize(
    ("x", "y", "u", "says"),
    [
        ([1, 2], [1, 2], None, "three points"),
        ([1, 2, 3], [1, 2], None, "all its figures"),
        ([1, 2, 3], [1, 2, 3], [1, 1], "all its figures"),
        ([1, 1, 1], [1, 2, 3], None, "same place"),
        ([1, 2, math.nan], [1, 2, 3], None, "nan"),
        ([1, 2, 3], [1, 2, 3], [1, 0, 1], "above 0"),
    ],
)
def test_what_makes_no_line_is_refused(x, y, u, says):
    with pytest.raises(CalibrationError, match=says):
        fit_line(x, y, u=u)


def test_there_is_no_value_at_infinity():
    with pytest.raises(CalibrationError, match="no value"):
        fit_line(T, B).at(math.inf)
