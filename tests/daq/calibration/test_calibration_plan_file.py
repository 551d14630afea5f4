"""A plan file: read whole, or refused with every mistake at its line."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from daq.calibration.errors import CalibrationError, PlanError
from daq.calibration.plan_file import plan_from_bytes
from tests.daq.calibration.invented import PLAN
from tests.daq.calibration.planted import VALUES, Mistake, with_mistakes

POINTS = 'points = ["0 mm", "2.5 mm", "5 mm", "7.5 mm", "10 mm"]'

MISTAKES = [
    Mistake('revision = "A"', 'revision = ""', "plan.revision: must not be empty"),
    Mistake(
        "wait = 20",
        'wait = "20 s"',
        'plan.wait: "20 s" will not do here; write a whole number',
    ),
    Mistake(
        'preload = "0.2 mm"',
        'pre_load = "0.2 mm"',
        'plan.pre_load: unknown name; did you mean "preload"?',
    ),
    Mistake(
        POINTS,
        'points = ["0 mm", "2.5 mm", "5 mm", "4 mm", "10 mm"]',
        "plan.points.4: 4 mm comes after 5 mm, which would reverse; write them ascending",
        alone=True,
    ),
    Mistake(
        POINTS,
        'points = ["0 mm", "5 mm", "5.0 mm", "10 mm"]',
        "plan.points.3: 5 mm stands twice; take one out",
        alone=True,
    ),
    Mistake(
        POINTS,
        'points = ["0 mm", "5 mm", "7.5 mm", "12 mm"]',
        "plan.points.4: 12 mm is beyond the range of 10 mm; check both",
        alone=True,
    ),
    Mistake(
        POINTS,
        'points = ["1 mm", "5 mm", "7.5 mm", "10 mm"]',
        'plan.points.1: the first point is the zero, not 1 mm; put "0 mm" before it',
        alone=True,
    ),
    Mistake(
        POINTS,
        'points = ["0 mm", "5 mm", "7.5 mm", "8.9 mm"]',
        "plan.points: they end at 8.9 mm of 10 mm; add points up to the end of the range",
        alone=True,
    ),
    Mistake(
        "wait = 20",
        'approach = "lifted"',
        "plan.approach: a lifted plunger comes from the same side on the way up and down; add "
        'directions = "up", or write approach = "without reversing"',
        alone=True,
    ),
    Mistake(
        "wait = 20",
        "coldest = 22\nwarmest = 21",
        "plan.coldest: 22 °C is not below the warmest, 21 °C; check both",
        at="coldest = 22",
        alone=True,
    ),
    Mistake(
        "wait = 20",
        "warmest = 19.5",
        "plan.coldest: lengths are stated at 20 °C, which is not from 19 to 19.5; check both",
        at="[plan]",
        alone=True,
    ),
    Mistake(
        '"2.5 mm", "2.7 mm", "3 mm"',
        '"2.5 mm", "2.7 mm", "3.1 mm"',
        "partial.points: they lie 0.6 mm apart from first to last, and the piece is 0.5 mm long; "
        "bring them together, or write a longer one",
    ),
    Mistake(
        'over = "0.5 mm"',
        'over = "10 mm"',
        "partial.over: 10 mm is no part of a range of 10 mm; write a shorter one",
        alone=True,
    ),
    Mistake(
        'at = "5 mm"',
        'at = "5.2 mm"',
        "repeats.1.at: 5.2 mm is none of the points; the nearest is 5 mm",
        alone=True,
    ),
    Mistake(
        'at = "7.5 mm"\ndirection = "down"\ntimes = 2',
        'at = "5 mm"\ndirection = "up"\ntimes = 3 # again',
        "repeats.2: the same stands twice; write more times instead",
        at='[[repeats]]\nat = "5 mm"\ndirection = "up"\ntimes = 3\n\n[[repeats]]',
        alone=True,
    ),
    Mistake("times = 2", "times = 1", "repeats.2.times: 1 must be at least 2"),
    Mistake(
        "wait = 20",
        'directions = "up"',
        'repeats.2.direction: the plan goes up only; write "up", or directions = "up and down" in '
        "[plan]",
        at='direction = "down"',
        alone=True,
    ),
]


def problems_of(text):
    try:
        plan_from_bytes(text.encode(), "p.toml")
    except PlanError as error:
        return list(error.problems)
    return []


def test_a_sound_plan_is_sound():
    assert problems_of(PLAN) == []


@pytest.mark.parametrize("mistake", MISTAKES, ids=lambda mistake: mistake.told[:45])
def test_a_mistake_alone_is_told_once_at_its_line_with_what_would_be_right(mistake):
    text = with_mistakes(PLAN, [mistake])
    wanted = f"p.toml:{mistake.line_in(text)}: {mistake.told}"
    told = problems_of(text)
    assert wanted in told
    follows = [each for each in told if each != wanted]
    assert all("is none of the points" in each for each in follows)


def test_mistakes_all_in_one_file_are_told_at_once_in_the_order_of_the_lines():
    together = [each for each in MISTAKES if not each.alone]
    text = with_mistakes(PLAN, together)
    told = problems_of(text)
    assert told == [f"p.toml:{each.line_in(text)}: {each.told}" for each in sorted(
        together, key=lambda each: each.line_in(text)
    )]  # fmt: skip
    assert len(told) == 5


def test_a_file_without_a_plan_is_told_what_it_needs():
    assert problems_of("") == ["p.toml:1: plan: is missing; add the table [plan]"]


@settings(deadline=None, max_examples=50)
@given(st.text())
def test_no_text_at_all_breaks_it(text):
    last = len(text.split("\n"))
    told = problems_of(text)
    assert told
    assert all(1 <= int(problem.split(":")[1]) <= last for problem in told)


@settings(deadline=None, max_examples=50)
@given(st.binary(max_size=200))
def test_no_bytes_at_all_break_it(raw):
    with pytest.raises(CalibrationError):
        plan_from_bytes(raw, "p.toml")


@settings(deadline=None, max_examples=80)
@given(st.data())
def test_no_value_in_the_wrong_place_breaks_it(data):
    lines = PLAN.split("\n")
    settable = [number for number, line in enumerate(lines) if " = " in line]
    for number in data.draw(st.lists(st.sampled_from(settable), min_size=1, max_size=4)):
        key = lines[number].partition(" = ")[0]
        lines[number] = f"{key} = {data.draw(st.sampled_from(VALUES))}"
    for problem in problems_of("\n".join(lines)):
        assert 1 <= int(problem.split(":")[1]) <= len(lines)
