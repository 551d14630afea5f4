"""The drawing of the engine: what the sheet says, told without colour, safe to show."""

import re
from xml.etree import ElementTree

import pytest

from daq.page.engine_drawing import svg_of
from daq.page.job_cylinders import Cylinder, phase_words
from tests.daq.jobs.engines import engine, two_stroke

SVG = "{http://www.w3.org/2000/svg}"
VEE = engine(
    "A1-B4-A3-B2-A4-B1-A2-B3",
    banks=[
        {"name": "left", "cylinders": "A1-A2-A3-A4"},
        {"name": "right", "cylinders": "B1-B2-B3-B4"},
    ],
    first_at="free end",
)
STATES = ("to do", "now", "in", "out", "skipped", "stands")


def drawn(motor, states=None):
    return ElementTree.fromstring(svg_of(motor, states or {}))


def texts(root):
    return [each.text for each in root.iter(f"{SVG}text")]


def places(root):
    """By what is written in it, the middle of each bore."""
    found = {}
    for group in root.iter(f"{SVG}g"):
        bore = group.find(f"{SVG}circle")
        (name,) = [t.text for t in group.iter(f"{SVG}text") if t.get("class") == "name"]
        found[name] = float(bore.get("cx")), float(bore.get("cy"))
    return found


def test_cylinders_stand_in_the_order_of_the_sheet():
    at = places(drawn(engine("1-5-3-6-2-4")))
    assert list(at) == list("123456")
    assert [x for x, _ in at.values()] == sorted(x for x, _ in at.values())
    assert len({y for _, y in at.values()}) == 1


def test_each_bank_has_its_row_and_its_name():
    root = drawn(VEE)
    at = places(root)
    assert [at[f"A{n}"][0] for n in range(1, 5)] == [at[f"B{n}"][0] for n in range(1, 5)]
    assert at["A1"][1] < at["B1"][1]
    assert {"bank left", "bank right"} <= set(texts(root))


@pytest.mark.parametrize(("first_at", "is_left"), [("flywheel end", True), ("free end", False)])
def test_the_flywheel_is_at_the_end_that_the_sheet_says(first_at, is_left):
    root = drawn(engine("1-5-3-6-2-4", first_at=first_at))
    (wheel,) = [each for each in root.iter(f"{SVG}rect") if each.get("class") == "flywheel"]
    x = float(wheel.get("x"))
    assert (x < min(places(root).values())[0]) is is_left
    _, _, wide, _ = map(float, root.get("viewBox").split())
    assert 20 < x < wide - 46  # it and its words are in the picture
    assert "flywheel end" in texts(root)


def test_a_sheet_that_does_not_say_where_the_flywheel_is_gets_none():
    root = drawn(engine("1-3-4-2"))
    assert not [each for each in root.iter(f"{SVG}rect") if each.get("class") == "flywheel"]
    assert "The sheet does not say at which end the flywheel is." in texts(root)


def test_every_state_has_a_word_and_a_form_of_its_own():
    motor = engine("1-2-3-4-5-6")
    states = {n: Cylinder(state=s, of=1) for n, s in zip(motor.names, STATES, strict=True)}
    root = drawn(motor, states)
    forms = []
    for group, state in zip(root.iter(f"{SVG}g"), STATES, strict=True):
        assert state in [each.text for each in group.iter(f"{SVG}text")]
        bore = group.find(f"{SVG}circle")
        mark = [each.get("d") for each in group.iter(f"{SVG}path")]
        forms.append((bore.get("stroke-width"), bore.get("stroke-dasharray"), *mark[:1]))
    assert len(set(forms)) == len(STATES)


def test_the_description_says_in_words_what_is_drawn():
    states = {
        "1": Cylinder(state="now", done=1, of=2, crank="firing TDC", phase_deg=0.0),
        "2": Cylinder(state="in", done=1, of=1, crank="240° past firing", phase_deg=240.0),
    }
    root = drawn(engine("1-3-2"), states)
    said = root.find(f"{SVG}desc").text
    assert "Cylinder 1: now, 1 of 2, firing TDC." in said
    assert "Cylinder 2: in, 240° past firing." in said
    assert "Cylinder 3: nothing to do here." in said
    assert "It fires 1-3-2 and turns anticlockwise, seen from the flywheel end." in said
    assert root.get("aria-labelledby").split() == [
        root.find(f"{SVG}title").get("id"), root.find(f"{SVG}desc").get("id"),
    ]  # fmt: skip


def test_a_piston_is_up_at_its_dead_centres_and_down_half_a_turn_on():
    motor = engine("1-2-3")
    phases = {"1": 0.0, "2": 360.0, "3": 180.0}
    root = drawn(motor, {n: Cylinder(phase_deg=deg, crank="x") for n, deg in phases.items()})
    pistons = [each for each in root.iter(f"{SVG}rect") if each.get("class") == "piston"]
    up, also_up, down = (float(each.get("y")) for each in pistons)
    assert up == also_up
    assert down - up == pytest.approx(84)


def test_words_for_where_a_cylinder_is_in_its_cycle():
    four, two = engine("1-2"), two_stroke(2)
    assert phase_words(0, four) == "firing TDC"
    assert phase_words(360, four) == "overlap TDC"
    assert phase_words(120, four) == "120° past firing"
    assert phase_words(0, two) == "TDC"
    assert phase_words(120, two) == "120° past TDC"


def test_a_name_from_the_sheet_cannot_become_markup():
    nasty = engine(
        "1-2",
        banks=[
            {"name": "<script>alert(1)</script>", "cylinders": "1"},
            {"name": '"/><x', "cylinders": "2"},
        ],
    )
    root = drawn(nasty)
    assert not list(root.iter(f"{SVG}script"))
    assert "bank <script>alert(1)</script>" in texts(root)


@pytest.mark.parametrize("count", [1, 2, 3, 24])
def test_nothing_is_drawn_outside_the_picture(count):
    order = [str(number) for number in range(1, count + 1)]
    motor = engine("-".join(order), first_at="free end")
    states = {n: Cylinder(state="skipped", of=2, crank="firing TDC", phase_deg=0) for n in order}
    root = drawn(motor, states)
    _, _, wide, high = map(float, root.get("viewBox").split())
    for name, (x, y) in places(root).items():
        assert 50 < x < wide - 50, name
        assert 50 < y < high - 50, name
    for each in root.iter(f"{SVG}text"):
        room = len(each.text or "") * float(each.get("font-size")) * 0.6
        if each.get("text-anchor") == "middle" and not each.get("transform"):
            assert room / 2 <= float(each.get("x")) <= wide - room / 2, each.text


def test_the_drawing_needs_nothing_from_elsewhere():
    text = svg_of(VEE, {})
    assert not re.search(r"href|style|url\(|@import", text)
    assert text.count("http") == 1
