"""The page on the crank plan says what the program does: all of it is worked out again."""

import re
from fractions import Fraction
from pathlib import Path

import pytest

from daq.jobs import (
    CAUTIONS,
    KINDS,
    VALVES,
    Arc,
    Item,
    Method,
    ValveTiming,
    engine_from_toml,
    plan,
)
from daq.jobs.timing import MIDDLE
from daq.jobs.ways import MOST_WITHOUT_TIMING
from tests.daq.jobs.engines import engine, timing

PAGE = (Path(__file__).parents[3] / "docs" / "crank.md").read_text(encoding="utf-8")
FLOWING = " ".join(PAGE.split())
ENGINE, ROW = re.findall(r"```toml\n(.*?)```", PAGE, re.DOTALL)


def tables(first_heading):
    """The rows of each of the page's tables that begin with this heading, as lists of cells."""
    found = []
    for block in re.findall(r"(?:^\|.*\n)+", PAGE, re.MULTILINE):
        rows = [[cell.strip() for cell in row.strip("|").split("|")] for row in block.splitlines()]
        if rows[0][0] == first_heading:
            found.append(rows[2:])
    return found


(ARCS,) = tables("valve")
(ORDERS,) = tables("firing order")
(LIMITS,) = tables("cylinders")
STEPS = tables("bar")


@pytest.fixture
def six():
    return engine_from_toml(ENGINE, "page.toml")


def test_the_page_has_its_tables():
    assert [len(rows) for rows in (ARCS, ORDERS, LIMITS, *STEPS)] == [3, 5, 6, 2, 6]


def test_the_makers_table_on_the_page_is_read():
    other = ROW.replace("cylinder = 1", "cylinder = 6").replace("1 2 4", "3 5 6")
    whole = ENGINE + ROW + other.replace("1 3 5", "2 4 6")
    made = plan(engine_from_toml(whole, "page.toml"))
    assert made.method is Method.TABLE
    assert [[step.words, step.sets] for step in made.steps] == STEPS[0]


@pytest.mark.parametrize("row", ARCS, ids=lambda row: row[0])
def test_an_arc_is_as_the_page_says(row):
    kind, stroke = row[0].removesuffix("-stroke").split(", ")
    events = {"ivo": 7, "ivc": 11, "evo": 13, "evc": 17}
    late = "after TDC" if stroke == "four" else "after BDC"
    known = ValveTiming(
        ivo="7 before TDC", ivc="11 after BDC", evo="13 before BDC", evc=f"17 {late}"
    )

    def worked(cell):
        base, sign, event = cell.split()
        return Fraction(int(base) + (events[event] if sign == "+" else -events[event]))

    assert known.arc(kind, stroke) == Arc(worked(row[1]), worked(row[2]))


@pytest.mark.parametrize("row", ORDERS, ids=lambda row: row[0])
def test_an_order_on_the_page_is_set_as_it_says(row):
    order, intake, exhaust, companion, then_intake, then_exhaust, _ = row
    first, second = plan(engine(order)).steps
    assert first.sets == f"intake {intake}; exhaust {exhaust}"
    assert second.sets == f"intake {then_intake}; exhaust {then_exhaust}"
    assert second.position.words == f"cylinder {companion} at firing TDC"


@pytest.mark.parametrize("row", LIMITS, ids=lambda row: row[0])
def test_the_rule_fails_where_the_page_says(row):
    cylinders, interval = int(row[0]), int(row[1].removesuffix("°"))
    assert interval * cylinders == 720
    order = range(1, cylinders + 1)
    if row[2] == "never in practice":
        assert plan(engine(order, timing=timing(100, 40, 50, 100))).method is Method.HALF_RULE
        return
    assert row[2] == f"ivo or evc of {interval}°"
    for ivo, evc, method in (
        (interval - 1, interval - 1, Method.HALF_RULE),
        (interval, 10, Method.TIMING),
        (10, interval, Method.TIMING),
    ):
        assert plan(engine(order, timing=timing(ivo, 40, 50, evc))).method is method


def test_the_uneven_engines_of_the_page_are_as_it_says():
    v8 = engine("1-8-4-3-6-5-7-2", intervals=[30, 150] * 4, timing=timing(40, 40, 50, 15))
    at = v8.position("1").crank_deg
    assert v8.phases.phase_deg("5", at) == 330
    assert v8.phases.arc(Item("intake", "5")).opens_deg == 320
    assert v8.phases.is_open(Item("intake", "5"), at)
    # The rule for the even engine of the same order names it.
    assert Item("intake", "5") in plan(engine("1-8-4-3-6-5-7-2")).steps[0].items
    v6 = engine("1-6-5-4-3-2", intervals=[150, 90] * 3)
    assert v6.position("4").crank_deg == 390


def test_the_worked_example_is_what_the_program_plans(six):
    made = plan(six)
    assert [[step.words, step.sets] for step in made.steps] == STEPS[0]
    assert "Nearest to moving is intake 2, 105° away" in made.notes[0]
    assert six.phases.phase_deg("2", made.steps[0].position.crank_deg) == 240
    assert six.phases.arc(Item("intake", "2")).opens_deg == 345

    together = plan(six, KINDS, start=six.position("3", after_deg=Fraction(-30)))
    assert [[step.words, step.sets] for step in together.steps] == STEPS[1]
    assert f"That is {together.total_deg}° of barring." in PAGE


def test_the_figures_named_on_the_page_are_those_of_the_program(six):
    assert f"{six.timing.keep_clear}° unless said otherwise" in FLOWING
    assert f"taken for up to {MOST_WITHOUT_TIMING} cylinders" in FLOWING
    intake, exhaust = (MIDDLE["four"][kind] for kind in VALVES)
    assert (
        f"{intake.opens_deg}° to {intake.closes_deg}° for an intake and "
        f"{exhaust.opens_deg}° to {exhaust.closes_deg}° for an exhaust" in FLOWING
    )


SAID = [
    "engine maker's current table and figures win over this plan",
    "lock out starting energy (air, battery, hydraulics) and fuel",
    "Gone too far? Go back well past the position and come up to it again",
    "Take barring gear and timing pins out before a start",
]


@pytest.mark.parametrize("words", SAID)
def test_the_page_and_every_plan_carry_the_cautions(words):
    assert words in FLOWING
    assert sum(words in caution for caution in CAUTIONS) == 1
