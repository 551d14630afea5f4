"""The statistics of a mean, against certified and published values."""

import csv
import math
import random
from pathlib import Path

import pytest

from daq.settle.statistics import (
    autocorrelation_factor,
    autocorrelations,
    correlation_cut_off,
    mean_and_sd,
    quantisation_u,
    u_of_mean,
    variance_factor,
)

DATA = Path(__file__).parents[2] / "data"


def certified():
    """NIST StRD, univariate summary statistics: data set, mean, sd (n - 1), lag-1 correlation."""
    with (DATA / "strd" / "certified.csv").open(newline="") as file:
        return [
            (
                row["dataset"],
                int(row["n"]),
                float(row["certified_mean"]),
                float(row["certified_sd"]),
                float(row["certified_lag1_autocorr"]),
            )
            for row in csv.DictReader(file)
        ]


def column(path):
    return [float(line) for line in path.read_text().split()[1:]]


@pytest.mark.parametrize(("name", "n", "mean", "sd", "lag1"), certified())
def test_mean_sd_and_lag_1_are_those_nist_certifies(name, n, mean, sd, lag1):
    values = column(DATA / "strd" / f"{name}.csv")
    got_mean, got_sd = mean_and_sd(values)
    assert len(values) == n
    assert got_mean == pytest.approx(mean, rel=1e-14)
    # NumAcc4 keeps its scatter in the eighth digit: the values themselves carry no more than 1e-8.
    assert got_sd == pytest.approx(sd, rel=1e-8 if name == "NumAcc4" else 1e-9)
    assert autocorrelations(values, 1)[0] == pytest.approx(lag1, rel=1e-8)


def test_twenty_temperatures_give_the_mean_and_u_of_the_gum():
    """JCGM 100:2008, 4.4.3 and Table 1 (values from memory): 100.145, s 1.489, s of mean 0.333."""
    t_c = """96.90 98.18 98.25 98.61 99.03 99.49 99.56 99.74 99.89 100.07
             100.33 100.42 100.68 100.95 101.11 101.20 101.57 101.84 102.36 102.72"""
    values = [float(t) for t in t_c.split()]
    mean, sd = mean_and_sd(values)
    assert mean == pytest.approx(100.145, abs=5e-6)
    assert sd == pytest.approx(1.489, abs=5e-4)
    assert sd / math.sqrt(len(values)) == pytest.approx(0.333, abs=5e-4)


def test_one_value_has_no_standard_deviation():
    with pytest.raises(ValueError, match="at least 2 values, got 1"):
        mean_and_sd([3.0])


@pytest.mark.parametrize(
    ("rho", "n", "factor"),
    [
        (0.5, 5, 2.225),
        (0.5, 10, 2.6004),
        (0.5, 1000, 2.996),
        (0.8, 10, 5.4295),
        (0.8, 100, 8.6),
        (0.9, 5, 4.2576),
        (0.9, 20, 11.0942),
        (0.9, 50, 15.4186),
        (0.9, 1000, 18.82),
        (-0.5, 5, 0.425),
        (-0.5, 100, 0.3378),
    ],
)
def test_the_factor_of_an_ar1_process_is_exact(rho, n, factor):
    """n var(mean) / sigma^2 of AR(1) readings: the sum over all pairs of r^|i-j|, to 4 places."""
    assert variance_factor([rho**k for k in range(1, n)], n) == pytest.approx(factor, abs=6e-5)


def test_correlated_readings_have_their_u_corrected():
    """NIST StRD Mavro after Zhang, Metrologia 43 (2006) S276: cut-off 3, factor 5.837.

    The factor was computed outside this project from the published formula; the naive
    u is 6.07e-5.
    """
    values = column(DATA / "strd" / "Mavro.csv")
    r = autocorrelations(values, len(values) // 4)
    assert correlation_cut_off(r, len(values)) == 3
    assert autocorrelation_factor(values) == pytest.approx(5.836909, rel=1e-6)
    assert u_of_mean(values) == pytest.approx(1.466185e-4, rel=1e-6)


def test_alternating_readings_do_not_shrink_u():
    """NIST StRD Lew (beam deflections, periodic): the plain factor would be 0.45."""
    assert autocorrelation_factor(column(DATA / "strd" / "Lew.csv")) == 1.0


def test_the_factor_of_a_long_correlated_series_agrees_with_other_estimators():
    """AR(1), rho 0.9, 5000 values; theory 19.

    Statistical inefficiencies found by three public packages: pymbar 19.91, emcee 20.08,
    arviz 21.26.
    """
    values = column(DATA / "ar1_rho0.9_n5000.csv")
    assert autocorrelations(values, 1)[0] == pytest.approx(0.9035, abs=5e-5)
    n = len(values)
    r = autocorrelations(values, 60)
    assert variance_factor(r[: correlation_cut_off(r, n)], n) == pytest.approx(20.1, abs=2.0)


@pytest.mark.parametrize("p", [0.0, 0.1, 0.25, 0.5])
def test_two_toggling_digits_leave_the_distance_from_the_edge(p):
    """The level is uniform between the digit's edge and the mean: u^2 = (1/2 - p)^2 d^2 / 3."""
    assert quantisation_u(0.01, p * (1 - p) * 1e-4) == pytest.approx(
        (0.5 - p) * 0.01 / math.sqrt(3), abs=1e-12
    )


def test_a_constant_digit_has_step_over_root_12():
    assert quantisation_u(0.001, 0.0) == pytest.approx(0.001 / math.sqrt(12), rel=1e-12)


def test_enough_noise_removes_the_display_step():
    """sd of the mean of dithered readings at a bad level: nothing of the 0.29 d is left."""
    rng = random.Random(7)
    level, sd = 0.31, 0.6
    shown = [round(level + rng.gauss(0, sd)) for _ in range(20000)]
    mean, s = mean_and_sd(shown)
    assert quantisation_u(1.0, s * s) == 0.0
    assert mean == pytest.approx(level, abs=4 * sd / math.sqrt(len(shown)))
