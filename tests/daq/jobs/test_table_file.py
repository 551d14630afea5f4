"""A maker's table as a file gives it: taken, checked, and refused at the line of each slip."""

import pytest
from pydantic import ValidationError

from daq.jobs import EngineError, Method, engine_from_toml, plan
from tests.daq.jobs.engines import V6, changed, engine, every_item_once, problems_of


def test_the_makers_table_of_an_uneven_engine_is_taken_and_checked():
    made = plan(engine_from_toml(V6, "v6.toml"))
    assert made.method is Method.TABLE
    assert [step.words for step in made.steps] == [
        "bar in running direction to cylinder 4 at firing TDC",
        "bar on 330° in running direction: cylinder 1 at firing TDC",
    ]  # 390° from cylinder 1 to cylinder 4, but only 330° from 4 on to 1
    assert [step.sets for step in made.steps] == [
        "intake 4 5 6; exhaust 2 3 4",
        "intake 1 2 3; exhaust 1 5 6",
    ]
    assert made.notes == (
        "The positions are the engine maker's, from: invented sheet 7, revision 2.",
        # By hand: cylinder 6 has 240 with 4 at firing TDC; its intake opens at 345.
        "Checked against the valve timing. Nearest to moving is intake 6, 105° away, with cylinder "
        "4 at firing TDC.",
    )


WRONG_TABLES = [
    ('exhaust = "2 3 4"', 'exhaust = "2 3"', "20: engine.valve_table: exhaust 4 is missing;", 1),
    (
        'intake = "4 5 6"',
        'intake = "4 5 6 1"',
        "27: engine.valve_table.2.intake: intake 1 is set in row 1 already;",
        2,  # it is open there, too
    ),
    (
        'exhaust = "1 5 6"',
        'exhaust = "1 5 6 5"',
        "23: engine.valve_table.1.exhaust: exhaust 5 is set in row 1 already;",
        1,
    ),
    (
        'exhaust = "1 5 6"',
        'exhaust = "1 5 6 7"',
        "23: engine.valve_table.1.exhaust: exhaust 7: there is no cylinder 7; known: 1 2 3 4 5 6",
        1,
    ),
    (
        'exhaust = "1 5 6"',
        'exhaust = "1 5 6 1.2"',
        "23: engine.valve_table.1.exhaust: exhaust 1.2: a cylinder has only 1 exhaust valve(s)",
        1,
    ),
    (
        "cylinder = 4",
        "cylinder = 8",
        "26: engine.valve_table.2.cylinder: there is no cylinder 8;",
        1,
    ),
    (
        "cylinder = 4",
        "cylinder = 1",
        "26: engine.valve_table.2.cylinder: cylinder 1 at firing TDC is the position of row 1 too;",
        5,  # by hand: intake 5 (480), 6 (570), exhaust 3 (240), 4 (330) are open there
    ),
    (
        'intake = "4 5 6"\nexhaust = "2 3 4"\n',
        "",
        "25: engine.valve_table.2: nothing is set at this position;",
        7,  # six valves are missing
    ),
]


@pytest.mark.parametrize(("old", "new", "said", "count"), WRONG_TABLES)
def test_a_slip_in_the_makers_table_is_named_at_its_line(old, new, said, count):
    problems = problems_of(changed(old, new))
    assert len([problem for problem in problems if problem.startswith(f"v6.toml:{said}")]) == 1
    assert len(problems) == count


def test_a_valve_that_is_open_at_its_position_is_named_with_where_it_is():
    """By hand: with 1 at firing TDC, cylinder 6 is at 570; the intake closes at 580 only."""
    text = changed('intake = "1 2 3"', 'intake = "1 2 3 6"').replace('"4 5 6"', '"4 5"')
    assert problems_of(text) == [
        "v6.toml:22: engine.valve_table.1.intake: intake 6 is open with cylinder 1 at firing TDC: "
        "cylinder 6 is then 570° past its firing TDC, and its intake is open from 345° to 580°; "
        "check the row, the firing order and the timing"
    ]


def test_without_a_timing_a_valve_in_the_middle_of_its_stroke_is_still_found():
    """By hand: with 1 at firing TDC, cylinder 3 is at 240, in the middle of its exhaust stroke."""
    start, end = V6.index("[engine.timing]"), V6.index("[[engine.valve_table]]")
    bare = V6[:start] + V6[end:]
    assert plan(engine_from_toml(bare, "v6.toml")).notes[1] == (
        "No valve timing is known: only the middle of each valve's stroke was checked."
    )
    (problem,) = problems_of(bare.replace('"1 5 6"', '"1 3 5 6"').replace('"2 3 4"', '"2 4"'))
    assert problem.startswith("v6.toml:17: engine.valve_table.1.exhaust: exhaust 3 is open with")
    assert "open from 200° to 330° whatever the timing" in problem


def test_the_plan_checks_the_table_again():
    read = engine_from_toml(V6, "v6.toml")
    spoilt = read.model_copy(update={"valve_table": read.valve_table[:1]})
    with pytest.raises(EngineError) as refusal:
        plan(spoilt)
    assert len(refusal.value.problems) == 6
    assert refusal.value.problems[0].startswith("valve_table: intake 4 is missing")


def test_an_uneven_engine_without_a_table_gets_no_plan_for_its_valves():
    bare = engine("1-6-5-4-3-2", intervals=[150, 90, 150, 90, 150, 90])
    for method in (None, Method.HALF_RULE):
        with pytest.raises(EngineError, match=r"fires unevenly.*maker's valve table"):
            plan(bare, method=method)
    own = plan(bare, method=Method.OWN_TDC)
    assert every_item_once(own, bare.items("intake", "exhaust"))
    injectors = plan(bare, ["injector"])
    assert [step.bar_deg for step in injectors.steps] == [None, 90, 150, 90, 150, 90]
    assert injectors.total_deg == 570
    assert injectors.steps[0].position.words == "cylinder 6 at firing TDC"


def test_an_uneven_engine_with_a_timing_but_no_table_is_refused_too():
    start = V6.index("[[engine.valve_table]]")
    bare = engine_from_toml(V6[:start], "v6.toml")
    for method in (None, Method.TIMING):
        with pytest.raises(EngineError, match="maker's valve table"):
            plan(bare, method=method)


def test_injectors_are_where_the_table_has_them():
    text = changed('exhaust = "1 5 6"', 'exhaust = "1 5 6"\ninjector = "4 5 6"')
    text = text.replace('exhaust = "2 3 4"', 'exhaust = "2 3 4"\ninjector = "1 2 3"')
    made = plan(engine_from_toml(text, "v6.toml"), ["intake", "exhaust", "injector"])
    assert len(made.steps) == 2
    assert made.steps[1].sets == "intake 1 2 3; exhaust 1 5 6; injector 4 5 6"


def test_a_table_of_injectors_alone_says_nothing_of_valves():
    rows = [{"cylinder": 1, "injector": "1 2"}, {"cylinder": 4, "injector": "3 4"}]
    made_for = engine("1-3-4-2", valve_table=rows)
    assert plan(made_for).method is Method.HALF_RULE
    both = plan(made_for, ["intake", "exhaust", "injector"])
    assert both.method is Method.HALF_RULE
    assert every_item_once(both, made_for.items("intake", "exhaust", "injector"))
    with pytest.raises(EngineError, match="No valve table is given for: exhaust, intake"):
        plan(made_for, method=Method.TABLE)


def test_a_table_may_name_one_of_several_valves_and_any_position():
    """Two exhaust valves; by hand, cylinder 1 at overlap TDC is cylinder 2 at firing TDC."""
    rows = [
        {"cylinder": 1, "intake": "1", "exhaust": "1.1"},
        {"cylinder": 1, "degrees_after": 20.5, "exhaust": "1.2"},
        {"cylinder": 1, "dead_centre": "overlap", "intake": "2", "exhaust": "2"},
    ]
    made = plan(engine("1-2", exhaust_valves=2, valve_table=rows))
    assert [(step.words, step.sets) for step in made.steps] == [
        ("bar in running direction to cylinder 1 at firing TDC", "intake 1; exhaust 1.1"),
        ("bar on 20.5° in running direction: cylinder 1 20.5° after firing TDC", "exhaust 1.2"),
        ("bar on 339.5° in running direction: cylinder 1 at overlap TDC", "intake 2; exhaust 2"),
    ]


def test_a_two_stroke_has_no_overlap_in_its_table():
    rows = [{"cylinder": 1, "dead_centre": "overlap", "exhaust": "1 2"}]
    with pytest.raises(ValidationError, match=r"valve_table\.1\.dead_centre: a two-stroke fires"):
        engine("1-2", stroke="two", intake_valves=0, valve_table=rows)
