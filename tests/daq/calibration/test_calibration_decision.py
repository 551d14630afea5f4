"""The word of the certificate: every rule, every side of every limit, and no acceptance zone."""

from decimal import Decimal
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daq.calibration import inputs as of
from daq.calibration.budget import Term, linear
from daq.calibration.decision import MEANINGS, Word, characteristic, judge
from daq.calibration.errors import CalibrationError
from daq.calibration.risk import worst_consumer_risk
from daq.spec import ISO_14253_1, ConformanceProbability, GuardBand, SimpleAcceptance, rule_from

D = Decimal
ERROR = characteristic("error", lower_mm=D("-0.008"), upper_mm=D("0.008"), source="data sheet")
HYSTERESIS = characteristic("hysteresis", upper_mm=D("0.003"), source="data sheet")
U_MM = D("0.0005")


@pytest.mark.parametrize(
    ("value", "word"),
    [
        ("0", Word.PASS),
        ("0.007", Word.PASS),  # exactly the guard band inside
        ("0.0071", Word.CONDITIONAL_PASS),
        ("0.008", Word.CONDITIONAL_PASS),  # on the limit is within it
        ("0.0081", Word.CONDITIONAL_FAIL),
        ("0.009", Word.CONDITIONAL_FAIL),  # exactly the guard band outside
        ("0.0091", Word.FAIL),
    ],
)
def test_the_four_words_lie_about_each_limit(value, word):
    """ILAC-G8:09/2019, 4.2.3: non-binary statement with a guard band, w = U."""
    assert judge(D(value), U_MM, ERROR, GuardBand()).word is word
    assert judge(-D(value), U_MM, ERROR, GuardBand()).word is word


@pytest.mark.parametrize(
    ("text", "accepted", "guard"),
    [
        ("simple", "0.008", "0"),
        ("guarded 0.83U", "0.00717", "0.00083"),  # ISO 14253-1:2017 in ILAC-G8:09/2019
        ("guarded 1U", "0.007", "0.001"),
        ("guarded 1.5U", "0.0065", "0.0015"),
        ("guarded 3U", "0.005", "0.003"),
    ],
)
def test_the_guard_bands_of_ilac_g8_begin_where_they_should(text, accepted, guard):
    """ILAC-G8:09/2019, table of decision rules, for U at k = 2."""
    made = judge(D(accepted), U_MM, ERROR, rule_from(text))
    assert made.word is Word.PASS
    assert made.guard_mm == D(guard)
    assert judge(D(accepted) + D("0.00001"), U_MM, ERROR, rule_from(text)).word is not Word.PASS


@pytest.mark.parametrize("r", ["0", "0.83", "1", "1.5", "3"])
def test_the_risk_on_the_acceptance_limit_is_that_of_the_table(r):
    limit = D("0.008") - D(r) * 2 * U_MM
    made = judge(limit, U_MM, ERROR, GuardBand(r=D(r)))
    assert made.consumer_risk == pytest.approx(worst_consumer_risk(float(r)), rel=1e-6, abs=1e-15)
    assert made.producer_risk == made.p_conform


def test_the_budgets_coverage_factor_makes_the_guard_band():
    """With 4 effective degrees of freedom k is 2.87 for 95.45 % (JCGM 100:2008, Table G.2)."""
    budget = linear("e", [Term(of.standard("x", 0, 0.0005, dof=4))])
    stated = budget.coverage(0.9545)
    made = judge(D("0.0068"), budget.u, ERROR, GuardBand(), k=stated.k)
    assert round(made.k, 2) == D("2.87")
    assert float(made.expanded_mm) == pytest.approx(stated.expanded, rel=1e-5)
    assert made.word is Word.CONDITIONAL_PASS
    assert judge(D("0.0068"), budget.u, ERROR, GuardBand()).word is Word.PASS
    again = judge(D("0.0068"), budget.u, ERROR, rule_from(made.rule_text))
    assert (again.word, again.guard_mm) == (made.word, made.guard_mm)


@pytest.mark.parametrize(
    ("rule", "u", "why"),
    [
        (GuardBand(), "0.0041", "leave nothing"),
        (ISO_14253_1, "0.0041", "needs 3.92"),
        (SimpleAcceptance(ratio=D(4)), "0.0011", "at most"),
    ],
)
def test_where_the_limits_leave_no_acceptance_zone_it_says_so_instead_of_judging(rule, u, why):
    made = judge(D(0), D(u), ERROR, rule)
    assert made.word is Word.NOT_JUDGED
    assert not made.acceptance_zone
    assert made.guard_mm is None
    assert made.reason.startswith("no acceptance zone")
    assert why in made.reason


def test_at_95_percent_the_zone_ends_at_3_92_standard_uncertainties():
    """JCGM 106:2012, 7.4: Φ(1.96) - Φ(-1.96) = 0.95; T/u below 3.92 can prove nothing."""
    assert judge(D(0), D("0.016") / D("3.93"), ERROR, ISO_14253_1).word is Word.PASS
    assert judge(D(0), D("0.016") / D("3.91"), ERROR, ISO_14253_1).word is Word.NOT_JUDGED


def test_a_value_proved_to_lie_outside_fails_even_without_an_acceptance_zone():
    made = judge(D("0.02"), D("0.0041"), ERROR, GuardBand())
    assert made.word is Word.FAIL
    assert not made.acceptance_zone
    assert "no acceptance zone" in made.reason


def test_conformance_probability_uses_u_and_not_k():
    rule = ConformanceProbability(p=D("0.95"))
    one, other = (judge(D("0.0072"), U_MM, ERROR, rule, k=k) for k in (2.0, 3.5))
    assert one.guard_mm == other.guard_mm
    # JCGM 106:2012, Table 1: z = 1.64 for 95 % on one side.
    assert float(one.guard_mm / U_MM) == pytest.approx(1.6449, abs=1e-4)
    assert one.word is Word.CONDITIONAL_PASS
    assert one.p_conform == pytest.approx(0.9452, abs=1e-4)


def test_container_burst_pressure_of_jcgm_106():
    """JCGM 106:2012, 7.3 example, 1 kPa as 1 mm: lower limit 490, y 507, u 6: p_c ≈ 0.998."""
    burst = characteristic("burst", lower_mm=D(490), source="JCGM 106")
    made = judge(D(507), D(6), burst, ISO_14253_1)
    assert round(made.p_conform, 3) == 0.998
    assert made.word is Word.PASS


def test_a_bound_on_u_comes_before_the_rule():
    bound = D("0.0009")
    made = judge(D(0), U_MM, ERROR, SimpleAcceptance(), largest_expanded_mm=bound)
    assert made.word is Word.NOT_JUDGED
    assert made.bound_mm == bound
    assert "at most 0.0009 mm" in made.reason
    kept = judge(D(0), U_MM, ERROR, SimpleAcceptance(), largest_expanded_mm=D("0.001"))
    assert kept.word is Word.PASS


def test_beyond_the_bound_only_a_value_outside_by_more_than_u_fails():
    def word(value):
        bound = D("0.0009")
        return judge(D(value), U_MM, ERROR, SimpleAcceptance(), largest_expanded_mm=bound).word

    assert word("0.009") is Word.NOT_JUDGED
    assert word("-0.0091") is Word.FAIL


def test_a_bound_serves_a_limit_on_one_side_where_a_ratio_cannot():
    with pytest.raises(CalibrationError, match="limits on both sides"):
        judge(D("0.001"), U_MM, HYSTERESIS, SimpleAcceptance(ratio=D(4)))
    made = judge(D("0.001"), U_MM, HYSTERESIS, SimpleAcceptance(), largest_expanded_mm=D("0.001"))
    assert made.word is Word.PASS


def test_a_magnitude_has_no_acceptance_zone_below_zero():
    u = D("0.0016")  # U = 0.0032 mm, more than the limit of 0.003 mm
    plain = judge(D(0), u, HYSTERESIS, GuardBand())
    made = judge(D(0), u, HYSTERESIS, GuardBand(), magnitude=True)
    assert plain.word is Word.CONDITIONAL_PASS
    assert made.word is Word.NOT_JUDGED
    assert "leaves nothing above 0" in made.reason
    out = judge(D("0.0063"), u, HYSTERESIS, GuardBand(), magnitude=True)
    assert out.word is Word.FAIL
    assert not out.acceptance_zone
    fits = judge(D(0), D("0.0015"), HYSTERESIS, GuardBand(), magnitude=True)
    assert fits.word is Word.PASS


def test_every_word_has_its_meaning():
    assert set(MEANINGS) == set(Word)
    assert {word.value for word in Word} == {
        "pass",
        "conditional pass",
        "conditional fail",
        "fail",
        "not judged",
    }


micrometres = st.integers(-20_000, 20_000).map(lambda n: D(n).scaleb(-6))


@given(micrometres, st.integers(1, 9_000).map(lambda n: D(n).scaleb(-6)))
def test_a_wider_guard_never_turns_a_word_into_pass_or_fail(value, u):
    words = [judge(value, u, ERROR, GuardBand(r=D(r))).word for r in (0, 1, 2)]
    for word, wider in pairwise(words):
        if wider in (Word.PASS, Word.FAIL):
            assert word is wider


@given(micrometres, st.integers(1, 9_000).map(lambda n: D(n).scaleb(-6)))
def test_pass_and_fail_are_proved_to_the_probability_that_was_asked(value, u):
    made = judge(value, u, ERROR, ISO_14253_1)
    if made.word is Word.PASS:
        assert made.p_conform >= 0.95 - 1e-12
    if made.word is Word.FAIL:
        assert made.p_conform <= 0.05 + 1e-12


@pytest.mark.parametrize(
    ("call", "says"),
    [
        (lambda: judge(D(0), D(0), ERROR, GuardBand()), "no uncertainty"),
        (lambda: judge(D(0), float("nan"), ERROR, GuardBand()), "no standard uncertainty"),
        (lambda: judge(float("nan"), U_MM, ERROR, GuardBand()), "not a finite length"),
        (lambda: judge(D(0), U_MM, ERROR, GuardBand(), k=12.7), "more readings"),
        (lambda: judge(D(0), U_MM, ERROR, SimpleAcceptance(), k=0.5), "1 to 5"),
        (lambda: judge(D(0), U_MM, ERROR, GuardBand(), magnitude=True), "upper limit about 0"),
        (lambda: judge(D(-1), U_MM, HYSTERESIS, GuardBand(), magnitude=True), "below zero"),
        (lambda: characteristic("x", source="y"), "no limit at all"),
        (lambda: characteristic("x", lower_mm=D(1), upper_mm=D(0), source="y"), "cannot be judged"),
    ],
)
def test_what_cannot_be_judged_is_refused_with_the_reason(call, says):
    with pytest.raises(CalibrationError, match=says):
        call()
