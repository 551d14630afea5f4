"""Engine files: read whole, or refused with every mistake at its line."""

from fractions import Fraction

import pytest
from pydantic import ValidationError

from daq.jobs import Engine, EngineError, Item, Method, engine_from_toml, load_engine, plan
from tests.daq.jobs.engines import engine, every_item_once, facts

GOOD = """\
# an invented V6 that fires unevenly
[engine]
source = "invented sheet 7, revision 2"
stroke = "four"
cylinders = 6
firing_order = "1-6-5-4-3-2"
intervals = [150, 90, 150, 90, 150, 90]
rotation = "clockwise"
seen_from = "free end"
intake_valves = 1
exhaust_valves = 1
injectors = 1

[engine.timing]
ivo = "15 before TDC"
ivc = "40 after BDC"
evo = "50 before BDC"
evc = "15 after TDC"

[[engine.valve_table]]
cylinder = 1
intake = "1 2 3"
exhaust = "1 5 6"

[[engine.valve_table]]
cylinder = 4
intake = "4 5 6"
exhaust = "2 3 4"
"""


def problems_of(text):
    with pytest.raises(EngineError) as refusal:
        engine_from_toml(text, "v6.toml")
    return list(refusal.value.problems)


def changed(old, new):
    assert GOOD.count(old) == 1, old
    return GOOD.replace(old, new)


def test_a_good_file_is_read():
    read = engine_from_toml(GOOD, "v6.toml")
    assert read.names == ("1", "2", "3", "4", "5", "6")
    assert not read.fires_evenly
    # By hand: the intervals added up along the firing order.
    assert dict(read.phases.firing_deg) == {
        "1": 0, "6": 150, "5": 240, "4": 390, "3": 480, "2": 630
    }  # fmt: skip
    assert Engine.model_validate(read.model_dump()) == read


def test_the_makers_table_of_an_uneven_engine_is_taken_and_checked():
    made = plan(engine_from_toml(GOOD, "v6.toml"))
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
    start, end = GOOD.index("[engine.timing]"), GOOD.index("[[engine.valve_table]]")
    bare = GOOD[:start] + GOOD[end:]
    assert plan(engine_from_toml(bare, "v6.toml")).notes[1] == (
        "No valve timing is known: only the middle of each valve's stroke was checked."
    )
    (problem,) = problems_of(bare.replace('"1 5 6"', '"1 3 5 6"').replace('"2 3 4"', '"2 4"'))
    assert problem.startswith("v6.toml:17: engine.valve_table.1.exhaust: exhaust 3 is open with")
    assert "open from 200° to 330° whatever the timing" in problem


def test_the_plan_checks_the_table_again():
    read = engine_from_toml(GOOD, "v6.toml")
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
    start = GOOD.index("[[engine.valve_table]]")
    bare = engine_from_toml(GOOD[:start], "v6.toml")
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


MISTAKES = [
    (
        'firing_order = "1-6-5-4-3-2"',
        'firing_order = "1-6-5-4-3-3"',
        "6: engine.firing_order: 1-6-5-4-3-3 does not fire each cylinder once: 3 stands twice, "
        "2 is missing",
    ),
    (
        'firing_order = "1-6-5-4-3-2"',
        'firing_order = "1-6-5-4-3-9"',
        "6: engine.firing_order: 1-6-5-4-3-9 does not fire each cylinder once: 2 is missing, "
        "there is no cylinder 9",
    ),
    (
        "[150, 90, 150, 90, 150, 90]",
        "[150, 90, 150, 90, 150, 80]",
        "7: engine.intervals: they sum to 710°; a four-stroke engine needs 720°",
    ),
    (
        "[150, 90, 150, 90, 150, 90]",
        "[150, 90, 150, 90, 240]",
        "7: engine.intervals: there are 5 for 6 cylinders; write one from each firing to the next, "
        "the last one back to the first",
    ),
    (
        "[150, 90, 150, 90, 150, 90]",
        "[150, 90, 150, 90, 240, 0]",
        "7: engine.intervals.6: 0 must be above 0",
    ),
    (
        "[150, 90, 150, 90, 150, 90]",
        "[150, 90, 150, 90, 150, true]",
        "7: engine.intervals.6: write degrees as a number, such as 120 or 57.5",
    ),
    (
        "[150, 90, 150, 90, 150, 90]",
        "[150, 90, 150, 90, 150, nan]",
        "7: engine.intervals.6: nan is no angle; write degrees as a number, such as 120",
    ),
    (
        'stroke = "four"',
        'stroke = "4"',
        '4: engine.stroke: "4" is not one of "four" or "two"',
    ),
    (
        'rotation = "clockwise"',
        'rotation = "right"',
        '8: engine.rotation: "right" is not one of "clockwise" or "anticlockwise"',
    ),
    (
        "intake_valves = 1\n",
        "",
        "2: engine.intake_valves: is missing; add intake_valves = a whole number",
    ),
    (
        "intake_valves = 1\n",
        "intake_valves = 0\n",
        "10: engine.intake_valves: a four-stroke cylinder has at least 1",
    ),
    ("rotation =", "rotatoin =", '8: engine.rotatoin: unknown name; did you mean "rotation"?'),
    (
        'ivo = "15 before TDC"',
        "ivo = 15",
        '15: engine.timing.ivo: 15 has no dead centre; write it in quotes: "15 before TDC"',
    ),
    (
        'ivo = "15 before TDC"',
        'ivo = "15 before"',
        '15: engine.timing.ivo: "15 before" is no time of a valve; write it as "15 before TDC"',
    ),
    (
        'ivo = "15 before TDC"',
        'ivo = "15 before BDC"',
        '15: engine.timing.ivo: "15 before BDC": a four-stroke counts it from TDC; '
        'write it as "15 before TDC"',
    ),
    (
        'evo = "50 before BDC"\n',
        "",
        '14: engine.timing.evo: is missing; add evo = "50 before BDC"',
    ),
    (
        'evo = "50 before BDC"',
        'evo = "150 before BDC"',
        '17: engine.timing.evo: "150 before BDC" is more than 120° from its dead centre; '
        'write "50 before BDC"',
    ),
    (
        'source = "invented sheet 7, revision 2"',
        'source = ""',
        "3: engine.source: must not be empty",
    ),
]


@pytest.mark.parametrize(("old", "new", "said"), MISTAKES)
def test_a_mistake_is_named_at_its_line_with_what_would_be_right(old, new, said):
    assert f"v6.toml:{said}" in problems_of(changed(old, new))


def test_mistakes_in_different_places_are_told_at_once():
    text = changed('"1-6-5-4-3-2"', '"1-6-5-4-3-3"').replace("150, 90]", "150, 91]")
    text = text.replace('"1 2 3"', '"1 2 3 8"').replace('"2 3 4"', '"2 3 4 1"')
    assert [int(problem.split(":")[1]) for problem in problems_of(text)] == [6, 7, 22, 28]


def test_intervals_of_a_two_stroke_sum_to_one_turn():
    two = {"stroke": "two", "intake_valves": 0}
    with pytest.raises(ValidationError, match="sum to 720°; a two-stroke engine needs 360°"):
        engine("1-2-3", intervals=[200, 200, 320], **two)
    assert engine("1-2-3", intervals=[100, 100, 160], **two).phases.firing_deg["3"] == 200


def test_intervals_with_decimals_may_be_rounded_and_whole_degrees_may_not():
    sevenths = engine(range(1, 8), intervals=[102.9] * 7)
    assert sevenths.fires_evenly
    assert sevenths.phases.firing_deg["2"] == Fraction(720, 7)
    v14 = engine(range(1, 15), intervals=[45, 57.9] * 7)
    assert v14.phases.firing_deg["3"] == Fraction(720, 7)
    with pytest.raises(ValidationError, match="sum to 721°"):
        engine(range(1, 8), intervals=[103] * 7)


BANKS = [{"name": "left", "cylinders": "A1-A2"}, {"name": "right", "cylinders": "B1-B2"}]


def test_cylinders_are_called_as_the_banks_call_them():
    named = engine("A1-B2-A2-B1", banks=BANKS)
    assert named.names == ("A1", "A2", "B1", "B2")
    assert named.items("injector")[2] == Item("injector", "B1")


@pytest.mark.parametrize(
    ("different", "said"),
    [
        ({"cylinders": 6}, "cylinders: it says 6, but the banks have 4"),
        (
            {"banks": [BANKS[0], {"name": "right", "cylinders": "B1-A2"}]},
            "banks.1.cylinders: cylinder A2 stands twice",
        ),
        (
            {"banks": [BANKS[0], {"name": "left", "cylinders": "B1-B2"}]},
            'banks.2.name: "left" is the name of another bank too',
        ),
        ({"firing_order": "1-3-4-2"}, "there is no cylinder 1"),
    ],
)
def test_banks_must_agree_with_the_rest(different, said):
    with pytest.raises(ValidationError) as refusal:
        Engine(**{**facts("A1-B2-A2-B1", banks=BANKS), **different})
    assert said in str(refusal.value)


@pytest.mark.parametrize(
    "written", ["15 before TDC", "15° before TDC", "15 BTDC", "15 deg before TDC", "15btdc"]
)
def test_a_timing_is_taken_as_the_trade_writes_it(written):
    read = engine_from_toml(changed('"15 before TDC"', f'"{written}"'), "v6.toml")
    assert read.timing.ivo == "15 before TDC"


@pytest.mark.parametrize(
    ("timing", "said"),
    [
        ({"evo": "85 before BDC"}, "timing.evc: is missing"),
        ({"evo": "60 after BDC", "evc": "85 before BDC"}, "open for less than 60°"),
        ({"evo": "40 after TDC", "evc": "60 after BDC"}, "open near TDC"),
        ({"ivo": "15 before TDC"}, "timing.ivo: this engine has no intake valves"),
    ],
)
def test_a_two_strokes_timing_is_checked(timing, said):
    with pytest.raises(ValidationError, match=said):
        engine("1-2-3", stroke="two", intake_valves=0, timing=timing)


def test_a_file_is_read_from_disk_and_what_cannot_be_read_is_named(tmp_path):
    path = tmp_path / "v6.toml"
    path.write_bytes(b"\xef\xbb\xbf" + GOOD.encode())
    assert load_engine(path) == engine_from_toml(GOOD, "v6.toml")
    path.write_bytes(GOOD.encode("utf-16"))
    with pytest.raises(EngineError, match=r"v6\.toml:1: it is not UTF-8 text"):
        load_engine(path)
    path.write_bytes(b"#" * 100_001)
    with pytest.raises(EngineError, match="far too large"):
        load_engine(path)
    with pytest.raises(EngineError, match="cannot be read"):
        load_engine(tmp_path / "none.toml")
