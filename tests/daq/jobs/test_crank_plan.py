"""Crank plans for any engine: each item once, nothing open, forwards, in a fitter's words."""

import itertools
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from daq.jobs import (
    KINDS,
    Engine,
    EngineError,
    Item,
    Method,
    ValveTiming,
    degrees_words,
    half_rule,
    plan,
    settable,
)
from tests.daq.jobs.engines import (
    by_hand_open,
    engine,
    every_item_once,
    facts,
    timing,
    two_stroke,
    valves,
)

FIGURES = st.tuples(st.integers(0, 80), st.integers(0, 80), st.integers(20, 80), st.integers(0, 80))
ORDERS = st.integers(1, 20).flatmap(lambda n: st.permutations(range(1, n + 1)))
VALVES = ("intake", "exhaust")


def walked(made, start_deg):
    """The crank angle after each step, barred as the plan says."""
    here = start_deg
    for step in made.steps:
        here = (here + step.bar_deg) % 720
        yield here, step


@pytest.mark.parametrize("order", [(1, *rest) for rest in itertools.permutations((2, 3, 4))])
def test_every_order_of_four_agrees_with_the_phase_model(order):
    plain = engine(order)
    for figures in ((0, 20, 30, 0), (15, 40, 50, 15), (30, 60, 60, 30)):
        made = plan(engine(order, timing=timing(*figures)), start=plain.position("1"))
        assert every_item_once(made, plain.items(*VALVES))
        for crank, step in walked(made, Fraction(0)):
            for item in step.items:
                phase = (crank - 180 * order.index(int(item.cylinder))) % 720
                assert not by_hand_open(item.kind, phase, *figures)


@given(ORDERS, FIGURES, st.sampled_from([VALVES, KINDS, ("injector",)]), st.data())
@settings(max_examples=60, deadline=None)
def test_any_even_engine_is_set_once_and_with_closed_valves(order, figures, kinds, data):
    made_for = engine(order, timing=timing(*figures), exhaust_valves=2)
    start = made_for.position(data.draw(st.sampled_from(made_for.names)))
    made = plan(made_for, kinds, start=start)
    assert every_item_once(made, made_for.items(*kinds))
    assert made.total_deg == sum(step.bar_deg for step in made.steps) < 720
    assert all(step.bar_deg >= 0 for step in made.steps)
    for crank, step in walked(made, start.crank_deg):
        assert crank == step.position.crank_deg
        for item in step.items:
            fires = made_for.phases.firing_deg[item.cylinder]
            assert fires == Fraction(
                720 * ((order.index(int(item.cylinder)) - order.index(1)) % len(order)), len(order)
            )
            phase = (crank - fires) % 720
            if item.kind == "injector":
                assert phase == 0
            else:
                opens, closes = (
                    (360 - figures[0], 540 + figures[1])
                    if item.kind == "intake"
                    else (180 - figures[2], 360 + figures[3])
                )
                assert not opens <= phase <= closes


@given(
    st.sampled_from([2, 3, 4, 5, 6]).flatmap(lambda n: st.permutations(range(1, n + 1))), FIGURES
)
@settings(max_examples=15, deadline=None)
def test_the_plan_from_the_timing_is_the_shortest_there_is(order, figures):
    made_for = engine(order, timing=timing(*figures, keep_clear=10))
    made = plan(made_for, method=Method.TIMING)
    count = len(order)
    centres = {Fraction(720 * n, count) for n in range(count)}
    centres |= {(angle + 360) % 720 for angle in centres}
    wanted = set(made_for.items(*VALVES))

    def closed(crank):
        for item in wanted:
            phase = (crank - made_for.phases.firing_deg[item.cylinder]) % 720
            opens, closes = (
                (350 - figures[0], 550 + figures[1])
                if item.kind == "intake"
                else (170 - figures[2], 370 + figures[3])
            )
            # Closing late enough reaches into the next cycle.
            if not (opens < phase < closes or opens < phase + 720 < closes):
                yield item

    able = {crank: set(closed(crank)) for crank in centres}
    totals = [
        max((crank - first) % 720 for crank in visits)
        for size in (1, 2, 3)
        for visits in itertools.combinations(sorted(centres), size)
        for first in visits
        if set().union(*(able[crank] for crank in visits)) == wanted
    ]
    assert made.total_deg == min(totals)
    assert every_item_once(made, wanted)
    for step in made.steps:
        assert set(step.items) <= able[step.position.crank_deg]
        for item in step.items:  # nowhere on the way is it further from moving
            gaps = {
                other.position: made_for.phases.clearance_deg(item, other.position.crank_deg)
                for other in made.steps
            }
            assert gaps[step.position] == max(gaps.values())


@pytest.mark.parametrize("cylinders", range(1, 21))
def test_from_one_to_twenty_cylinders_without_a_timing(cylinders):
    made_for = engine(range(1, cylinders + 1))
    made = plan(made_for)
    assert every_item_once(made, made_for.items(*VALVES))
    if cylinders in (2, 4, 6, 8):
        assert (made.method, made.total_deg) == (Method.HALF_RULE, 360)
    else:
        assert made.method is Method.OWN_TDC
        assert made.total_deg == 720 - Fraction(720, cylinders)
        assert [step.items[0].cylinder for step in made.steps] == list(made_for.names)


def test_many_cylinders_without_a_timing_say_why_the_half_rule_was_not_taken():
    made = plan(engine(range(1, 13)))
    assert made.notes[0] == (
        "The half rule was not taken: 12 cylinders fire only 60° apart, and the valve timing is "
        "not known."
    )
    asked = plan(engine(range(1, 13)), method=Method.HALF_RULE)
    assert asked.total_deg == 360
    assert "less than 60° from TDC" in asked.notes[0]


def test_injectors_are_set_at_each_cylinders_own_firing_tdc_in_firing_order():
    made = plan(engine("1-5-3-6-2-4"), ["injector"])
    assert [step.words for step in made.steps] == [
        "bar in running direction to cylinder 1 at firing TDC",
        "bar on 120° in running direction: cylinder 5 at firing TDC",
        "bar on 120° in running direction: cylinder 3 at firing TDC",
        "bar on 120° in running direction: cylinder 6 at firing TDC",
        "bar on 120° in running direction: cylinder 2 at firing TDC",
        "bar on 120° in running direction: cylinder 4 at firing TDC",
    ]
    assert [step.sets for step in made.steps] == [f"injector {c}" for c in "153624"]
    assert made.total_deg == 600


def test_valves_and_injectors_together_are_set_cylinder_by_cylinder():
    made = plan(engine("1-3-4-2", exhaust_valves=2), KINDS)
    assert [step.sets for step in made.steps][:2] == [
        "intake 1; exhaust 1; injector 1",
        "intake 3; exhaust 3; injector 3",
    ]
    assert len(made.steps) == 4
    assert made.total_deg == 540


def test_from_where_the_crank_stands_the_nearest_pair_is_taken():
    made_for = engine("1-5-3-6-2-4")
    made = plan(made_for, start=made_for.position("3", after_deg=Fraction(-30)))
    assert [step.words for step in made.steps] == [
        "bar on 30° in running direction: cylinder 3 at firing TDC",
        "bar on 360° in running direction (one full turn): cylinder 4 at firing TDC",
    ]
    assert [step.sets for step in made.steps] == [
        "intake 1 3 5; exhaust 2 3 6",
        "intake 2 4 6; exhaust 1 4 5",
    ]
    assert made.total_deg == 390


def test_a_plan_that_begins_where_the_crank_stands_says_stay():
    made_for = engine("1-3-4-2")
    assert plan(made_for, start=made_for.position("2")).steps[0].words == (
        "stay: cylinder 2 at firing TDC"
    )


def test_a_plan_tells_which_turn_of_the_crank_it_is_and_how_the_engine_turns():
    made = plan(engine("1-5-3-6-2-4"))
    assert made.running_direction == "anticlockwise, seen from the flywheel end"
    assert made.steps[0].tell == (
        "cylinder 6 changes over there: its exhaust closes as its intake opens"
    )
    assert plan(engine("1-3-2")).steps[1].tell == "the valves of cylinder 3 are closed there"
    assert plan(two_stroke(4)).steps[0].tell == ""


def test_every_plan_carries_its_cautions():
    said = " ".join(plan(engine("1-3-4-2")).cautions)
    assert "maker's current table and figures win" in said
    assert "lock out starting energy" in said


@pytest.mark.parametrize("cylinders", range(1, 21))
def test_a_two_stroke_is_set_within_one_turn(cylinders):
    made_for = two_stroke(cylinders)
    made = plan(made_for, KINDS)
    assert made.method is Method.OWN_TDC
    assert every_item_once(made, made_for.items("exhaust", "injector"))
    assert made.total_deg == 360 - Fraction(360, cylinders)
    assert str(made.steps[0].position) == "cylinder 1 at TDC"


def test_a_two_strokes_timing_is_counted_from_one_turn():
    """By hand: open from 95 to 240; with 1 at TDC, cylinder 2 is at 240 and cylinder 3 at 120."""
    bare = ValveTiming(evo="85 before BDC", evc="60 after BDC", keep_clear=0)
    made_for = two_stroke(3, timing=bare)
    phases, at = made_for.phases, made_for.position("1")
    gaps = [phases.clearance_deg(item, at.crank_deg) for item in made_for.items("exhaust")]
    assert gaps == [95, 0, -25]
    assert settable(made_for, at) == (Item("exhaust", "1"), Item("injector", "1"))


def test_what_can_be_set_at_a_position_follows_from_the_timing():
    """Closed in an I6 at 15/40/50/15: the table's valves, and intake 5 and exhaust 4 (by hand)."""
    figures = (15, 40, 50, 15)
    bare = engine("1-5-3-6-2-4", timing=timing(*figures, keep_clear=0))
    closed = settable(bare, bare.position("1"))
    assert set(closed) == valves("intake 1 2 4 5; exhaust 1 3 4 5; injector 1")
    assert set(half_rule(bare, "1")) < set(closed)
    # Exhaust 4 is 10° from opening, which is too near for a plan.
    clear = engine("1-5-3-6-2-4", timing=timing(*figures))
    assert set(closed) - set(settable(clear, clear.position("1"))) == valves("exhaust 4")


def test_without_a_timing_nobody_can_say_what_is_closed():
    made_for = engine("1-3-4-2")
    with pytest.raises(EngineError, match="timing is not known"):
        settable(made_for, made_for.position("1"))


@pytest.mark.parametrize(
    ("made_for", "method", "said"),
    [
        (two_stroke(4), Method.HALF_RULE, "two-stroke"),
        (engine("1-2-3"), Method.HALF_RULE, "3 is an odd number"),
        (engine("1-3-4-2"), Method.TIMING, "timing is not known"),
        (engine("1-3-4-2"), Method.TABLE, "No valve table is given for: exhaust, intake"),
        (
            engine(range(1, 17), timing=timing(60, 40, 50, 30)),
            Method.HALF_RULE,
            "The half rule fails here: intake 10 is open with cylinder 1 at firing TDC; cylinder "
            "10 is then 315° past its firing TDC, and its intake is open from 300° to 580°.",
        ),
    ],
    ids=["two-stroke", "odd", "no timing", "no table", "long overlap"],
)
def test_a_method_that_does_not_hold_is_refused_with_the_reason(made_for, method, said):
    with pytest.raises(EngineError) as refusal:
        plan(made_for, method=method)
    assert said in str(refusal.value)


def test_an_engine_with_nothing_of_the_kind_is_told_so():
    with pytest.raises(EngineError, match="nothing of that kind"):
        plan(two_stroke(4, exhaust_valves=0))


def test_a_position_of_no_cylinder_is_refused():
    with pytest.raises(EngineError, match="There is no cylinder 9; known: 1 2 3 4"):
        engine("1-3-4-2").position("9")
    with pytest.raises(EngineError, match="no overlap TDC"):
        two_stroke(2).position("1", overlap=True)


def test_a_valve_near_its_ramp_is_warned_of():
    notes = plan(engine(range(1, 17), timing=timing(30, 40, 50, 40))).notes
    assert notes == (
        "Checked against the valve timing. Nearest to moving is exhaust 8, 5° away, with cylinder "
        "1 at firing TDC.",
        "That is less than 20°: make sure that it is off the ramp of its cam before it is set.",
    )


def test_banks_without_intervals_are_warned_of():
    banks = [
        {"name": "left", "cylinders": ["A1", "A2"]},
        {"name": "right", "cylinders": ["B1", "B2"]},
    ]
    made = plan(Engine(**facts("A1-B1-A2-B2", banks=banks)))
    assert "taken to fire every 180°. V engines may not." in made.notes[0]
    assert made.steps[0].sets == "intake A1 B2; exhaust A1 B1"


@pytest.mark.parametrize(
    ("angle", "words"),
    [
        (Fraction(720, 7), "102.9°"),
        (Fraction(120), "120°"),
        (Fraction(1, 3), "0.3°"),
        (Fraction(-45, 2), "-22.5°"),
    ],
)
def test_angles_are_said_to_a_tenth_of_a_degree(angle, words):
    assert degrees_words(angle) == words
