"""Conformance probabilities and guard factors against published figures."""

import math
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daq.spec import ConformanceProbability, Spec, SpecError, decide, guard_factor, p_conform
from daq.spec.probability import below, between


def spec(lower, upper, nominal="0"):
    return Spec(name="x", nominal_mm=nominal, lower_mm=lower, upper_mm=upper, source="a test")


@pytest.mark.parametrize(
    ("p", "printed", "exact"),
    [
        (0.80, "0.84", 0.8416),
        (0.90, "1.28", 1.2816),
        (0.95, "1.64", 1.6449),
        (0.99, "2.33", 2.3263),
        (0.999, "3.09", 3.0902),
    ],
)
def test_one_sided_factors(p, printed, exact):
    """JCGM 106:2012, Table 1 (printed to two decimals); figures from memory, recomputed."""
    factor = guard_factor(p)
    assert factor == pytest.approx(exact, abs=5e-5)
    # The table prints 1.6449 as 1.64.
    assert f"{factor:.2f}" == printed
    assert below(factor) == pytest.approx(p, rel=1e-14)


def test_the_one_sided_example_with_a_lower_limit():
    """JCGM 106:2012, 7.3 (formula), inputs as in the example of a container's burst pressure.

    T_L = 490, y = 507, u = 6 (kPa there; only the ratio counts): z = 2.83, p_c about 0.998.
    From memory; recomputed to 0.997697.
    """
    burst = spec("490", None)
    assert p_conform(507, 6, burst) == pytest.approx(0.997697, abs=5e-7)
    assert round(p_conform(507, 6, burst), 3) == 0.998


def test_the_guard_of_the_speed_example():
    """JCGM 106:2012, 8.3.3 (guarded rejection), inputs as in the example: 100 km/h, 99.9 %.

    u is 2 % of the reading; proved too fast from about 107 km/h. From memory; recomputed to
    100/(1 - 0.02 z) = 106.5876. Millimetres stand in for km/h; the formula does not mind.
    """
    limit, rule = spec(None, "100"), ConformanceProbability(p="0.999")
    edge = 100 / (1 - 0.02 * guard_factor(0.999))
    assert edge == pytest.approx(106.5876, abs=5e-5)
    assert decide(107, 2.14, limit, rule).outcome.value == "high"
    assert decide(106.5877, 0.02 * 106.5877, limit, rule).outcome.value == "high"
    assert decide(106.5875, 0.02 * 106.5875, limit, rule).outcome.value == "too close to call"


@pytest.mark.parametrize(
    ("c_m", "at_0", "at_05", "at_10", "at_20", "at_50"),
    [
        (1, 0.5000, 0.5792, 0.6553, 0.7875, 0.9545),
        (2, 0.5, 0.6554, 0.7881, 0.9452, 0.9999),
        (3, 0.5, 0.7257, 0.8849, 0.9918, 1),
        (4, 0.5, 0.7881, 0.9452, 0.9993, 1),
        (10, 0.5, 0.9772, 1.0, 1, 1),
    ],
)
def test_two_sided_probabilities(c_m, at_0, at_05, at_10, at_20, at_50):
    """JCGM 106:2012, 7.4, over ỹ = (y - T_L)/T for the capability C_m = T/(4u).

    Values of the formula, recomputed independently and rounded to four decimals.
    """
    two_sided = spec("0", "1")
    u = Decimal(1) / (4 * c_m)
    published = {"0": at_0, "0.05": at_05, "0.1": at_10, "0.2": at_20, "0.5": at_50}
    for y, p in published.items():
        assert p_conform(Decimal(y), u, two_sided) == pytest.approx(p, abs=5e-5)
        mirrored = p_conform(1 - Decimal(y), u, two_sided)
        assert mirrored == pytest.approx(p, abs=5e-5)


def test_the_resistor_process_conforms_nine_times_in_ten():
    """JCGM 106:2012, 9.5, inputs as in the example: N(1500, 0.12²), limits 1500 ± 0.2.

    Conforming about 90 %; from memory, recomputed to 0.904419.
    """
    assert p_conform(1500, 0.12, spec("-0.2", "0.2", "1500")) == pytest.approx(0.904419, abs=5e-7)


def test_the_default_factor_of_iso_14253_1():
    """ISO 14253-1:2017: at least 95 %; 1.65 u (from memory), exactly 1.6448536.

    ILAC-G8:09/2019 gives the same guard as 0.83 U for k = 2; exactly 0.822427.
    """
    assert guard_factor(0.95) == pytest.approx(1.6448536, abs=5e-8)
    assert guard_factor(0.95) / 2 == pytest.approx(0.822427, abs=5e-7)
    assert below(1.65) == pytest.approx(0.950529, abs=5e-7)


@pytest.mark.parametrize(
    ("width_over_u", "factor"), [(4, 1.796213), (5, 1.648767), (6, 1.644918), (8, 1.644854)]
)
def test_narrow_limits_need_a_larger_factor(width_over_u, factor):
    """The root of Φ(g) - Φ(g - T/u) = 0.95; recomputed independently to six decimals."""
    assert guard_factor(0.95, width_over_u) == pytest.approx(factor, abs=5e-7)


def test_below_3_92_standard_uncertainties_no_value_reaches_95_percent():
    """The middle has erf(T/(2√2 u)); 95 % needs T/u = 2·1.959964 (tables of the normal)."""
    assert guard_factor(0.95, 3.91992) is None
    # Just above it there is a zone, a sliver in the middle.
    assert guard_factor(0.95, 3.91993) == pytest.approx(1.959965, abs=2e-3)


@pytest.mark.parametrize(
    ("w_in_u", "stated", "exact"),
    [
        ("0", 0.5, 0.5),
        ("0.83", 0.05, 0.04846),
        ("1", 0.025, 0.02275),
        ("1.5", 0.0016, 0.00135),
        ("3", 1e-6, 0.00099e-6),
    ],
)
def test_worst_case_risk_of_a_guard_band(w_in_u, stated, exact):
    """ILAC-G8:09/2019, Table 1: the probability of false acceptance at the acceptance limit.

    w in expanded uncertainties (k = 2). The stated bounds are from the document; the exact values
    are 1 - Φ(2w/U), recomputed.
    """
    # The value lies w inside an upper limit at 0; U is 1, so u is 0.5.
    risk = 1 - p_conform(-Decimal(w_in_u), Decimal("0.5"), spec(None, "0"))
    tail = below(-2 * float(w_in_u))
    assert tail == pytest.approx(exact, rel=5e-3)
    assert risk == pytest.approx(tail, abs=1e-15)
    assert tail <= stated


@pytest.mark.parametrize(
    ("z", "tail"), [(-5, 2.866515719e-7), (-10, 7.619853024e-24), (-20, 2.753624119e-89)]
)
def test_far_tails_are_not_lost(z, tail):
    """Upper tails of the normal, from memory of tables; recomputed with 50-digit arithmetic."""
    assert below(z) == pytest.approx(tail, rel=1e-9, abs=0)
    far = spec(None, "0")
    assert p_conform(-z, 1, far) == pytest.approx(tail, rel=1e-9, abs=0)
    assert between(-z, math.inf) == pytest.approx(tail, rel=1e-9, abs=0)


@pytest.mark.parametrize("u", [-1e-9, float("nan"), float("inf"), Decimal("NaN"), Decimal("-1")])
def test_an_uncertainty_that_is_none_is_refused(u):
    with pytest.raises(SpecError, match="no standard uncertainty"):
        p_conform(1, u, spec("-1", "1"))


VALUES = st.decimals("-5", "5", places=4)
UNCERTAINTIES = st.decimals("0", "3", places=4)


@given(VALUES, UNCERTAINTIES, st.decimals("0.0001", "4", places=4))
def test_mirrored_values_have_the_same_probability(y, u, half):
    both = spec(-half, half)
    assert p_conform(y, u, both) == pytest.approx(p_conform(-y, u, both), rel=1e-12, abs=1e-300)


@given(VALUES, UNCERTAINTIES, st.decimals("0.0001", "4", places=4))
def test_in_low_and_high_share_one_probability(y, u, half):
    within = p_conform(y, u, spec(-half, half))
    not_below, not_above = p_conform(y, u, spec(-half, None)), p_conform(y, u, spec(None, half))
    assert 0 <= within <= 1
    assert within + (1 - not_below) + (1 - not_above) == pytest.approx(1, abs=1e-12)


@given(st.floats(0.501, 0.9999), st.floats(0.01, 50))
def test_the_factor_is_the_smallest_that_reaches_the_probability(p, width_over_u):
    factor = guard_factor(p, width_over_u)
    middle = width_over_u / 2
    if factor is None:
        assert between(-middle, middle) < p
    else:
        assert between(factor - width_over_u, factor) >= p
        assert factor <= middle or factor == pytest.approx(middle, rel=1e-9)
        less = factor * (1 - 1e-9)
        assert between(less - width_over_u, less) < p


@given(st.floats(0.501, 0.9999), st.floats(0.01, 50), st.floats(1, 3))
def test_the_guard_grows_with_the_uncertainty_and_the_probability(p, width, more):
    """With limits of fixed width, u growing from 1: no guard, once reached, is lost."""
    guard, guard_for_more_u = guard_factor(p, width), guard_factor(p, width / more)
    if guard is None:
        assert guard_for_more_u is None
    elif guard_for_more_u is not None:
        assert guard_for_more_u * more >= guard * (1 - 1e-12)
    surer = guard_factor(p + (1 - p) / 2, width)
    if guard is not None and surer is not None:
        assert surer > guard
