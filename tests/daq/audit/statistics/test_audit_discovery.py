"""The false discovery rate: by hand, by another library, and by drawing fleets."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import false_discovery_control

from daq.audit.statistics import (
    adjusted_p,
    benjamini_hochberg,
    chi_square_tail,
    even_digits,
)

# Y. Benjamini and Y. Hochberg, J. R. Statist. Soc. B 57 (1995) 289, section 4: fifteen tests, of
# which four are told at 5 % (from memory).
PAPER = (
    0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344, 0.0459, 0.3240, 0.4262, 0.5719,
    0.6528, 0.7590, 1.0000,
)  # fmt: skip


def test_of_the_papers_fifteen_tests_the_first_four_are_findings():
    assert benjamini_hochberg(PAPER, 0.05).tolist() == [True] * 4 + [False] * 11


def test_a_larger_chance_carries_a_smaller_one_along():
    assert benjamini_hochberg([0.04, 0.05], 0.05).tolist() == [True, True]


@given(st.lists(st.floats(0, 1), min_size=1, max_size=60), st.booleans())
def test_adjusted_chances_agree_with_another_library(p, any_dependence):
    method = "by" if any_dependence else "bh"
    ours = adjusted_p(p, any_dependence=any_dependence)
    assert ours == pytest.approx(false_discovery_control(p, method=method), rel=1e-12, abs=1e-300)


def test_tests_whose_chances_were_not_kept_count_all_the_same():
    assert benjamini_hochberg(PAPER[:6], 0.05, tests=15).tolist() == [True] * 4 + [False] * 2


def test_a_test_without_a_chance_is_no_finding_but_counts():
    assert benjamini_hochberg([0.03, math.nan], 0.05).tolist() == [False, False]
    assert benjamini_hochberg([0.02, math.nan], 0.05).tolist() == [True, False]


def test_no_tests_give_no_findings():
    assert benjamini_hochberg([], 0.05).tolist() == []


@pytest.mark.parametrize("any_dependence", [False, True])
@pytest.mark.parametrize(("q", "bad"), [(0.05, 0), (0.05, 40), (0.2, 100)])
def test_over_many_fleets_the_share_of_false_findings_is_at_most_q(q, bad, any_dependence):
    draw = np.random.default_rng(95)
    gauges, fleets, shares, found = 400, 1_500, [], 0
    tail = np.array([chi_square_tail(x, 1) for x in np.linspace(0, 60, 6_001)])
    for _ in range(fleets):
        z = draw.normal(0, 1, gauges)
        z[:bad] += 3.5
        p = np.interp(z * z, np.linspace(0, 60, 6_001), tail)
        told = benjamini_hochberg(p, q, any_dependence=any_dependence)
        shares.append(told[bad:].sum() / max(1, told.sum()))
        found += int(told[:bad].sum())
    rate, error = np.mean(shares), np.std(shares) / math.sqrt(fleets)
    assert rate <= q + 3 * error
    # The paper's own figure for independent tests is q times the share of sound ones: no slack.
    if not any_dependence:
        assert rate == pytest.approx(q * (gauges - bad) / gauges, abs=4 * error + 1e-9)
    assert bad == 0 or found > 0.4 * bad * fleets


def test_over_fleets_of_operators_sound_ones_are_not_accused_of_inventing_digits():
    draw = np.random.default_rng(12)
    invented = np.array([4, 0.6, 0.6, 0.6, 0.6, 2, 0.4, 0.4, 0.4, 0.4]) / 10
    operators, bad, fleets, q, shares, found = 100, 5, 100, 0.1, [], 0
    for _ in range(fleets):
        counts = draw.multinomial(220, np.full(10, 0.1), operators)
        counts[:bad] = draw.multinomial(220, invented, bad)
        told = benjamini_hochberg([even_digits(each, 1_000).p for each in counts], q)
        shares.append(told[bad:].sum() / max(1, told.sum()))
        found += int(told[:bad].sum())
    assert np.mean(shares) <= q + 3 * np.std(shares) / math.sqrt(fleets)
    assert found == bad * fleets


def test_at_a_fixed_level_a_sound_fleet_would_be_accused_a_hundred_times():
    p = np.random.default_rng(7).uniform(0, 1, 10_000)
    assert 60 < (p < 0.01).sum() < 140
    assert not benjamini_hochberg(p, 0.01).any()


@pytest.mark.parametrize(
    ("p", "q", "tests", "why"),
    [
        ([0.1], 0, None, "false discovery rate of 0"),
        ([0.1, 1.1], 0.05, None, "from 0 to 1"),
        ([0.1, 0.2], 0.05, 1, "1 tests cannot have given 2"),
        ([[0.1]], 0.05, None, "in one row"),
    ],
)
def test_what_cannot_be_is_refused(p, q, tests, why):
    with pytest.raises(ValueError, match=why):
        benjamini_hochberg(p, q, tests=tests)
