"""Tables made only where a rule asks for them; and the travel and fitness of gauges."""

import numpy as np
import pytest

from daq.audit.engine import audit
from daq.audit.kernel.fitness import asked, travel
from daq.audit.kernel.stays import stays
from daq.audit.rules import built_in, chosen
from tests.daq.audit.fleet import fleet, run_name

HOUR = 3_600_000_000
RULES = {rule.id: rule for rule in built_in()}


def test_people_are_where_they_captured_hour_by_hour():
    block = {
        "gauge": np.array([1, 1, 1, 2, 2]),
        "seq": np.array([1, 2, 3, 1, 2]),
        "at_us": np.array([5, HOUR + 1, 9, 7, 3]),
        "operator": np.array([4, 4, 4, 4, -1]),
        "site": np.array([8, 8, 8, 9, 9]),
    }
    found = stays(block)
    rows = sorted(zip(*(each.tolist() for each in found.values()), strict=True))
    assert list(found) == ["operator", "site", "gauge", "seq_lo", "seq_hi", "first_us", "last_us"]
    assert rows == [
        (4, 8, 1, 1, 1, 5, 9),
        (4, 8, 1, 2, 2, HOUR + 1, HOUR + 1),
        (4, 9, 2, 1, 1, 7, 7),
    ]
    block["operator"][:] = -1
    assert stays(block)["site"].size == 0


def test_how_far_values_of_one_series_lie_apart_is_told_and_not_those_of_two():
    block = {"value_nm": np.array([5, 9, 100, 101, -7, 2])}
    found = travel(block, np.array([0, 4]), np.array([0, 2, 4]))
    assert {name: each.tolist() for name, each in found.items()} == {
        "least_nm": [5, -7],
        "most_nm": [101, 2],
        "spread_nm": [4, 9],
    }


def test_what_work_asks_is_told_stretch_by_stretch_and_not_where_it_asks_nothing():
    none = -(2**63)
    block = {
        "gauge": np.array([1, 1, 1, 2, 2]),
        "seq": np.array([1, 2, 3, 1, 2]),
        "asked_kind": np.array([0, 0, -1, 0, 1]),
        "asked_step_nm": np.array([10, 10, none, 10, 10]),
    }
    found = asked(block)
    assert found["gauge"].tolist() == [1, 2, 2]
    assert found["seq_lo"].tolist() == [1, 1, 2]
    assert found["captures"].tolist() == [2, 1, 1]
    assert found["asked_range_nm"].tolist() == [none] * 3


@pytest.mark.parametrize(
    ("kind", "values_nm", "found"),
    [
        ("depth gauge", (13_500_000,), True),
        ("depth gauge", (-13_500_000,), True),
        ("depth gauge", (-12_000_000,), False),
        ("indicator", (9_000_000, -8_000_000), True),
        ("indicator", (9_000_000, -2_000_000), False),
        ("probe", (9_000_000, -8_000_000), True),
        ("", (13_500_000, -13_500_000), False),
    ],
)
def test_a_depth_gauge_is_held_by_its_values_and_an_indicator_by_how_far_they_lie_apart(
    kind, values_nm, found
):
    made = fleet(gauges=8)
    made["gauges"]["kind"][:] = kind
    own = made.rows_of("captures", "G05")
    made["captures"]["value_nm"][own[5 : 5 + len(values_nm)]] = values_nm
    result = audit(made, [RULES["out-of-range"]])
    assert {each.gauge for each in result.findings} == ({"G05"} if found else set())


def test_an_indicator_that_is_preset_to_a_length_is_not_beyond_its_range():
    made = fleet(gauges=8)
    for name in ("value_nm", "lower_nm", "upper_nm"):
        made["captures"][name][made.rows_of("captures", "G05")] += 80_000_000
    assert audit(made, [RULES["out-of-range"]]).findings == ()


@pytest.mark.parametrize(
    ("column", "value", "words"),
    [
        ("kind", "probe", 'which is of kind "probe", and the work asks for "indicator".'),
        ("step_nm", 20_000, "which counts in coarser steps than the work allows."),
        ("range_nm", 4_000_000, "which has a shorter range than the work asks for."),
    ],
)
def test_what_does_not_fit_the_work_is_said(column, value, words):
    made = fleet(gauges=8)
    made["gauges"][column][5] = value
    (found,) = audit(made, [RULES["not-what-was-asked"]]).findings
    assert found.gauge == "G05"
    assert found.score == 150
    assert found.words.endswith(words)


@pytest.mark.parametrize("many", [6, 7, 15])
def test_a_part_that_was_copied_to_another_place_of_the_pass_is_found_with_its_extent(many):
    made = fleet()
    other = made.rows_of("points", "G09", run_name("G09", 1))[2 : 2 + many]
    own = made.rows_of("points", "G05", run_name("G05", 2))[4 : 4 + many]
    for name in ("reference_nm", "indicated_nm"):
        made["points"][name][own] = made["points"][name][other]
    (found,) = audit(made, [RULES["copied-part"]]).findings
    assert (found.score, found.seq_hi - found.seq_lo + 1) == (many, many)
    seqs = {made["points"]["seq"][each[0]] for each in (own, other)}
    assert {found.seq_lo, found.facts["other_seq_lo"]} == seqs
    assert {found.gauge, found.facts["other_gauge"]} == {"G05", "G09"}


def test_the_same_readings_in_another_order_are_no_copy():
    made = fleet()
    other = made.rows_of("points", "G09", run_name("G09", 1))[2:12]
    own = made.rows_of("points", "G05", run_name("G05", 2))[4:14]
    for name in ("reference_nm", "indicated_nm"):
        made["points"][name][own] = made["points"][name][other][::-1]
    assert audit(made, [RULES["copied-part"]]).findings == ()


def test_fewer_readings_and_whole_calibrations_are_not_told_as_a_part():
    made = fleet()
    for first, many in ((0, 5), (0, 22)):
        other = made.rows_of("points", "G09", run_name("G09", 1))[first : first + many]
        own = made.rows_of("points", "G05", run_name("G05", 2))[first : first + many]
        for name in ("reference_nm", "indicated_nm"):
            made["points"][name][own] = made["points"][name][other]
        assert audit(made, [RULES["copied-part"]]).findings == ()


def test_rules_that_cost_much_are_run_only_where_they_are_named():
    usual = {rule.id for rule in chosen(built_in(), ())}
    assert set(RULES) - usual == {"copied-part", "captured-at-two-places"}
    assert {rule.id for rule in chosen(built_in(), ["all"])} == set(RULES)
    assert [rule.id for rule in chosen(built_in(), ["copied-part"])] == ["copied-part"]
    made = fleet(gauges=4)
    del made["captures"]["operator"]
    result = audit(made, [RULES["captured-at-two-places"]])
    assert result.not_run[0].why == "needs the column captures.operator"


def test_one_capture_during_a_calibration_may_be_chance_and_more_are_not():
    rule = RULES["two-things-at-once"]
    for many in (1, 5):
        made = fleet()
        at = made["points"]["at_us"][made.rows_of("points", "G05", run_name("G05", 2))[0]]
        own = made.rows_of("captures", "G05")
        times = made["captures"]["at_us"]
        first = np.searchsorted(times[own], at)
        times[own[first : first + many]] = at + np.arange(many)
        found = audit(made, [rule]).findings
        assert bool(found) == (many == 5), many
