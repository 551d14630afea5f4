"""Verdicts: in, low, high, or too close to call."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daq.spec import (
    ISO_14253_1,
    ConformanceProbability,
    GuardBand,
    Outcome,
    SimpleAcceptance,
    Spec,
    SpecError,
    decide,
    place,
)

SPEC = Spec.of("rack", nominal="76.20 mm", limits="± 0.02 mm", source="a test")
ONLY_MAX = Spec.of("run-out", nominal="0 mm", limits="max +0.05 mm", source="a test")
ONLY_MIN = Spec.of("end float", nominal="0.10 mm", limits="min -0.02 mm", source="a test")
U = Decimal("0.004")


def outcome(value, u=U, spec=SPEC, rule=ISO_14253_1):
    return decide(Decimal(value), u, spec, rule).outcome.value


@pytest.mark.parametrize(
    ("value", "simple", "guarded"),
    [
        ("76.1719", "low", "low"),
        ("76.1720", "low", "too close to call"),  # outside by just U, and no more
        ("76.1799999999", "low", "too close to call"),
        ("76.1800", "in", "too close to call"),  # on the limit
        ("76.1879", "in", "too close to call"),
        ("76.1880", "in", "in"),  # inside by just U
        ("76.2000", "in", "in"),
        ("76.2120", "in", "in"),
        ("76.2121", "in", "too close to call"),
        ("76.2200", "in", "too close to call"),
        ("76.2200000001", "high", "too close to call"),
        ("76.2280", "high", "too close to call"),
        ("76.2281", "high", "high"),
    ],
)
def test_the_zones_of_simple_and_guarded_acceptance(value, simple, guarded):
    assert outcome(value, rule=SimpleAcceptance()) == simple
    assert outcome(value, rule=GuardBand(r=1)) == guarded


def test_simple_acceptance_needs_no_uncertainty_and_never_wavers():
    verdict = decide(Decimal("76.22"), None, SPEC, SimpleAcceptance())
    assert (verdict.outcome, verdict.p_conform, verdict.guard_mm) == (Outcome.IN, None, 0)
    assert decide(Decimal("76.221"), None, SPEC, SimpleAcceptance()).outcome is Outcome.HIGH


@pytest.mark.parametrize("rule", [GuardBand(), ISO_14253_1, SimpleAcceptance(ratio=4)])
def test_a_rule_that_counts_the_uncertainty_refuses_to_decide_without_one(rule):
    with pytest.raises(SpecError, match="needs the value's uncertainty"):
        decide(Decimal("76.20"), None, SPEC, rule)


def test_a_float_on_the_limit_is_on_the_limit():
    """Summed in binary, 76.20 + 0.02 falls to either side of 76.22; neither may decide."""
    for value in (76.22, 76.20 + 0.02, 76.21999999999999, 76.22000000000001):
        assert place(value, SPEC).outcome is Outcome.IN
        assert decide(value, 0, SPEC, SimpleAcceptance()).outcome is Outcome.IN
    assert place(76.2200001, SPEC).outcome is Outcome.HIGH


def test_the_deviation_is_exact():
    assert str(place(76.28, SPEC).deviation_mm) == "0.08"
    assert decide(Decimal("76.1234567890123"), U, SPEC, ISO_14253_1).deviation_mm == Decimal(
        "-0.0765432109877"
    )


def test_without_uncertainty_a_verdict_is_certain():
    for rule in (SimpleAcceptance(), SimpleAcceptance(ratio=4), GuardBand(), ISO_14253_1):
        on_limit = decide(Decimal("76.22"), 0, SPEC, rule)
        assert (on_limit.outcome, on_limit.p_conform) == (Outcome.IN, 1.0)
        beyond = decide(Decimal("76.2200000000001"), 0, SPEC, rule)
        assert (beyond.outcome, beyond.p_conform) == (Outcome.HIGH, 0.0)


def test_limits_too_narrow_for_the_uncertainty_accept_nothing_and_say_so():
    """T/u below 3.92: no value has a conformance probability of 95 %."""
    verdict = decide(Decimal("76.20"), Decimal("0.0103"), SPEC, ISO_14253_1)
    assert (verdict.outcome, verdict.guard_mm) == (Outcome.TOO_CLOSE_TO_CALL, None)
    assert "no value can be accepted: the limits are only 3.88 standard" in verdict.reason
    just = decide(Decimal("76.20"), Decimal("0.0102"), SPEC, ISO_14253_1)
    assert just.outcome is Outcome.IN
    far = decide(Decimal("76.30"), Decimal("0.0103"), SPEC, ISO_14253_1)
    assert far.outcome is Outcome.HIGH


def test_a_ratio_that_does_not_hold_accepts_nothing_but_still_sees_what_is_far_out():
    rule, too_large = SimpleAcceptance(ratio=4), Decimal("0.003")
    assert outcome("76.20", Decimal("0.0025"), rule=rule) == "in"
    assert outcome("76.22", Decimal("0.0025"), rule=rule) == "in"
    assert outcome("76.20", too_large, rule=rule) == "too close to call"
    assert outcome("76.226", too_large, rule=rule) == "too close to call"
    assert outcome("76.2261", too_large, rule=rule) == "high"


def test_a_limit_on_one_side_is_held_on_that_side_only():
    assert outcome("-99", spec=ONLY_MAX) == "in"
    assert outcome("0.043", spec=ONLY_MAX) == "in"
    assert outcome("0.045", spec=ONLY_MAX) == "too close to call"
    assert outcome("0.057", spec=ONLY_MAX) == "high"
    assert outcome("99", spec=ONLY_MIN) == "in"
    assert outcome("0.087", spec=ONLY_MIN) == "in"
    assert outcome("0.085", spec=ONLY_MIN) == "too close to call"
    assert outcome("0.073", spec=ONLY_MIN) == "low"


@pytest.mark.parametrize(
    ("value", "reason"),
    [
        ("76.205", "0.0150 mm inside the upper limit"),
        ("76.19", "0.0100 mm inside the lower limit"),
        ("76.15", "0.0300 mm outside the lower limit"),
        ("76.215", "0.0050 mm inside the upper limit, nearer than the guard band of 0.0080 mm"),
        ("76.225", "0.0050 mm outside the upper limit, nearer than the guard band of 0.0080 mm"),
        ("76.22", "exactly on the upper limit, nearer than the guard band of 0.0080 mm"),
    ],
)
def test_a_verdict_says_why_and_by_which_rule(value, reason):
    verdict = decide(Decimal(value), U, SPEC, GuardBand())
    assert verdict.reason == reason
    assert verdict.rule_text == "guarded 1U"


def test_outside_a_narrow_pair_of_limits_the_guard_is_that_of_one_limit():
    """At T/u = 4 it is 1.796 u inside (both limits count) and 1.645 u outside (one does)."""
    inside = decide(Decimal("76.205"), Decimal("0.01"), SPEC, ISO_14253_1)
    assert inside.reason.endswith("nearer than the guard band of 0.0180 mm")
    outside = decide(Decimal("76.225"), Decimal("0.01"), SPEC, ISO_14253_1)
    assert outside.reason.endswith("nearer than the guard band of 0.0164 mm")
    assert outcome("76.2365", Decimal("0.01")) == "high"


def test_the_reason_is_in_the_users_unit():
    inches = Spec.of("rack", nominal="3 in", limits="± 1 thou", source="a test")
    reason = decide(Decimal("76.2127"), U, inches, GuardBand()).reason
    assert reason == "0.00050 in inside the upper limit"


@pytest.mark.parametrize(
    ("value", "u"),
    [
        (float("nan"), 0.004),
        (float("inf"), 0.004),
        (76.2, float("nan")),
        (76.2, float("inf")),
        (76.2, -0.004),
        (1e9, 0.004),
    ],
)
def test_numbers_that_are_none_are_refused(value, u):
    for rule in (SimpleAcceptance(), GuardBand(), ISO_14253_1):
        with pytest.raises(SpecError):
            decide(value, u, SPEC, rule)


VALUES = st.decimals("-0.1", "0.1", places=5)
UNCERTAINTIES = st.decimals("0", "0.05", places=5)
HALVES = st.decimals("0.0005", "0.06", places=4)
RULES = st.one_of(
    st.just(SimpleAcceptance()),
    st.builds(SimpleAcceptance, ratio=st.sampled_from([3, 4, 10])),
    st.builds(GuardBand, r=st.sampled_from(["0", "0.83", "1", "1.5", "3"])),
    st.builds(ConformanceProbability, p=st.sampled_from(["0.8", "0.9", "0.95", "0.99", "0.999"])),
)
MIRRORED = {Outcome.LOW: Outcome.HIGH, Outcome.HIGH: Outcome.LOW}


def around_zero(lower, upper):
    return Spec(name="x", nominal_mm=0, lower_mm=lower, upper_mm=upper, source="a test")


@given(VALUES, UNCERTAINTIES, HALVES, HALVES, RULES)
def test_a_change_of_sign_swaps_low_and_high(deviation, u, lower, upper, rule):
    one = decide(deviation, u, around_zero(-lower, upper), rule)
    other = decide(-deviation, u, around_zero(-upper, lower), rule)
    assert other.outcome is MIRRORED.get(one.outcome, one.outcome)
    assert other.deviation_mm == -one.deviation_mm


@given(
    st.decimals("-0.06", "0.06", places=5),
    UNCERTAINTIES,
    HALVES,
    st.sampled_from(["0.8", "0.9", "0.95", "0.99"]),
)
def test_in_is_never_said_below_the_wanted_probability(deviation, u, half, p):
    rule = ConformanceProbability(p=p)
    for spec in (around_zero(-half, half), around_zero(None, half), around_zero(-half, None)):
        verdict = decide(deviation, u, spec, rule)
        if verdict.outcome is Outcome.IN:
            assert verdict.p_conform >= float(p)
        elif verdict.outcome is not Outcome.TOO_CLOSE_TO_CALL:
            assert verdict.p_conform <= 1 - float(p) + 1e-12


@given(UNCERTAINTIES.filter(bool), HALVES, st.sampled_from(["0.8", "0.9", "0.95", "0.99"]))
def test_the_acceptance_limit_itself_has_the_wanted_probability(u, half, p):
    spec, rule = around_zero(-half, half), ConformanceProbability(p=p)
    guard = decide(0, u, spec, rule).guard_mm
    if guard is not None and guard <= half:
        at_limit = decide(half - guard, u, spec, rule)
        assert at_limit.outcome is Outcome.IN
        assert float(p) <= at_limit.p_conform <= float(p) + 1e-9
        # One part in a thousand million further out, and it is not proved any more.
        beyond = decide(half - guard * Decimal("0.999999999"), u, spec, rule)
        assert beyond.outcome is Outcome.TOO_CLOSE_TO_CALL


@given(VALUES, UNCERTAINTIES, HALVES, RULES)
def test_the_place_on_the_scale_never_contradicts_the_verdict(deviation, u, half, rule):
    spec = around_zero(-half, half)
    seen, verdict = place(deviation, spec), decide(deviation, u, spec, rule)
    assert seen.deviation_mm == verdict.deviation_mm == deviation
    assert verdict.outcome in (seen.outcome, Outcome.TOO_CLOSE_TO_CALL)


@given(st.integers(-40, 40), st.integers(1, 20), st.integers(0, 30))
def test_a_drawing_in_inches_and_the_same_in_millimetres_agree(tenths, half, u_tenths):
    """All lengths in ten-thousandths of an inch, written once in inches and once in mm."""
    inches = Spec.of("x", nominal="3 in", limits=f"± {Decimal(half) / 10000:f} in", source="a test")
    mm = Spec.of(
        "x", nominal="76.2 mm", limits=f"± {Decimal(half) * 254 / 100000:f} mm", source="a test"
    )
    assert (inches.nominal_mm, inches.lower_mm) == (mm.nominal_mm, mm.lower_mm)
    value = Decimal("76.2") + tenths * Decimal("0.00254")
    u = u_tenths * Decimal("0.000254")
    for rule in (SimpleAcceptance(), GuardBand(), ISO_14253_1):
        one, other = decide(value, u, inches, rule), decide(value, u, mm, rule)
        assert (one.outcome, one.deviation_mm, one.guard_mm) == (
            other.outcome,
            other.deviation_mm,
            other.guard_mm,
        )
