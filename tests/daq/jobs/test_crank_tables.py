"""The half rule against published tables, and against the valve timing by the phase model."""

import itertools

import pytest

from daq.jobs import Method, half_rule, plan
from tests.daq.jobs.engines import TYPICAL, by_hand_open, engine, every_item_once, timing, valves

TABLES = [
    # US Army TM 5-3895-383-24, page 6-60
    ("1-3-4-2", "intake 1 2; exhaust 1 3", "4", "intake 3 4; exhaust 2 4"),
    # computed by hand from the rule
    ("1-2-4-3", "intake 1 3; exhaust 1 2", "4", "intake 2 4; exhaust 3 4"),
    # US Army TM 5-3895-383-24
    ("1-5-3-6-2-4", "intake 1 2 4; exhaust 1 3 5", "6", "intake 3 5 6; exhaust 2 4 6"),
    # from memory; the order of firing was checked
    ("1-8-4-3-6-5-7-2", "intake 1 2 5 7; exhaust 1 3 4 8", "6", "intake 3 4 6 8; exhaust 2 5 6 7"),
    # computed by hand from the rule
    ("1-5-4-2-6-3-7-8", "intake 1 3 7 8; exhaust 1 2 4 5", "6", "intake 2 4 5 6; exhaust 3 6 7 8"),
]

TIMINGS = list(itertools.product((0, 10, 20, 30), (20, 40, 50, 60), (30, 45, 60), (0, 10, 20, 30)))

EVEN_ORDERS = [
    *(order for order, *_ in TABLES),
    "1-8-7-2-6-5-4-3",
    "1-12-5-8-3-10-6-7-2-11-4-9",
]
"""In-line engines of 4 and 6, V engines of 8 and 12 cylinders, all firing evenly."""


@pytest.mark.parametrize(("order", "first", "companion", "second"), TABLES)
@pytest.mark.parametrize("known", [None, TYPICAL], ids=["no timing", "timing"])
def test_the_plan_equals_the_published_table(order, first, companion, second, known):
    made = plan(engine(order, timing=known))
    assert made.method is Method.HALF_RULE
    assert [str(step.position) for step in made.steps] == [
        "cylinder 1 at firing TDC",
        f"cylinder {companion} at firing TDC",
    ]
    assert [step.sets for step in made.steps] == [first, second]
    assert [set(step.items) for step in made.steps] == [valves(first), valves(second)]
    assert made.total_deg == 360


def test_the_check_has_192_timings():
    assert len(TIMINGS) == 192


@pytest.mark.parametrize("order", EVEN_ORDERS)
def test_the_half_rule_never_names_an_open_valve_and_names_each_once(order):
    plain = engine(order)
    names = order.split("-")
    apart = 720 // len(names)
    halves = [half_rule(plain, names[0]), half_rule(plain, names[len(names) // 2])]
    named = [item for half in halves for item in half]
    assert len(named) == len(set(named)) == 2 * len(names)
    for at, half in zip((0, 360), halves, strict=True):
        for item in half:
            phase = (at - apart * names.index(item.cylinder)) % 720
            assert not any(by_hand_open(item.kind, phase, *each) for each in TIMINGS), item


@pytest.mark.parametrize("order", ["1-3-4-2", "1-12-5-8-3-10-6-7-2-11-4-9"])
@pytest.mark.parametrize("each", TIMINGS[::7], ids=str)
def test_the_plan_is_by_the_half_rule_for_ordinary_timings(order, each):
    made = plan(engine(order, timing=timing(*each)))
    assert made.method is Method.HALF_RULE
    assert every_item_once(made, engine(order).items("intake", "exhaust"))


@pytest.mark.parametrize("cylinders", range(8, 21, 2))
@pytest.mark.parametrize(("ivo", "evc"), [(-1, -1), (-1, 0), (0, -1)])
def test_the_half_rule_fails_exactly_from_the_firing_interval_on(cylinders, ivo, evc):
    """It names an intake that is the interval before overlap TDC, an exhaust the interval after.

    The bound follows from the phase model in one line; see docs/crank.md.
    """
    apart = 720 / cylinders
    early, late = (f"{apart + shift:.3f}" for shift in (ivo, evc))
    made = plan(engine(range(1, cylinders + 1), timing=timing(early, 40, 50, late)))
    fails = ivo == 0 or evc == 0
    assert made.method is (Method.TIMING if fails else Method.HALF_RULE)
    assert made.notes[0].startswith("The half rule fails here") == fails


def test_every_order_of_six_is_set_once_with_closed_valves():
    figures = (30, 60, 60, 30)  # the widest of the timings above
    for rest in itertools.permutations(range(2, 7)):
        order = (1, *rest)
        first, second = plan(engine(order, timing=timing(*figures))).steps
        items = (*first.items, *second.items)
        assert len(items) == len(set(items)) == 12
        assert first.position.crank_deg == 0
        assert second.position.words == f"cylinder {order[3]} at firing TDC"
        for at, step in ((0, first), (360, second)):
            for item in step.items:
                phase = (at - 120 * order.index(int(item.cylinder))) % 720
                assert not by_hand_open(item.kind, phase, *figures)


SUMS = [
    ("1-3-4-2", True),
    ("1-2-4-3", True),
    ("1-5-3-6-2-4", True),
    ("1-6-2-5-8-3-7-4", True),
    ("1-8-4-3-6-5-7-2", False),
    ("1-5-4-2-6-3-7-8", False),
]
"""Whether cylinders a turn apart sum to one more than there are.

For in-line engines that is what the rules of 9, 13 and 17 say (the valve fully open and the valve
to set sum to 9, 13 or 17). That they fail for these V8 orders was computed by hand.
"""


@pytest.mark.parametrize(("order", "sums"), SUMS)
def test_cylinders_a_turn_apart_are_those_of_the_rules_of_sums(order, sums):
    firing = engine(order).phases.firing_deg
    pairs = [
        (int(one), int(other))
        for one, other in itertools.combinations(firing, 2)
        if abs(firing[one] - firing[other]) == 360
    ]
    assert len(pairs) == len(firing) / 2
    assert {one + other == len(firing) + 1 for one, other in pairs} == {sums}
