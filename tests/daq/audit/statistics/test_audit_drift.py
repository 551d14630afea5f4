"""Drift with its interval, against another library and published data."""

import math

import numpy as np
import pytest
from scipy.stats import linregress, t

from daq.audit.statistics import drifts

# JCGM 100:2008, table H.6 (from memory): a thermometer's corrections; t in °C, b in °C. That the
# guide's own results come out of them, below, shows that no digit is wrong.
THERMOMETER_X = [
    21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511,
]  # fmt: skip
THERMOMETER_B = [
    -0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160,
]  # fmt: skip


def test_the_line_of_the_guides_thermometer_comes_out():
    found = drifts([0], THERMOMETER_X, THERMOMETER_B)
    # JCGM 100:2008, H.3.3: slope 0.002 18, its u 0.000 67, 9 degrees of freedom; b(30 °C) H.3.4.
    assert found.slope[0] == pytest.approx(0.00218, abs=5e-6)
    assert found.slope_u[0] == pytest.approx(0.00067, abs=5e-6)
    assert found.dof[0] == 9
    value, low, high = found.at(30.0)
    assert value[0] == pytest.approx(-0.1494, abs=5e-5)
    u = (high[0] - low[0]) / 2 / t.ppf(0.975, 9)
    assert u == pytest.approx(0.0041, abs=5e-5)


def test_many_series_come_out_as_each_alone_does():
    draw = np.random.default_rng(11)
    sizes = [3, 8, 5, 40]
    starts = np.concatenate([[0], np.cumsum(sizes)[:-1]])
    x = np.sort(draw.uniform(0, 3_000, sum(sizes)))
    y = draw.normal(0, 0.002, sum(sizes)) + 1e-6 * x
    found = drifts(starts, x + 1.7e4, y, level=0.9)
    for i, (start, size) in enumerate(zip(starts, sizes, strict=True)):
        theirs = linregress(x[start : start + size], y[start : start + size])
        half = t.ppf(0.95, size - 2) * theirs.stderr
        assert found.slope[i] == pytest.approx(theirs.slope, rel=1e-9)
        assert found.slope_u[i] == pytest.approx(theirs.stderr, rel=1e-9)
        assert found.p[i] == pytest.approx(theirs.pvalue, rel=1e-8)
        assert found.slope_low[i] == pytest.approx(theirs.slope - half, rel=1e-7)
        assert found.slope_high[i] == pytest.approx(theirs.slope + half, rel=1e-7)


def test_points_weigh_by_their_uncertainty():
    x, y, u = [0, 1, 2, 3, 4], [0.0, 1.2, 1.9, 3.3, 3.9], [0.1, 0.2, 0.1, 0.4, 0.2]
    found = drifts([0], x, y, u)
    coefficients, covariance = np.polyfit(x, y, 1, w=1 / np.array(u), cov=True)
    assert found.slope[0] == pytest.approx(coefficients[0], rel=1e-12)
    assert found.slope_u[0] == pytest.approx(math.sqrt(covariance[0, 0]), rel=1e-10)
    assert drifts([0], x, y, [1e-9 * each for each in u]).slope[0] == pytest.approx(found.slope[0])


def test_the_interval_holds_the_true_slope_as_often_as_it_says():
    draw = np.random.default_rng(3)
    gauges, runs = 8_000, 6
    x = np.tile(np.arange(runs), gauges).astype(float)
    y = 0.25 * x + draw.normal(0, 1, gauges * runs)
    found = drifts(np.arange(gauges) * runs, x, y, level=0.9)
    held = np.mean((found.slope_low <= 0.25) & (found.slope_high >= 0.25))
    assert held == pytest.approx(0.9, abs=4 * math.sqrt(0.9 * 0.1 / gauges))


def test_two_points_give_a_slope_but_no_interval():
    found = drifts([0], [0.0, 2.0], [1.0, 2.0])
    assert found.slope[0] == 0.5
    assert math.isnan(found.slope_low[0])
    assert math.isnan(found.p[0])


def test_points_on_one_day_give_nothing():
    found = drifts([0], [5.0, 5.0, 5.0], [1.0, 2.0, 3.0])
    assert math.isnan(found.slope[0])
    assert found.mean[0] == pytest.approx(2)


def test_points_on_a_line_leave_no_doubt():
    found = drifts([0], [0.0, 1.0, 2.0], [0.0, 1.0, 2.0])
    assert found.p[0] == 0
    assert found.slope_low[0] == found.slope_high[0] == 1


def test_no_series_give_no_lines():
    assert drifts([], [], []).slope.shape == (0,)


@pytest.mark.parametrize(
    ("starts", "x", "y", "u"),
    [
        ([0], [1, 2], [1], None),
        ([1], [1, 2], [1, 2], None),
        ([0, 0], [1, 2], [1, 2], None),
        ([0], [1, 2], [1, 2], [1, 0]),
    ],
)
def test_what_does_not_go_together_is_refused(starts, x, y, u):
    with pytest.raises(ValueError, match=r"go together|must begin|above 0"):
        drifts(starts, x, y, u)
