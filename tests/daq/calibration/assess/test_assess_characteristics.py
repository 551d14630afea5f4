"""Characteristics with budgets of their own, and what the rule makes of them.

The constructed calibration has, in µm: fixed-zero 8, span 10, one-way span 8, partial range 3,
hysteresis 3, repeatability 2.
"""

import math
from decimal import Decimal

import numpy as np
import pytest

from daq.calibration.assess import How
from daq.calibration.decision import Word
from daq.spec.rules import GuardBand, SimpleAcceptance, rule_from
from tests.daq.calibration.assess.invented_run import assessed, found, limited, lines, point
from tests.daq.calibration.invented import bench

D = Decimal
WITHOUT_REPEATS = ('\n[[repeats]]\nat = "5 mm"\n', "")
UP_ONLY = ("range =", 'directions = "up"\nrange =')


def um(what, made):
    return {row.name: 1000 * row.contribution for row in found(made, what).stated.budget.table()}


def test_the_constructed_calibration_comes_out_with_a_budget_for_each_characteristic():
    made = assessed()
    assert {each.found.what: each.found.value_mm * 1000 for each in made.characteristics} == {
        "fixed-zero error": 8,
        "span error": 10,
        "one-way span": 8,
        "partial-range error": 3,
        "hysteresis": 3,
        "repeatability": 2,
    }
    for each in made.characteristics:
        assert each.stated.budget.estimate == float(each.found.value_mm)
        assert each.stated.expanded_mm > 0


def test_in_a_span_the_zero_cancels_and_what_goes_with_travel_counts_by_the_difference():
    # From 8 mm up to 5 mm down: one block each, 3 mm apart.
    made = assessed(of=limited(expansion="9"), temperature_c="20.5")
    rows = um("span error", made)
    assert not any("zero" in name for name in rows)
    assert rows["reference"] == pytest.approx(0.05 + 0.05)
    assert rows["drift of the reference"] == pytest.approx(2 * 0.05 * 365 / 365.25 / math.sqrt(3))
    assert rows["temperature"] == pytest.approx(3000 * 2.5e-6 * 0.2)
    assert rows["expansion of the gauge"] == pytest.approx(3000 * 0.5 * 2e-6)
    # Two readings, and what the choice among 22 adds.
    assert rows["repeatability"] >= math.sqrt(2 * 0.7) * 0.9999999
    basis = lines(found(made, "span error").stated)["repeatability"].basis
    assert "; chosen among 22: too large by" in basis


def test_where_the_display_step_counts_the_choice_is_a_line_of_its_own():
    rows = um("hysteresis", assessed(repeats=(2, 2, 2, 2, 2)))
    # Of eleven points seven differ by 3 µm between the ways, so noise lifts one of them.
    assert rows.pop("extreme") > 0.1
    steps = {"display step, one reading", "display step, other reading"}
    assert {name for name, size in rows.items() if size} == steps


def test_in_the_hysteresis_all_but_the_readings_cancels():
    made = assessed(of=limited(expansion="9"), temperature_c="20.5")
    names = {name for name, row in lines(found(made, "hysteresis").stated).items() if row.share}
    assert names == {"repeatability"}


def test_pieces_in_both_stacks_cancel():
    # On a base of 1 mm, 4 mm of travel is a block of 5; 9.5 is 9 + 1.5, and 9.2 is 9 + 1.2.
    points = '"0 mm", "9.2 mm", "9.5 mm"'
    old = assessed.__globals__["PLAN"].split("points = [")[1].split("]")[0]
    errors = {("up", D(n)): e for n, e in (("0", 0), ("9.2", 4), ("9.5", -3))}
    made = assessed(
        (old, points), UP_ONLY, ('at = "5 mm"', 'at = "9.2 mm"'), errors=errors
    )  # fmt: skip
    assert um("span error", made)["reference"] == pytest.approx(0.05 + 0.05)
    assert 1000 * lines(point(made, "up", "9.2").stated)["reference"].u == pytest.approx(0.1)


def test_a_bench_counts_at_every_setting():
    made = assessed(standards=bench())
    assert um("span error", made)["reference"] == pytest.approx(0.1 + 0.1)
    assert um("fixed-zero error", made)["reference"] == pytest.approx(0.1 + 0.1)


def test_where_one_value_stands_out_its_extreme_is_as_sure_as_its_points():
    errors = {
        (way, D(n)): (500 if n == 9 else 0) for way in ("up", "down") for n in range(11)
    }  # fmt: skip
    made = assessed(errors=errors, of=limited(limits={"source": "own rule", "over_range": "1 mm"}))
    one_way = found(made, "one-way span")
    # Ten of eleven points are alike, so it is the low end that is chosen; noise is 0.84 µm.
    assert one_way.bias_mm > 0
    only = {**errors, ("down", D(9)): 400}
    largest = found(assessed(errors=only), "fixed-zero error")
    repeated = lines(largest.stated)["repeatability"]
    assert repeated.sensitivity == pytest.approx(math.sqrt(2), rel=0.03)
    assert abs(largest.bias_mm) < 0.00005


def test_where_all_points_are_alike_the_interval_of_a_span_reaches_down_to_zero():
    flat = {(way, D(n)): (n * 7 + 3 * len(way)) % 3 for way in ("up", "down") for n in range(11)}
    span = found(assessed(errors=flat), "span error")
    assert span.found.value_mm == D("0.002")
    assert span.stated.expanded_mm >= span.found.value_mm
    assert span.bias_mm > 0.0005
    assert lines(span.stated)["repeatability"].sensitivity > 2


def test_the_same_points_give_the_same_figures():
    one, other = assessed(), assessed()
    assert [each.stated.u_mm for each in one.characteristics] == [
        each.stated.u_mm for each in other.characteristics
    ]


def test_the_range_of_five_readings_is_within_u_of_the_mean_range_in_95_runs_of_100_or_more():
    row = lines(found(assessed(), "repeatability").stated)["repeatability, range of 5"]
    assert row.dof == 4
    expanded_by_s = row.sensitivity * 2.776445  # Student's t for 95 % and 4
    rng = np.random.default_rng(11)
    # Of a scatter that gives the s of the constructed readings, shown in steps of 1 µm.
    at_um = math.sqrt(0.7 - 1 / 12) * rng.standard_normal((20_000, 5)) + rng.random((20_000, 1))
    shown_um = np.floor(at_um)
    ranges_um = np.ptp(shown_um, axis=1)
    expanded_um = np.maximum(expanded_by_s * shown_um.std(axis=1, ddof=1), 1.96 / math.sqrt(6))
    covered = np.mean(abs(ranges_um - ranges_um.mean()) <= expanded_um)
    assert 0.945 < covered < 0.985  # whole steps: there is no U for 95 % exactly


def test_the_range_of_equal_readings_is_uncertain_by_two_roundings():
    equal = found(assessed(repeats=(2, 2, 2, 2, 2)), "repeatability")
    assert equal.found.value_mm == 0
    assert equal.stated.budget.u == pytest.approx(0.001 / math.sqrt(6))


@pytest.mark.parametrize(
    ("zero", "judged"), [("floating", "span error"), ("fixed", "fixed-zero error")]
)
def test_the_limit_over_the_range_is_for_the_span_or_with_a_fixed_zero_for_the_largest(
    zero, judged
):
    of = limited(limits={"source": "own rule", "over_range": "0.02 mm", "zero": zero})
    made = assessed(of=of, how=How(SimpleAcceptance()))
    words = {each.found.what: each.word for each in made.characteristics}
    assert words.pop(judged) is Word.PASS
    assert set(words.values()) == {None}
    assert made.word is Word.PASS


def test_the_word_of_all_is_the_worst():
    limits = {"source": "own rule", "over_range": "0.02 mm", "hysteresis": "0.0035 mm"}
    made = assessed(of=limited(limits=limits))
    assert found(made, "span error").word is Word.PASS
    assert found(made, "hysteresis").word is made.word
    assert made.word is not Word.PASS
    tight = limits | {"over_range": "0.005 mm"}
    assert assessed(of=limited(limits=tight)).word is Word.FAIL


def test_a_bound_on_u_leaves_not_judged_what_is_less_sure():
    of = limited(limits={"source": "own rule", "over_range": "0.02 mm"})
    how = How(SimpleAcceptance(), largest_expanded_mm=D("0.001"))
    made = assessed(of=of, how=how)
    assert made.word is Word.NOT_JUDGED
    assert "may be at most 0.001 mm" in found(made, "span error").reason


def test_a_rule_that_needs_limits_on_both_sides_judges_nothing_and_says_why():
    made = assessed(how=How(rule_from("simple 4:1")))
    assert made.word is Word.NOT_JUDGED
    span = found(made, "span error")
    assert span.decision is None
    assert "needs limits on both sides" in span.reason


def test_a_coverage_factor_that_no_rule_takes_judges_nothing_and_says_why():
    made = assessed(('at = "5 mm"', 'at = "5 mm"\ntimes = 2'), repeats=(1, 4))
    span = found(made, "span error")
    assert span.stated.coverage.dof == 1
    assert span.word is Word.NOT_JUDGED
    assert "take more readings" in span.reason


def test_a_limit_for_what_was_not_measured_is_a_doubt():
    made = assessed(UP_ONLY)
    assert "There is a limit for the hysteresis, and the run did not measure it." in made.doubts


def test_the_piece_of_the_partial_range_is_that_of_the_limit_else_that_of_the_plan():
    without = {"source": "own rule", "over_range": "0.02 mm"}
    plain = assessed(of=limited(limits=without))
    assert "partial-range error" not in {each.found.what for each in plain.characteristics}
    more = ("\n[[repeats]]", '\n[partial]\nover = "2 mm"\npoints = ["2 mm", "4 mm"]\n[[repeats]]')
    ours = assessed(more, of=limited(limits=without))
    assert found(ours, "partial-range error").found.words.endswith("within 2 mm")
    theirs = assessed(more, of=limited())
    assert found(theirs, "partial-range error").found.words.endswith("within 1 mm")


def test_the_guard_band_is_of_the_budgets_own_k():
    span = found(assessed(how=How(GuardBand())), "span error")
    assert span.decision.guard_mm == pytest.approx(span.stated.expanded_mm)
    assert span.stated.k == D(f"{span.stated.coverage.k:.6g}")


def test_a_guard_band_wider_than_the_limit_leaves_nothing_to_accept():
    limits = {"source": "own rule", "over_range": "0.05 mm", "hysteresis": "0.0015 mm"}
    made = assessed(of=limited(limits=limits), repeats=(0, 4, 1, 3, 2))
    hysteresis = found(made, "hysteresis")
    assert not hysteresis.decision.acceptance_zone
    assert hysteresis.word is Word.NOT_JUDGED
    assert "leaves nothing above 0" in hysteresis.reason
