"""The comparison in short: fixed seeds, and bounds that the settler has to keep.

The seeds make the same traces every time, so it is a change of the settler that breaks a bound.
Costs are compared within one run and never with a clock time.
"""

import re
from pathlib import Path

import numpy as np
import pytest

from tests.benchmarks.settling.charts import wilson
from tests.benchmarks.settling.compare import FAST_HZ, OURS, SETTLERS, compare
from tests.benchmarks.settling.families import FAMILIES
from tests.benchmarks.settling.rivals import RIVALS
from tests.benchmarks.settling.section import BEGINS, ENDS, write_between_marks
from tests.benchmarks.settling.table import COLUMNS, summary

SEED0, SEEDS, RATES = 33_000, 2, (10, 50)
FAST_FAMILIES = ("clean step", "slow turning")
MORE_TRAPS = 2
TRAPS = (
    "exponential creep",
    "logarithmic creep",
    "lock nut",
    "hand that adjusts",
    "fast drift",
    "hand that never rests",
    "slow turning",
)
"""Where a rest seen too early is a false one; these get more seeds."""

# Bounds with headroom over what was seen on these seeds, which stands beside each. To be tightened
# whenever the settler gets better.
MOST_MISSED_PERCENT = 0.9  # 0.0
MOST_FALSE_PERCENT = 2.0  # 1.3: two traces of 152
MOST_FALSE_NEVER_RESTING_PERCENT = 5.0  # 0.0 of 24
MOST_TRAPPED_PERCENT = 4.0  # 2.7: three traces of 112
MOST_DELAY_S, MOST_DELAY_95_S = 1.7, 4.3  # 1.55, 3.85
MOST_ERROR_FIRST, MOST_ERROR_FINAL = 1.25, 1.1  # times the oracle's: 1.12, 0.98
COVERED_PERCENT = (93.0, 99.5)  # 97.7 of the first reports, 98.5 of the final ones
MOST_LEAVES_S, MOST_LOST_PER_MIN = 0.2, 0.9  # 0.11, 0.55
MOST_COST, MOST_COST_AT_1_KHZ = 60.0, 3.0  # times that of "last ten within a step": 27, 1.0
SHARE_OF_THE_USUAL = 1 / 3  # missed and false together, beside the best of the four: 1 / 20


@pytest.fixture(scope="module")
def scores():
    return compare(SETTLERS, SEED0, SEEDS, RATES)


@pytest.fixture(scope="module")
def resting(scores):
    return summary([s for s in scores[OURS] if not s.never_rests])


def wrong_percent(scores):
    """Rests missed, of those to be found, and traces with a false rest, of all."""
    every = summary(scores)
    return every.missed_percent + every.false_percent


def cost_beside_the_simplest(scores):
    ours, simplest = (
        float(np.mean([s.cost_us for s in scores[name]]))
        for name in (OURS, "last ten within a step")
    )
    return ours / simplest


def test_few_rests_are_missed_and_few_are_false(scores, resting):
    never = summary([s for s in scores[OURS] if s.never_rests])
    assert resting.missed_percent <= MOST_MISSED_PERCENT
    assert resting.false_percent <= MOST_FALSE_PERCENT
    assert never.false_percent <= MOST_FALSE_NEVER_RESTING_PERCENT


def test_few_traps_catch_it(scores):
    more = compare({OURS: SETTLERS[OURS]}, SEED0 + SEEDS, MORE_TRAPS, RATES, TRAPS)[OURS]
    trapped = [*more, *(s for s in scores[OURS] if s.family in TRAPS)]
    assert summary(trapped).false_percent <= MOST_TRAPPED_PERCENT


@pytest.mark.parametrize("usual", RIVALS)
def test_each_usual_way_misses_and_invents_more(scores, usual):
    assert wrong_percent(scores[OURS]) < SHARE_OF_THE_USUAL * wrong_percent(scores[usual])


def test_a_rest_is_reported_soon(resting):
    assert resting.delay_s <= MOST_DELAY_S
    assert resting.delay_95_s <= MOST_DELAY_95_S


def test_the_value_is_nearly_as_good_as_that_of_an_oracle(resting):
    assert resting.error_first <= MOST_ERROR_FIRST
    assert resting.error_final <= MOST_ERROR_FINAL


def test_the_interval_holds_the_truth_as_often_as_it_says(resting):
    least, most = COVERED_PERCENT
    assert least <= resting.covered_first_percent <= most
    assert least <= resting.covered_final_percent <= most


def test_a_rest_is_given_up_when_the_part_moves_and_seldom_before(resting):
    assert resting.leaves_s <= MOST_LEAVES_S
    assert resting.lost_per_min <= MOST_LOST_PER_MIN


def test_a_reading_costs_little(scores):
    assert cost_beside_the_simplest(scores) <= MOST_COST


def test_a_fast_gauge_costs_hardly_more_than_the_simplest_way():
    fast = compare(SETTLERS, SEED0, 1, (1000,), FAST_FAMILIES)
    assert all(s.hz > FAST_HZ for s in fast[OURS])
    assert cost_beside_the_simplest(fast) <= MOST_COST_AT_1_KHZ


def test_the_documentation_has_a_row_for_each_family_and_settler():
    page = (Path(__file__).parents[3] / "docs" / "settling.md").read_text("utf-8")
    between = page[page.index(BEGINS) : page.index(ENDS)]
    rows = [re.split(r"\s*\|\s*", line.strip("| "))[0] for line in between.splitlines()]
    assert set(FAMILIES) <= set(rows)
    assert {f"**{OURS}**", *RIVALS} <= set(rows)


def test_tables_are_put_between_the_marks_and_nowhere_else(tmp_path):
    page = tmp_path / "page.md"
    page.write_text(f"before\n{BEGINS}\nold\n{ENDS}\nafter\n", "utf-8")
    write_between_marks(page, r"| new \1 |")
    write_between_marks(page, r"| new \1 |")
    assert page.read_text("utf-8") == f"before\n{BEGINS}\n| new \\1 |\n{ENDS}\nafter\n"
    page.write_text("no marks\n", "utf-8")
    with pytest.raises(SystemExit, match="needs the lines"):
        write_between_marks(page, "new")


def test_a_summary_has_a_column_for_each_figure(resting):
    assert len(COLUMNS) == len(resting)


def test_the_interval_of_a_share_is_wilsons():
    """Its ends solve (share - p)^2 = z^2 p (1 - p) / n; for 9 of 10: 0.596 and 0.982."""
    share, least, most = wilson(9, 10)
    assert (share, least, most) == pytest.approx((0.9, 0.5958, 0.9821), abs=1e-4)
    for end in (least, most):
        assert (share - end) ** 2 == pytest.approx(1.96**2 * end * (1 - end) / 10, rel=1e-9)
    assert least < share < most
