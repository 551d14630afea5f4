"""Bias and linearity, against NIST data."""

import math

import pytest

from daq.calibration.study import Referred, StudyError, bias_study, fit_line, mean_estimate
from tests.daq.calibration.study.study_data import column, rows


def norris():
    return [Referred(float(row["reference"]), float(row["value"])) for row in rows("norris")]


def test_the_line_is_the_certified_one():
    # NIST StRD, linear regression, Norris: certified to 15 digits. The bias is y − x, so that its
    # slope is the certified one less 1; uncertainties and residuals are the same.
    line = bias_study(norris()).line
    assert line.at_zero.value == pytest.approx(-0.262323073774029, rel=1e-11)
    assert line.at_zero.u == pytest.approx(0.232818234301152, rel=1e-11)
    assert line.slope.value == pytest.approx(1.00211681802045 - 1, rel=1e-11)
    assert line.slope.u == pytest.approx(0.429796848199937e-03, rel=1e-11)
    assert line.residual_sd == pytest.approx(0.884796396144373, rel=1e-11)
    assert line.dof == 34
    assert not line.at_zero.stands_out
    assert line.slope.stands_out


@pytest.mark.parametrize(
    ("which", "mean", "sd", "t"),
    # NIST/SEMATECH e-Handbook 2.4.5.5, data set MPC536. The mean and standard deviation are the
    # printed ones. The t printed there (−3.943518, 6.456969) divides by √(n − 1); this is the
    # ordinary one, by √n.
    [("d1", -0.003834, 0.005145, -4.013320), ("d2", 0.004886, 0.004004, 6.571261)],
)
def test_the_bias_between_two_configurations_is_the_published_one(which, mean, sd, t):
    found = mean_estimate(column("mpc536", which))
    assert found.value == pytest.approx(mean, abs=5e-7)
    assert found.u * math.sqrt(29) == pytest.approx(sd, abs=6e-7)
    assert found.t == pytest.approx(t, abs=1e-6)
    assert found.t * math.sqrt(28 / 29) == pytest.approx({"d1": -3.943518, "d2": 6.456969}[which])
    # t.975(28) = 2.048, as printed there.
    assert (found.high - found.value) / found.u == pytest.approx(2.048, abs=5e-4)
    assert found.stands_out


def test_the_tests_agree_with_scipy():
    stats = pytest.importorskip("scipy.stats")
    values = column("mpc536", "d1")
    assert mean_estimate(values).p == pytest.approx(stats.ttest_1samp(values, 0).pvalue, rel=1e-9)
    xs = [each.reference for each in norris()]
    ys = [each.value for each in norris()]
    theirs = stats.linregress(xs, ys)
    ours = fit_line(xs, ys)
    assert ours.slope.value == pytest.approx(theirs.slope, rel=1e-11)
    assert ours.slope.u == pytest.approx(theirs.stderr, rel=1e-9)
    assert ours.at_zero.u == pytest.approx(theirs.intercept_stderr, rel=1e-9)


def test_the_uncertainty_of_the_line_holds_slope_and_level():
    # u² at x is u(mean)² + (x − centre)²·u(slope)² (JCGM 100:2008, H.3.5, about the centre).
    line = bias_study(norris()).line
    assert line.bias(line.centre).u == pytest.approx(line.at_centre.u)
    assert line.bias(0.0).u == pytest.approx(line.at_zero.u)
    assert line.bias(0.0).value == pytest.approx(line.at_zero.value)


def test_bias_is_told_at_each_reference():
    values = [Referred(x, x + e) for x in (0.0, 5.0) for e in (0.001, 0.003)] + [Referred(10, 10.5)]
    study = bias_study(values)
    assert [(at.reference, at.n) for at in study.at] == [(0.0, 2), (5.0, 2), (10, 1)]
    assert study.at[0].bias == pytest.approx(0.002)
    assert study.at[0].sd == pytest.approx(0.001 * math.sqrt(2))
    assert study.at[2].estimate is None
    assert "no repeats at 1 of 3 references" in study.remarks[0]


def test_a_curve_is_no_line_and_the_study_says_so():
    bent = [Referred(x, x + 0.01 * x * x + e) for x in range(6) for e in (-1e-3, 1e-3)]
    study = bias_study(bent)
    assert study.line.lack_of_fit.p < 1e-4
    assert any("a straight line does not fit" in remark for remark in study.remarks)
    straight = [Referred(x, 1.01 * x + e) for x in range(6) for e in (-1e-3, 1e-3)]
    assert bias_study(straight).line.lack_of_fit.p > 0.9


def test_one_reference_gives_no_line():
    study = bias_study([Referred(5.0, 5.001), Referred(5.0, 5.002)])
    assert study.line is None
    assert "nothing is known of linearity" in study.remarks[-1]


def test_too_few_values_are_refused():
    with pytest.raises(StudyError, match="2 at least"):
        bias_study([Referred(5.0, 5.0)])
    with pytest.raises(StudyError, match="3 values and 2 references"):
        bias_study([Referred(5.0, 5.0), Referred(6.0, 6.1)])
