"""Limits that the gauge cannot decide are refused: held against what the decision rules accept."""

from decimal import Decimal

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from daq.jobs.sheet import Length, Role
from daq.jobs.sheet.decidable import (
    LEAST_STEPS,
    result_u_mm,
    why_undecidable,
    why_undecidable_across,
)
from daq.spec import Outcome, Spec, decide, rule_from


def role(step="0.001", u="0.003"):
    figures = {"resolution": f"{step} mm", "range": "10 mm", "u": f"{u} mm"}
    return Role(role="fine", kind="indicator", **figures)


def spec(lower, upper, nominal="1"):
    ends = {"lower_mm": lower, "upper_mm": upper}
    return Spec(name="x", nominal_mm=nominal, source="invented", **ends)


def why(limits, *, rule="simple", recipe="length", nominal="1", **gauge):
    return why_undecidable(spec(*limits, nominal), role(**gauge), recipe, rule_from(rule))


@pytest.mark.parametrize(
    ("limits", "asked", "said"),
    [
        # Five steps of 0.01 are 0.05.
        (("-0.025", "0.025"), {"step": "0.01"}, ""),
        (("-0.02", "0.02"), {"step": "0.01"}, "0.04 mm is 4 display steps of 0.01 mm"),
        # Simple: ±2u within the limits, 4 × 0.01 = 0.04.
        (("-0.02", "0.02"), {"u": "0.010"}, ""),
        (("-0.02", "0.019"), {"u": "0.010"}, "is 0.04 mm wide"),
        # Guarded 1U: two guard bands of 2u each, and a step between them.
        (("-0.021", "0.020"), {"u": "0.010", "rule": "guarded 1U"}, ""),
        (("-0.02", "0.02"), {"u": "0.010", "rule": "guarded 1U"}, "less than a display step"),
        (("-0.02", "0.019"), {"u": "0.010", "rule": "guarded 1U"}, "two guard bands of 0.02"),
        # Simple 4:1: at least 4 × 2 × 2u = 0.16.
        (("-0.08", "0.08"), {"u": "0.010", "rule": "simple 4:1"}, ""),
        (("-0.08", "0.079"), {"u": "0.010", "rule": "simple 4:1"}, "U may be at most"),
        (("-0.08", None), {"rule": "simple 4:1"}, "needs limits on both sides"),
        # 95 %: at least 3.92 u between the limits (JCGM 106:2012, two-sided normal).
        (("-0.0198", "0.0198"), {"u": "0.010", "rule": "guarded 95%"}, ""),
        (("-0.0195", "0.0195"), {"u": "0.010", "rule": "guarded 95%"}, "95 % needs 3.92"),
        # One limit leaves room without end.
        (("-0.0001", None), {"rule": "guarded 1U"}, ""),
        # A run-out cannot be below zero: from 0 to 0.016, √2 u of two readings.
        ((None, "0.016"), {"recipe": "run-out", "nominal": "0"}, "is 0.017 mm wide"),
        ((None, "0.018"), {"recipe": "run-out", "nominal": "0"}, ""),
        (("-0.016", "0.016"), {"recipe": "deflection", "nominal": "0"}, "is 0.017 mm wide"),
        ((None, "-0.5"), {"recipe": "play", "nominal": "0.4"}, "nothing is left"),
        # A play above zero has its two limits.
        (("-0.016", "0.016"), {"recipe": "play"}, ""),
    ],
)
def test_limits_are_held_against_the_coarsest_gauge_that_will_do(limits, asked, said):
    found = why(limits, **asked)
    assert (said in found) if said else found == ""


sizes = st.integers(1, 400).map(lambda n: Decimal(n).scaleb(-4))
RULES = ["simple", "simple 4:1", "guarded 1U", "guarded 0.5U", "guarded 95%", "guarded 99%"]


@given(sizes, sizes, st.sampled_from(["0.0005", "0.001", "0.01"]), st.sampled_from(RULES))
def test_where_nothing_is_said_a_value_is_accepted_that_the_gauge_can_show(half, u, step, text):
    limits, gauge, rule = spec(-half, half), role(step, f"{u:f}"), rule_from(text)
    assume(not why_undecidable(limits, gauge, "length", rule))
    assert decide(Decimal(1), u, limits, rule).outcome is Outcome.IN
    assert limits.width_mm >= LEAST_STEPS * Decimal(step)
    # Wherever the display's steps fall, one of them is accepted.
    near = Decimal(1) + Decimal(step) / 2
    assert decide(near, u, limits, rule).outcome is Outcome.IN


@given(sizes, sizes, st.sampled_from(RULES))
def test_where_the_rule_accepts_nothing_it_is_said(half, u, text):
    limits, rule = spec(-half, half), rule_from(text)
    assume(decide(Decimal(1), u, limits, rule).outcome is not Outcome.IN)
    assert why_undecidable(limits, role("0.0001", f"{u:f}"), "length", rule)


def test_a_difference_of_two_readings_has_the_root_of_two_times_the_uncertainty():
    assert result_u_mm(role(u="0.003"), "length") == Decimal("0.003")
    for recipe in ("play", "run-out", "deflection"):
        assert float(result_u_mm(role(u="0.003"), recipe)) == pytest.approx(0.003 * 2**0.5)


def test_limits_across_are_held_against_the_difference_of_two_results():
    rule = rule_from("simple")
    # 4 × √2 × 0.003 = 0.01697.
    assert why_undecidable_across(Decimal("0.017"), role(), rule) == ""
    assert "0.017 mm wide" in why_undecidable_across(Decimal("0.0169"), role(), rule)
    assert "4 display steps" in why_undecidable_across(Decimal("0.004"), role(), rule)


def test_a_length_keeps_the_text_that_it_was_written_as():
    assert role(step="0.0010").resolution == Length(Decimal("0.0010"), "mm", "0.0010 mm")
