"""Over drawn fleets: of the findings that a rule by chance tells, how many are false."""

import math

import numpy as np
import pytest

from daq.audit.engine import audit
from daq.audit.rules import built_in
from tests.daq.audit.fleet import fleet, run_name

RULES = {rule.id: rule for rule in built_in()}
FLEETS, GAUGES = 8, 40


def drifting(made, gauge):
    for number in range(5):
        own = made.rows_of("points", gauge, run_name(gauge, number))
        made["points"]["indicated_nm"][own] += number * 1_500


def shifted(made, gauge):
    own = made.rows_of("captures", gauge)
    made["captures"]["value_nm"][own[40:80]] += 40_000


@pytest.mark.parametrize(("rule", "plant"), [("drift", drifting), ("shift", shifted)])
def test_of_the_findings_of_a_rule_no_larger_share_is_false_than_was_allowed(rule, plant):
    rate, shares, found = 0.2, [], 0
    planted = {"G03", "G10", "G21", "G30"}
    for seed in range(FLEETS):
        made = fleet(gauges=GAUGES, seed=100 + seed)
        for gauge in planted:
            plant(made, gauge)
        told = {each.gauge for each in audit(made, [RULES[rule]], rate=rate).findings}
        shares.append(len(told - planted) / max(1, len(told)))
        found += len(told & planted)
    error = float(np.std(shares)) / math.sqrt(FLEETS)
    assert np.mean(shares) <= rate + 3 * error
    assert found >= 0.9 * FLEETS * len(planted)


def test_in_sound_fleets_hardly_a_fleet_has_a_finding():
    names, fleets, q = ("drift", "shift", "still-readings", "two-things-at-once"), 25, 0.05
    with_some = dict.fromkeys(names, 0)
    for seed in range(fleets):
        result = audit(fleet(gauges=16, seed=500 + seed), [RULES[name] for name in names], rate=q)
        for name in {each.rule for each in result.findings}:
            with_some[name] += 1
    # Without a fault every finding is false, and then q is the share of fleets that have one.
    most = q * fleets + 3 * math.sqrt(q * (1 - q) * fleets)
    assert max(with_some.values()) <= most, with_some
