"""Engine files: read whole, or refused with every mistake at its line."""

from fractions import Fraction

import pytest
from pydantic import ValidationError

from daq.jobs import Engine, EngineError, Item, engine_from_toml, load_engine
from tests.daq.jobs.engines import V6, changed, engine, facts, problems_of


def test_a_good_file_is_read():
    read = engine_from_toml(V6, "v6.toml")
    assert read.names == ("1", "2", "3", "4", "5", "6")
    assert not read.fires_evenly
    # By hand: the intervals added up along the firing order.
    assert dict(read.phases.firing_deg) == {
        "1": 0, "6": 150, "5": 240, "4": 390, "3": 480, "2": 630
    }  # fmt: skip
    assert Engine.model_validate(read.model_dump()) == read


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
        'evc = "15 after TDC"\n',
        "",
        '14: engine.timing.evc: is missing; add evc = "15 after TDC"',
    ),
    (
        'exhaust = "2 3 4"',
        "exhaust = [2, 3, 4.1]",
        "28: engine.valve_table.2.exhaust: '4.1' is no cylinder; write cylinders in quotes: "
        '"1 2 4"',
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


def test_items_come_in_the_order_of_kinds_and_cylinders_however_asked():
    made_for = engine("1-2", exhaust_valves=2)
    assert [str(item) for item in made_for.items("exhaust", "intake")] == [
        "intake 1", "intake 2", "exhaust 1.1", "exhaust 1.2", "exhaust 2.1", "exhaust 2.2"
    ]  # fmt: skip


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
        ({"evo": "85 before BDC", "evc": "40 before TDC"}, "open near TDC"),
        ({"ivo": "15 before TDC"}, "timing.ivo: this engine has no intake valves"),
    ],
)
def test_a_two_strokes_timing_is_checked(timing, said):
    with pytest.raises(ValidationError, match=said):
        engine("1-2-3", stroke="two", intake_valves=0, timing=timing)


def test_a_file_is_read_from_disk_and_what_cannot_be_read_is_named(tmp_path):
    path = tmp_path / "v6.toml"
    path.write_bytes(b"\xef\xbb\xbf" + V6.encode())
    assert load_engine(path) == engine_from_toml(V6, "v6.toml")
    path.write_bytes(V6.encode("utf-16"))
    with pytest.raises(EngineError, match=r"v6\.toml:1: it is not UTF-8 text"):
        load_engine(path)
    path.write_bytes(b"#" * 100_001)
    with pytest.raises(EngineError, match="far too large"):
        load_engine(path)
    with pytest.raises(EngineError, match="cannot be read"):
        load_engine(tmp_path / "none.toml")
