"""The simulation in short: fixed seeds, and bounds that the assessment has to keep.

Bounds allow for what chance makes of so few calibrations; the full run is in `docs/uncertainty.md`.
"""

from dataclasses import replace

import pytest

from tests.benchmarks.calibration.coverage import POINTS, coverage
from tests.benchmarks.calibration.fleet import LIMIT_MM, RULES, judge_fleet
from tests.benchmarks.calibration.gauges import KINDS, Bench
from tests.benchmarks.calibration.section import (
    BEGINS,
    ENDS,
    coverage_table,
    fleet_table,
    section,
    write_between_marks,
)

USUAL = KINDS[0]


def test_the_intervals_of_a_usual_gauge_cover_the_truth_as_often_as_they_say():
    found = coverage(USUAL, 400, seed=77)
    percents = {name: each.percent for name, each in found.items()}
    assert 93.5 < percents.pop(POINTS) < 97
    # In the full run 93.6 % to 96.8 %; of 400 chance makes 3.7 % more or less, three deviations.
    assert all(90 <= percent <= 99.5 for percent in percents.values()), percents
    # No error is too large on average, and every extreme is.
    assert abs(found[POINTS].bias) < 0.05
    assert all(found[name].bias > 0 for name in ("partial-range error", "hysteresis"))


def test_a_gauge_that_is_worse_than_its_repeats_say_is_not_covered():
    """The simulation itself can fail: the same readings against another truth."""
    found = coverage(replace(USUAL, name="moved"), 40, seed=5, moved_mm=0.001)
    assert found[POINTS].percent < 80


@pytest.mark.parametrize("rule", RULES.values(), ids=RULES)
def test_wrong_decisions_come_as_often_as_computed(rule):
    stats = pytest.importorskip("scipy.stats")
    judged = judge_fleet(rule, 500, seed=4)
    for seen, computed in (
        (judged.accepted_wrongly, judged.computed.consumer),
        (judged.rejected_wrongly, judged.computed.producer),
    ):
        count = round(seen * judged.gauges)
        assert stats.binomtest(count, judged.gauges, computed).pvalue > 0.005, (seen, computed)


def test_the_risks_are_of_a_process_that_can_be_judged_wrongly():
    judged = judge_fleet(RULES["simple acceptance"], 60, seed=4)
    assert 0.005 < judged.computed.consumer < 0.05
    assert 0.01 < judged.computed.producer < 0.05
    assert LIMIT_MM == 0.006


def test_a_simulated_gauge_has_the_characteristics_of_its_true_errors():
    bench = Bench(replace(USUAL, s_mm=1e-9, step_mm=0.00001))
    truths = bench.true_characteristics()
    assert truths["fixed-zero error"] <= truths["span error"]
    assert truths["partial-range error"] <= truths["span error"]
    assert truths["repeatability"] < 1e-5
    assert bench.truth_mm[0] == 0


def test_the_tables_go_between_the_marks_of_a_page(tmp_path):
    found = {kind.name: coverage(kind, 2, seed=1) for kind in KINDS[:2]}
    judged = {name: judge_fleet(rule, 2, seed=1) for name, rule in RULES.items()}
    page = tmp_path / "page.md"
    page.write_text(f"before\n{BEGINS}\nold\n{ENDS}\nafter\n", "utf-8")
    write_between_marks(page, section(KINDS[:2], found, judged, "the command"))
    text = page.read_text("utf-8")
    assert coverage_table(found) in text
    assert fleet_table(judged) in text
    assert text.startswith("before\n")
    assert text.endswith(f"{ENDS}\nafter\n")
    assert "old" not in text
    page.write_text("no marks", "utf-8")
    with pytest.raises(SystemExit, match="once each"):
        write_between_marks(page, "new")
