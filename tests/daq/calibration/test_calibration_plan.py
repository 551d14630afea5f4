"""A plan: its order, what a standard makes up for it, and a sensible one where there is none."""

from datetime import date
from decimal import Decimal
from itertools import combinations, pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from daq.calibration.errors import PlanError
from daq.calibration.plan import prepared
from daq.calibration.plan_default import default_plan
from daq.calibration.plan_file import plan_from_bytes
from daq.calibration.stacks import combination, stack_for
from tests.daq.calibration.invented import DAY, NOMINALS, bench, flat, plan, standard

D = Decimal


def test_a_plan_goes_up_and_down_without_reversing_and_then_repeats():
    stops = plan().stops
    assert [stop.place for stop in stops] == list(range(1, 20))
    assert [str(stop.nominal_mm) for stop in stops if stop.series == "up"] == [
        "0", "2.5", "2.7", "3", "5", "7.5", "10"
    ]  # fmt: skip
    down = [stop.nominal_mm for stop in stops if stop.series == "down"]
    assert down == [stop.nominal_mm for stop in stops if stop.series == "up"][::-1]
    turns = [stop.direction for stop in stops if stop.series != "repeat"]
    assert sum(one != other for one, other in pairwise(turns)) == 1
    repeats = [(str(s.nominal_mm), s.direction, s.number) for s in stops if s.series == "repeat"]
    assert repeats == [
        ("5", "up", 1), ("5", "up", 2), ("5", "up", 3), ("7.5", "down", 1), ("7.5", "down", 2)
    ]  # fmt: skip


def test_a_plan_that_goes_up_only_has_no_way_down():
    one_way = plan(
        ('revision = "A"', 'revision = "A"\ndirections = "up"'), ('direction = "down"', "")
    )
    assert {stop.series for stop in one_way.stops} == {"up", "repeat"}
    assert "It goes up only, so no hysteresis can be stated." in one_way.remarks


def test_what_is_thin_in_a_plan_is_remarked():
    assert plan().remarks[0] == "There are 4 steps over the range; 10 are usual."
    assert "5 mm is repeated 3 times; 5 are usual." in plan().remarks


@given(st.sets(st.integers(1, 60), min_size=1, max_size=12), st.integers(1, 200), st.integers(1, 5))
def test_a_combination_is_the_fewest_different_blocks_that_add_up(blocks, total, most):
    # Against trying every choice of blocks.
    nominals = [D(block) / 10 for block in blocks]
    found = combination(D(total) / 10, nominals, most)
    sizes = [
        number
        for number in range(1, most + 1)
        if any(sum(choice) == total for choice in combinations(blocks, number))
    ]
    if found is None:
        assert not sizes
    else:
        assert len(found) == sizes[0]
        assert sum(found) == D(total) / 10
        assert len(set(found)) == len(found)
        assert set(found) <= set(nominals)


def test_a_stack_is_as_long_as_its_certificate_says_and_as_sure_as_all_its_blocks_together():
    stack = stack_for(D("12.35"), standard(), 4)
    assert stack.words == "blocks 10 + 1.3 + 1.05 mm"
    assert stack.nominal_mm == D("12.35")
    assert stack.length_mm == D("12.35006")
    length_mm, u_mm = stack.travel_from(stack_for(D(0), standard(), 4))
    assert (length_mm, u_mm) == (D("12.35006"), D("0.00015"))


def test_a_block_that_lies_under_the_zero_too_drops_out():
    base, stack = (stack_for(D(total), standard(), 3) for total in ("1.5", "11.5"))
    assert stack.words == "blocks 10 + 1.5 mm"
    assert stack.travel_from(base) == (D("10.00002"), D("0.00005"))


def test_a_bench_has_what_its_certificate_says_and_a_straight_line_between():
    assert stack_for(D(10), bench(), 1).length_mm == D("10.001")
    between = stack_for(D(5), bench(), 1)
    assert between.length_mm == D("5.0005")
    assert between.words == "5 mm on the bench"
    less_sure = stack_for(D(30), bench(), 1)
    assert less_sure.pieces[0].u_mm == D("0.0003")
    assert stack_for(D("50.001"), bench(), 1) is None


def test_a_plan_is_bound_to_a_standard_that_can_make_up_every_length_of_it():
    ready = prepared(plan(), standard(), DAY)
    assert ready.stacks[D("2.7")].words == "blocks 1.7 + 1 mm"
    assert ready.reference_mm(D(0)) == (D(0), D(0))
    assert ready.reference_mm(D("7.5")) == (D("7.50004"), D("0.0001"))


def test_the_flat_that_the_gauge_is_zeroed_on_counts_with_its_flatness():
    ready = prepared(plan(), standard(), DAY, flat())
    assert ready.stacks[D(0)].words == "the flat"
    assert ready.reference_mm(D(0)) == (D(0), D(0))
    assert ready.reference_mm(D(5)) == (D("5.00002"), D("0.00025"))


def test_all_that_hinders_a_plan_is_told_at_once():
    odd = plan(('"2.5 mm", "2.7 mm", "3 mm"', '"2.5 mm", "2.703 mm", "3 mm"'))
    with pytest.raises(PlanError) as told:
        prepared(odd, standard(), date(2028, 1, 11), flat(due="2028-01-05"))
    assert told.value.problems == (
        "blocks was due on 2028-01-10; have it calibrated, or take another",
        "plate was due on 2028-01-05; have it calibrated, or take another",
        "2.703 mm cannot be made up from blocks with 3 blocks at most; allow more blocks, or plan "
        "2.7 mm instead",
    )


@pytest.mark.parametrize(
    ("kind", "words"),
    [
        (bench(values=bench().model_dump(by_alias=True)["values"][:2]), "goes from 0 mm to 10 mm"),
        (flat(), "is a flat and has no"),
    ],
)
def test_a_standard_that_does_not_reach_is_told(kind, words):
    longer = plan(('range = "10 mm"', 'range = "11 mm"'), ('"10 mm"]', '"10.5 mm"]'))
    with pytest.raises(PlanError, match=words):
        prepared(longer, kind, DAY)


def test_what_is_no_flat_is_not_taken_for_one_and_a_base_takes_none():
    with pytest.raises(PlanError, match="bench is a bench, not a flat"):
        prepared(plan(), standard(), DAY, bench())
    based = plan(('revision = "A"', 'revision = "A"\nbase = "1 mm"'))
    with pytest.raises(PlanError, match="a base of 1 mm, so take no flat"):
        prepared(based, standard(), DAY, flat())


@settings(deadline=None, max_examples=25)
@given(st.sampled_from(["1", "2", "5", "10", "12.7", "25.4", "30", "50", "100"]), st.booleans())
def test_a_default_plan_can_be_made_up_and_covers_the_range(range_mm, with_bench):
    reference = bench() if with_bench and D(range_mm) <= 50 else standard()
    made = default_plan(D(range_mm), D("0.001"), reference)
    ready = prepared(made, reference, DAY)
    points = made.heading.points_mm
    assert len(points) == 11
    assert points[0] == 0
    assert points[-1] == D(range_mm)
    between = D(range_mm) / 10
    assert all(abs(each - n * between) <= between / 3 for n, each in enumerate(points))
    assert all(len(stack.pieces) <= 3 for stack in ready.stacks.values())
    assert [each.times for each in made.repeats] == [5, 5, 5]
    assert made.partial is not None
    assert plan_from_bytes(made.text.encode(), made.name) == made


def test_a_default_plan_takes_as_many_blocks_as_it_is_allowed():
    with pytest.raises(PlanError, match="cannot make up ten steps over 300 mm with 3 blocks"):
        default_plan(D(300), D("0.01"), standard())
    made = default_plan(D(300), D("0.01"), standard(), most_blocks=5)
    assert made.heading.points_mm[-1] == 300


def test_a_default_plan_on_short_travel_stands_on_a_block():
    made = default_plan(D(1), D("0.0001"), standard())
    assert made.heading.base_mm == 2 * min(NOMINALS)
    assert made.partial.points_mm == tuple(D(n) / 100 for n in range(10, 21, 2))


def test_a_depth_gauge_is_lifted_from_stack_to_stack():
    made = default_plan(D(100), D("0.01"), standard(), kind="depth gauge")
    assert (made.heading.approach, made.heading.directions) == ("lifted", "up")


@pytest.mark.parametrize(("range_mm", "step_mm"), [("0", "0.001"), ("1", "0"), ("1", "0.2")])
def test_figures_of_no_gauge_are_refused(range_mm, step_mm):
    with pytest.raises(PlanError, match="are no gauge's"):
        default_plan(D(range_mm), D(step_mm), standard())
