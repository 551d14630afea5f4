"""Risks against the examples of JCGM 106, printed tables, and plain simulation."""

import math
import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from daq.calibration.errors import CalibrationError
from daq.calibration.integration import integral
from daq.calibration.risk import (
    Band,
    DensityPrior,
    NormalPrior,
    consumer_risk,
    global_risks,
    knowing,
    producer_risk,
    worst_consumer_risk,
)

RESISTORS = NormalPrior(1500.0, 0.12)
TOLERANCE = Band(1499.8, 1500.2)


@pytest.mark.parametrize(
    ("r", "consumer", "producer"),
    [(0, 0.0189422, 0.0372078), (0.5, 0.0043341, 0.1146566), (1, 0.0004686, 0.2476696)],
)
def test_the_resistors_of_jcgm_106(r, consumer, producer):
    """JCGM 106:2012, 9.5, formulas (19) and (20); inputs as in the example, from memory:
    N(1500, 0.12) Ω, ±0.2 Ω, u 0.04 Ω, about 90 % conform. Values recomputed by double integrals.
    """
    risks = global_risks(0.04, TOLERANCE, TOLERANCE.narrowed(r * 0.08), RESISTORS)
    assert risks.conforming == pytest.approx(0.904419, abs=5e-7)
    assert risks.consumer == pytest.approx(consumer, abs=6e-8)
    assert risks.producer == pytest.approx(producer, abs=6e-8)


def test_the_ball_bearings_of_jcgm_106():
    """JCGM 106:2012, 9.5.4: gamma prior, mean 1 µm, sd 0.5 µm, limit 2 µm, u 0.25 µm: about 96 %
    conform, R_C ≈ 0.8 %, R_P ≈ 1.7 % (from memory)."""
    gamma = DensityPrior(lambda x: x**3 * math.exp(-4 * x) * 4**4 / 6, (0.0, 20.0), (1.0, 3.0))
    limit = Band(None, 2.0)
    risks = global_risks(0.25, limit, limit, gamma)
    assert round(risks.conforming, 2) == 0.96
    assert round(risks.consumer, 3) == 0.008
    assert round(risks.producer, 3) == 0.017
    assert risks.consumer == pytest.approx(0.00801911, abs=6e-9)
    assert risks.producer == pytest.approx(0.0174446, abs=6e-8)


@pytest.mark.parametrize(
    ("conforming", "ratio", "consumer", "producer"),
    [
        (0.95, 4, 0.858, 1.554),
        (0.95, 3, 1.049, 2.294),
        (0.95, 2, 1.337, 4.178),
        (0.95, 1, 1.801, 12.957),
        (0.90, 4, 1.374, 2.089),
        (0.85, 4, 1.728, 2.383),
    ],
)
def test_simple_acceptance_at_n_to_one(conforming, ratio, consumer, producer):
    """Shares in % of a centred normal process, U at k = 2; the widely quoted 0.8 % at 4:1 and
    95 % (from memory) is the first."""
    band = Band(-1.0, 1.0)
    prior = NormalPrior.of_reliability(band, conforming)
    risks = global_risks(0.5 / ratio, band, band, prior)
    assert round(100 * risks.consumer, 3) == pytest.approx(consumer)
    assert round(100 * risks.producer, 3) == pytest.approx(producer)


@pytest.mark.parametrize(
    ("r", "stated", "exact"),
    [
        (0, 0.50, 0.5),
        (0.83, 0.05, 0.04846),
        (1, 0.025, 0.02275),
        (1.5, 0.0016, 0.00135),
        (3, 1e-6, 0.00099e-6),
    ],
)
def test_the_table_of_ilac_g8(r, stated, exact):
    """ILAC-G8:09/2019: guard bands in U at k = 2 and the most that is falsely accepted."""
    assert worst_consumer_risk(r) <= stated
    assert worst_consumer_risk(r) == pytest.approx(exact, rel=5e-3)


@pytest.mark.parametrize(
    ("cm", "place", "p"),
    [
        (1, 0, 0.5000),
        (1, 0.05, 0.5792),
        (1, 0.1, 0.6553),
        (1, 0.2, 0.7875),
        (1, 0.5, 0.9545),
        (2, 0.05, 0.6554),
        (2, 0.2, 0.9452),
        (3, 0.1, 0.8849),
        (4, 0.1, 0.9452),
        (10, 0.05, 0.9772),
    ],
)
def test_the_probability_of_conformity_by_measurement_capability(cm, place, p):
    """JCGM 106:2012, 7.6: C_m = T/(4u) and (y - T_L)/T."""
    assert round(producer_risk(place, 1 / (4 * cm), Band(0.0, 1.0)), 4) == p
    assert round(consumer_risk(place, 1 / (4 * cm), Band(0.0, 1.0)), 4) == round(1 - p, 4)


def test_the_burst_pressure_and_the_speeding_car_of_jcgm_106():
    """7.3: limit 490, y 507, u 6: 0.998. 8.3.3.3: fined above 107 km/h, u = 2 % of the reading,
    99.9 % sure to have passed 100 km/h (from memory, recomputed)."""
    assert round(producer_risk(507, 6, Band(490, None)), 3) == 0.998
    speed = 106.5876
    assert consumer_risk(speed, 0.02 * speed, Band(None, 100)) == pytest.approx(0.999, abs=1e-6)


def test_a_prior_pulls_the_value_towards_it_and_makes_it_surer():
    """JCGM 106:2012, 6.5: normal with normal. Equal weights meet half-way, u/√2."""
    assert knowing(10.0, 2.0, NormalPrior(4.0, 2.0)) == pytest.approx((7.0, math.sqrt(2)))
    mean, sd = knowing(10.0, 0.1, NormalPrior(4.0, 1e6))
    assert (mean, sd) == pytest.approx((10.0, 0.1))


def test_the_risks_agree_with_a_plain_simulation():
    """200,000 pieces; within 4 standard errors."""
    chance = random.Random(5)
    tolerance, acceptance, u = Band(-1.0, 1.5), Band(-0.9, 1.4), 0.2
    prior = NormalPrior(0.3, 0.6)
    wrong_in = wrong_out = 0
    for _ in range(200_000):
        true = chance.gauss(prior.mean, prior.sd)
        measured = chance.gauss(true, u)
        conforms, accepted = -1.0 <= true <= 1.5, -0.9 <= measured <= 1.4
        wrong_in += accepted and not conforms
        wrong_out += conforms and not accepted
    risks = global_risks(u, tolerance, acceptance, prior)
    for count, risk in ((wrong_in, risks.consumer), (wrong_out, risks.producer)):
        assert count / 200_000 == pytest.approx(risk, abs=4 * math.sqrt(risk / 200_000))


def test_scipy_integrates_to_the_same_risks():
    stats = pytest.importorskip("scipy.stats")
    risks = global_risks(0.04, TOLERANCE, TOLERANCE.narrowed(0.04), RESISTORS)
    # True value and measured value together are normal in two dimensions.
    both = stats.multivariate_normal([1500, 1500], [[0.0144, 0.0144], [0.0144, 0.016]])
    accepted_and_good = both.cdf([1500.2, 1500.16], lower_limit=[1499.8, 1499.84])
    accepted = 1 - 2 * stats.norm.sf(0.16, scale=math.sqrt(0.016))
    assert risks.accepted == pytest.approx(accepted, rel=1e-10)
    assert risks.consumer == pytest.approx(accepted - accepted_and_good, rel=1e-4)
    assert risks.consumer_of_accepted == pytest.approx(risks.consumer / accepted, rel=1e-10)


bands = st.tuples(st.floats(-3, 0), st.floats(0.1, 3)).map(lambda ends: Band(*ends))


@settings(max_examples=40)
@given(bands, st.floats(0.001, 2), st.floats(-1, 1), st.floats(0.01, 2))
def test_all_pieces_are_somewhere(band, u, mean, sd):
    prior = NormalPrior(mean, sd)
    risks = global_risks(u, band, band, prior)
    good = band.probability(mean, sd)
    assert risks.conforming == pytest.approx(good, abs=1e-11)
    assert risks.accepted == pytest.approx(band.probability(mean, math.hypot(u, sd)), abs=1e-11)
    # Accepted and conforming, counted from either side.
    assert risks.accepted - risks.consumer == pytest.approx(good - risks.producer, abs=1e-11)
    for share in (risks.consumer, risks.producer):
        assert -1e-12 <= share <= 1


@settings(max_examples=25)
@given(bands, st.floats(0.01, 1), st.floats(0.05, 2), st.floats(0.001, 0.04))
def test_a_guard_band_takes_from_the_consumers_risk_and_adds_to_the_producers(band, u, sd, guard):
    prior = NormalPrior(0.0, sd)
    plain = global_risks(u, band, band, prior)
    guarded = global_risks(u, band, band.narrowed(guard), prior)
    assert guarded.consumer <= plain.consumer + 1e-14
    assert guarded.producer >= plain.producer - 1e-14


def test_a_very_small_u_leaves_hardly_any_risk_and_is_not_stepped_over():
    band = Band(-1.0, 1.0)
    risks = global_risks(1e-7, band, band, NormalPrior(0.0, 0.5))
    # By symmetry of the narrow step: both sides lose u·φ/√(2π) of density at each limit.
    each = 1e-7 / math.sqrt(2 * math.pi) * 2 * NormalPrior(0.0, 0.5).density(1.0)
    assert risks.consumer == pytest.approx(each, rel=1e-5)
    assert risks.producer == pytest.approx(each, rel=1e-5)


def test_a_small_consumer_risk_keeps_its_digits():
    """Φ(-10) = 7.6199e-24 (printed tables)."""
    assert consumer_risk(0.0, 0.1, Band(None, 1.0)) == pytest.approx(7.6199e-24, rel=1e-4)


@pytest.mark.parametrize(
    ("function", "low", "high", "breaks", "value"),
    [
        (lambda x: x**7, 0.0, 2.0, (), 32.0),
        (math.exp, -3.0, 3.0, (), math.exp(3) - math.exp(-3)),
        (abs, -1.0, 2.0, (0.0,), 2.5),
        (lambda x: math.exp(-((x / 1e-4) ** 2)), -1, 1, (-1e-3, 1e-3), 1e-4 * math.sqrt(math.pi)),
        (math.sqrt, 0.0, 1.0, (), 2 / 3),
    ],
)
def test_integrals_with_a_closed_form_come_out(function, low, high, breaks, value):
    assert integral(function, low, high, breaks) == pytest.approx(value, rel=1e-10)


@pytest.mark.parametrize(
    ("call", "says"),
    [
        (lambda: Band(None, None), "limit nothing"),
        (lambda: Band(1.0, 0.0), "above the upper"),
        (lambda: Band(0.0, 1.0).narrowed(0.6), "no acceptance zone"),
        (lambda: NormalPrior(0.0, 0.0), "makes no sense"),
        (lambda: NormalPrior.of_reliability(Band(None, 1.0), 0.95), "both sides"),
        (lambda: DensityPrior(lambda x: 1.0, (0.0, 2.0)), "not 1"),
        (lambda: DensityPrior(lambda x: 1.0, (0.0, math.inf)), "no support"),
        (lambda: consumer_risk(0.0, 0.0, TOLERANCE), "above 0"),
        (lambda: producer_risk(math.nan, 1.0, TOLERANCE), "measure again"),
        (lambda: global_risks(0.0, TOLERANCE, TOLERANCE, RESISTORS), "above 0"),
    ],
)
def test_what_has_no_risk_is_refused(call, says):
    with pytest.raises(CalibrationError, match=says):
        call()
