"""Every rule: it finds its own fault, and is silent on a sound fleet and on honest odd ones."""

import numpy as np
import pytest

from daq.audit.engine import audit
from daq.audit.rules import built_in
from tests.daq.audit.fleet import DAY, MM, STEP, fleet, run_name
from tests.daq.audit.rules.faults import ABOUT_PEOPLE, FAULTS, GAUGE

RULES = {rule.id: rule for rule in built_in()}
BY_OTHER_TESTS = {"broken-chain"}


def test_every_rule_has_a_fault_that_it_must_find():
    assert set(FAULTS) | BY_OTHER_TESTS == set(RULES)


@pytest.mark.parametrize("name", sorted(FAULTS))
def test_a_rule_finds_its_own_fault_and_names_nobody_else(name):
    made = fleet()
    FAULTS[name](made)
    result = audit(made, [RULES[name]])
    assert result.findings, f"{name} found nothing"
    if name in ABOUT_PEOPLE:
        column, who = ABOUT_PEOPLE[name]
        assert {each.facts[column] for each in result.findings} == {who}
    elif name == "standard-out-of-date":
        assert GAUGE in {each.gauge for each in result.findings}
        assert {each.facts["standard"] for each in result.findings} == {"S1"}
    elif name in ("two-places", "captured-at-two-places"):
        assert {each.gauge for each in result.findings} <= {GAUGE, "G06"}
    elif name in ("copied-readings", "copied-part"):
        pairs = {(each.gauge, each.facts["other_gauge"]) for each in result.findings}
        assert pairs <= {(GAUGE, "G09"), ("G09", GAUGE)}
    else:
        assert {each.gauge for each in result.findings} == {GAUGE}
    for each in result.findings:
        assert each.strength == RULES[name].strength
        assert "unknown" not in each.words
        assert (each.p is not None) == (each.strength == "p")


def test_no_rule_finds_anything_in_a_sound_fleet():
    result = audit(fleet(seed=2), built_in())
    assert [(each.rule, each.words) for each in result.findings] == []
    assert {each.rule for each in result.not_run} == BY_OTHER_TESTS


def coarse_gauge_that_rightly_repeats(made):
    value = made["captures"]["value_nm"]
    own = made.rows_of("captures", "G03")
    value[own] = np.rint(value[own] / (40 * STEP)).astype(np.int64) * 40 * STEP


def person_who_travels(made):
    for name in (run_name("G04", 2), run_name("G05", 2)):
        own = made.rows_of("points", name.split("/")[0], name)
        made["points"]["operator"][own] = "traveller"
        if name.startswith("G05"):
            made["points"]["at_us"][own] += DAY


def place_with_gauge_blocks(made):
    points = made["points"]
    here = points["site"] == "site A"
    points["reference_nm"][here] = points["nominal_nm"][here] + points["nominal_nm"][here] % 7 * 10
    points["certified_nm"][here] = points["reference_nm"][here]
    level = np.rint((points["indicated_nm"][here] - points["reference_nm"][here]) / STEP)
    points["indicated_nm"][here] = (
        np.rint(points["reference_nm"][here] / STEP) + np.clip(level, 0, 1)
    ).astype(np.int64) * STEP


def parts_of_many_sizes(made):
    captures = made["captures"]
    own = made.rows_of("captures", "G02")
    other = own[75:]
    captures["feature"][other] = "shaft"
    for name in ("value_nm", "lower_nm", "upper_nm"):
        captures[name][other] += 3 * MM


def person_with_two_gauges_at_one_place(made):
    for gauge in ("G05", "G07"):
        own = made.rows_of("points", gauge, run_name(gauge, 2))
        made["points"]["operator"][own] = "b0"
        begun = made["points"]["at_us"][made.rows_of("points", "G05", run_name("G05", 2))[0]]
        made["points"]["at_us"][own] += begun - made["points"]["at_us"][own[0]]


def few_calibrations_on_the_same_blocks(made):
    points = made["points"]
    gone = [row for n in (3, 4) for row in made.rows_of("points", "G05", run_name("G05", n))]
    first, second = (made.rows_of("points", "G05", run_name("G05", n)) for n in (0, 1))
    for name in ("reference_nm", "indicated_nm", "certified_nm"):
        points[name][second] = points[name][first]
    made.drop("points", gone)
    keep = ~np.isin(made["calibrations"]["run"], ["G05/3", "G05/4"])
    made.tables["calibrations"] = {n: v[keep] for n, v in made["calibrations"].items()}
    late = made.rows_of("captures", "G05")
    made.drop("captures", late[made["captures"]["at_us"][late] > points["at_us"][second[-1]]])


def few_calibrations_on_the_same_blocks_alike_in_part(made):
    few_calibrations_on_the_same_blocks(made)
    first = made.rows_of("points", "G05", run_name("G05", 0))[:5]
    made["points"]["indicated_nm"][first] += STEP


def indicator_preset_to_a_length(made):
    for name in ("value_nm", "lower_nm", "upper_nm"):
        made["captures"][name][made.rows_of("captures", "G05")] += 80 * MM


def capture_dated_by_another_clock(made):
    at = made["points"]["at_us"][made.rows_of("points", "G05", run_name("G05", 2))[4]]
    own = made.rows_of("captures", "G05")
    times = made["captures"]["at_us"]
    times[own[np.searchsorted(times[own], at)]] = at


@pytest.mark.parametrize(
    "plant",
    [
        few_calibrations_on_the_same_blocks_alike_in_part,
        indicator_preset_to_a_length,
        capture_dated_by_another_clock,
        person_with_two_gauges_at_one_place,
        few_calibrations_on_the_same_blocks,
        coarse_gauge_that_rightly_repeats,
        person_who_travels,
        place_with_gauge_blocks,
        parts_of_many_sizes,
    ],
)
def test_an_honest_oddity_is_not_told(plant):
    made = fleet(seed=3)
    plant(made)
    result = audit(made, built_in())
    assert [(each.rule, each.words) for each in result.findings] == []
