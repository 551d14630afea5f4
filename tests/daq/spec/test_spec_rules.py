"""Decision rules: their guards, their words, what they refuse."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import TypeAdapter, ValidationError

from daq.spec import (
    ISO_14253_1,
    ConformanceProbability,
    DecisionRule,
    GuardBand,
    SimpleAcceptance,
    SpecError,
    rule_from,
)

RULES = st.one_of(
    st.just(SimpleAcceptance()),
    st.builds(
        SimpleAcceptance,
        ratio=st.decimals("1", "100", places=1),
        k=st.decimals("1", "5", places=2),
    ),
    st.builds(GuardBand, r=st.decimals("0", "10", places=2), k=st.decimals("1", "5", places=2)),
    st.builds(ConformanceProbability, p=st.decimals("0.501", "0.9999", places=4)),
)


@pytest.mark.parametrize(
    ("text", "rule"),
    [
        ("simple", SimpleAcceptance()),
        ("simple 4:1", SimpleAcceptance(ratio=4)),
        ("guarded 1U", GuardBand()),
        ("guarded 0.83 U", GuardBand(r="0.83")),
        ("guarded 1U k=3", GuardBand(k=3)),
        ("guarded 95%", ISO_14253_1),
        ("guarded 99.9 %", ConformanceProbability(p="0.999")),
    ],
)
def test_a_rule_is_named_in_words(text, rule):
    assert rule_from(text) == rule


@given(RULES)
def test_a_rule_comes_back_from_its_own_words_and_from_json(rule):
    assert rule_from(str(rule)) == rule
    adapter = TypeAdapter(DecisionRule)
    assert adapter.validate_json(adapter.dump_json(rule)) == rule
    assert rule.in_words().endswith(".")


@pytest.mark.parametrize(
    "text",
    [
        "",
        "shared risk",
        "Simple",
        "simple k=3",
        "simple 0:1",
        "simple nan:1",
        "simple 4:2",
        "guarded",
        "guarded U",
        "guarded -1U",
        "guarded 1..0U",
        "guarded 11U",
        "guarded 1U k=0.5",
        "guarded 50%",
        "guarded 100%",
        "guarded 9.5.0%",
        "guarded 0.95",
    ],
)
def test_words_that_name_no_rule_are_refused(text):
    with pytest.raises(SpecError, match="is no decision rule"):
        rule_from(text)


@pytest.mark.parametrize(
    ("kind", "facts"),
    [
        (GuardBand, {"r": 0.83}),
        (GuardBand, {"r": "nan"}),
        (GuardBand, {"r": "-1"}),
        (SimpleAcceptance, {"k": 3}),
        (ConformanceProbability, {"p": 0.95}),
        (ConformanceProbability, {"p": "1"}),
        (ConformanceProbability, {"p": "0.5"}),
        (ConformanceProbability, {"confidence": "0.95"}),
    ],
)
def test_figures_that_make_no_sense_are_refused(kind, facts):
    with pytest.raises(ValidationError):
        kind.model_validate(facts)


def test_the_guard_bands_of_ilac_g8_are_multiples_of_the_expanded_uncertainty():
    """ILAC-G8:09/2019: w = r·U, U = 2u; 0.83 U for ISO 14253-1:2017, 1 U in ILAC-G8:2009."""
    u = Decimal("0.004")
    assert GuardBand(r="0.83").guards(u, None).accept_mm == Decimal("0.00664")
    assert GuardBand(r="1").guards(u, None).accept_mm == Decimal("0.008")
    assert GuardBand(r="1.5").guards(u, None).reject_mm == Decimal("0.012")
    # 0.83 is 0.822427 rounded up, so its guard is a little the wider.
    probable = ISO_14253_1.guards(u, None).accept_mm
    assert Decimal("0.99") < probable / Decimal("0.00664") < 1


@pytest.mark.parametrize(
    ("u", "accepts"), [("0.0024", True), ("0.0025", True), ("0.0025000001", False)]
)
def test_a_ratio_of_4_to_1_allows_an_eighth_of_the_width(u, accepts):
    """ASME B89.7.3.1-2001, N:1 rule: T at least N·2U. T = ±0.02 mm allows U up to 0.005 mm."""
    guards = SimpleAcceptance(ratio=4).guards(Decimal(u), Decimal("0.04"))
    assert (guards.accept_mm == 0) is accepts
    if not accepts:
        assert guards.accept_mm is None
        assert "U may be at most 0.005 mm" in guards.why_none
        assert guards.reject_mm == 2 * Decimal(u)


def test_a_ratio_has_no_meaning_with_a_limit_on_one_side():
    with pytest.raises(SpecError, match="needs limits on both sides"):
        SimpleAcceptance(ratio=4).guards(Decimal("0.001"), None)


def test_guard_bands_that_meet_leave_one_value_and_beyond_that_none():
    width = Decimal("0.04")
    assert GuardBand().guards(Decimal("0.01"), width).accept_mm == Decimal("0.02")
    gone = GuardBand().guards(Decimal("0.0100001"), width)
    assert gone.accept_mm is None
    assert "leave nothing between limits 0.04 mm apart" in gone.why_none


def test_limits_too_narrow_for_the_probability_are_said_to_be():
    guards = ISO_14253_1.guards(Decimal("0.02"), Decimal("0.04"))
    assert guards.accept_mm is None
    assert guards.why_none == (
        "the limits are only 2.00 standard uncertainties apart, and 95 % needs 3.92"
    )


@given(RULES, st.decimals("0", "1", places=5), st.decimals("0.0001", "1", places=4))
def test_no_uncertainty_no_guard_and_more_uncertainty_never_less(rule, u, width):
    none = rule.guards(Decimal(0), width)
    assert (none.accept_mm, none.reject_mm) == (0, 0)
    some, more = rule.guards(u, width), rule.guards(u * 2, width)
    assert more.reject_mm >= some.reject_mm >= 0
    if more.accept_mm is not None:
        assert some.accept_mm is not None
        assert more.accept_mm >= some.accept_mm >= 0
        assert 2 * more.accept_mm <= width * Decimal("1.000000001")
    assert (some.accept_mm is None) == bool(some.why_none)


@given(st.decimals("0.501", "0.9999", places=4), st.decimals("0.00001", "1", places=5))
def test_a_narrow_width_never_needs_less_guard_than_a_wide_one(p, u):
    rule = ConformanceProbability(p=p)
    wide = rule.guards(u, None).accept_mm
    narrow = rule.guards(u, 4 * u).accept_mm
    assert narrow is None or narrow >= wide
