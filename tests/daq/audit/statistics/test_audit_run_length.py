"""Average run lengths against the published table, single rules against closed forms."""

import math

import numpy as np
import pytest

from daq.audit.statistics import (
    NELSON,
    WESTERN_ELECTRIC,
    RunRule,
    average_run_length,
    chance_of_alternation,
    chance_of_trend,
)
from daq.audit.statistics.run_length import (
    AVOIDING_8,
    BEYOND_3,
    FOUR_OF_FIVE,
    HUGGING_15,
    RUN_OF_8,
    TWO_OF_THREE,
)

SHIFTS = (0.0, 0.2, 0.4, 1.0, 2.0, 3.0)

# C. W. Champ and W. H. Woodall, Technometrics 29 (1987) 393, table 1 (the column at no shift from
# memory, to the last digit); the other columns by an exact chain of its own, made beforehand.
TABLE = {
    (BEYOND_3,): (370.40, 308.43, 200.08, 43.89, 6.30, 2.00),
    (BEYOND_3, TWO_OF_THREE): (225.44, 177.56, 104.46, 20.01, 3.65, 1.68),
    (BEYOND_3, FOUR_OF_FIVE): (166.05, 120.70, 63.88, 12.66, 3.68, 1.89),
    (BEYOND_3, RUN_OF_8): (152.73, 110.52, 59.76, 14.58, 4.89, 1.99),
    (BEYOND_3, TWO_OF_THREE, FOUR_OF_FIVE): (132.89, 97.86, 52.93, 10.95, 3.14, 1.67),
    (BEYOND_3, TWO_OF_THREE, RUN_OF_8): (122.05, 89.14, 48.71, 11.73, 3.50, 1.68),
    (BEYOND_3, FOUR_OF_FIVE, RUN_OF_8): (105.78, 76.01, 40.95, 10.19, 3.65, 1.89),
    WESTERN_ELECTRIC: (91.75, 66.80, 36.61, 9.22, 3.13, 1.67),
    NELSON: (109.05, 78.22, 41.62, 9.70, 3.13, 1.67),
}


@pytest.mark.parametrize(("rules", "lengths"), TABLE.items())
def test_rules_together_speak_as_often_as_the_table_says(rules, lengths):
    found = [average_run_length(rules, shift) for shift in SHIFTS]
    assert found == pytest.approx(lengths, abs=0.00501)


@pytest.mark.parametrize("n", [2, 7, 8, 9])
def test_a_run_on_one_side_takes_2_to_the_n_less_1(n):
    assert average_run_length((RunRule(n, n),)) == pytest.approx(2**n - 1, rel=1e-10)


@pytest.mark.parametrize(
    ("rule", "length"),
    [(TWO_OF_THREE, 510.69), (FOUR_OF_FIVE, 291.32), (HUGGING_15, 963.27), (AVOIDING_8, 14251)],
)
def test_single_rules_take_as_long_as_an_exact_chain_made_beforehand_says(rule, length):
    assert average_run_length((rule,)) == pytest.approx(length, abs=0.5 if length > 1e4 else 0.005)


def test_a_rule_that_is_watched_for_in_drawn_points_speaks_when_the_chain_says():
    draw = np.random.default_rng(20_260_501).normal(0.5, 1, (4_000, 400))
    high = np.lib.stride_tricks.sliding_window_view(draw > 1, 3, axis=1).sum(axis=2) >= 2
    low = np.lib.stride_tricks.sliding_window_view(draw < -1, 3, axis=1).sum(axis=2) >= 2
    first = np.argmax(high | low, axis=1) + 3
    # A run can end at its second point already.
    early = np.all(draw[:, :2] > 1, axis=1) | np.all(draw[:, :2] < -1, axis=1)
    lengths = np.where(early, 2, first)
    expected = average_run_length((RunRule(2, 3, 1.0),), 0.5)
    assert lengths.mean() == pytest.approx(expected, abs=4 * lengths.std() / math.sqrt(4_000))


def test_the_chances_of_a_trend_and_of_alternation_are_those_of_counted_orders():
    assert chance_of_trend(6) == pytest.approx(0.0027778, abs=5e-8)
    # Twice the Euler number E14 = 199 360 981 (OEIS A000111), over 14!.
    assert chance_of_alternation(14) == pytest.approx(2 * 199_360_981 / math.factorial(14))
    assert chance_of_alternation(14) == pytest.approx(0.00457364, abs=5e-9)


def test_rules_that_cannot_be_are_refused():
    with pytest.raises(ValueError, match="is no rule"):
        RunRule(4, 3)
    with pytest.raises(ValueError, match="nothing ever speaks"):
        average_run_length(())
    with pytest.raises(ValueError, match="hardly ever speak"):
        average_run_length((HUGGING_15,), shift=3.0)
