"""The page on deciding says what the program does: every row of its tables is worked out again."""

import re
import tomllib
from decimal import Decimal
from pathlib import Path

import pytest

from daq.spec import (
    Adjuster,
    Spec,
    SpecError,
    decide,
    guard_factor,
    guide,
    length_mm,
    load_spec,
    place,
    rule_from,
    shown_in,
)

PAGE = (Path(__file__).parents[3] / "docs" / "deciding.md").read_text(encoding="utf-8")


def table(first_heading):
    """The rows of the page's table that begins with this heading, each as a list of cells."""
    lines = iter(PAGE.splitlines())
    for line in lines:
        if line.startswith(f"| {first_heading} |"):
            break
    next(lines)
    rows = []
    for line in lines:
        if not line.startswith("|"):
            break
        rows.append([cell.strip().strip("`") for cell in line.strip("|").split("|")])
    return rows


WRITTEN, RULES, EXAMPLES, TURNS = (
    table("written"),
    table("rule | guard band"),
    table("rule | value"),
    table("thread"),
)


@pytest.fixture
def spec(tmp_path):
    path = tmp_path / "spec.toml"
    path.write_text(re.search(r"```toml\n(.*?)```", PAGE, re.DOTALL)[1], encoding="utf-8")
    return load_spec(path)


def test_the_page_has_its_tables():
    assert [len(rows) for rows in (WRITTEN, RULES, EXAMPLES, TURNS)] == [9, 4, 14, 4]
    assert {row[3] for row in EXAMPLES} == {"in", "low", "high", "too close to call"}


def test_the_file_on_the_page_is_the_specification_of_the_examples(spec):
    assert (spec.nominal_mm, spec.lower_mm, spec.upper_mm) == (
        Decimal("76.20"),
        Decimal("-0.02"),
        Decimal("0.02"),
    )
    assert tomllib.loads(re.search(r"```toml\n(.*?)```", PAGE, re.DOTALL)[1])["source"]


@pytest.mark.parametrize("limits", re.findall(r"`((?:±|\+/-|\+0|max|min)[^`]*)`", PAGE))
def test_every_form_of_limits_on_the_page_is_taken(limits):
    assert Spec.of("x", nominal="10 mm", limits=limits, source="the page").name == "x"


@pytest.mark.parametrize(("written", "mm"), WRITTEN)
def test_a_length_on_the_page_is_taken_or_refused_as_it_says(written, mm):
    if mm == "refused":
        with pytest.raises(SpecError):
            length_mm(written)
    else:
        assert str(length_mm(written)) == mm


@pytest.mark.parametrize("row", RULES, ids=lambda row: row[0])
def test_every_rule_on_the_page_is_one(row):
    assert str(rule_from(row[0])) == row[0]


@pytest.mark.parametrize("row", EXAMPLES, ids=" ".join)
def test_an_example_on_the_page_is_decided_as_it_says(spec, row):
    rule, value, u, outcome, probability = row
    verdict = decide(length_mm(value), length_mm(u), spec, rule_from(rule))
    assert verdict.outcome.value == outcome
    assert f"{100 * verdict.p_conform:.3f} %" == probability


@pytest.mark.parametrize("row", TURNS, ids=lambda row: f"{row[0]} {row[4]}")
def test_a_turn_on_the_page_is_guided_as_it_says(row):
    thread, ratio, clockwise, clicks, deviation, words = row
    adjuster = Adjuster(
        thread=thread,
        lever_ratio=ratio,
        clockwise=clockwise,
        clicks_per_turn=None if clicks == "–" else int(clicks),
    )
    assert guide(length_mm(deviation, signed=True), adjuster).words == words


def test_the_factors_named_on_the_page_are_right():
    assert "1.645 u" in PAGE
    assert f"{guard_factor(0.95):.3f}" == "1.645"
    assert "1.796 u where the limits are 4 u apart" in PAGE
    assert f"{guard_factor(0.95, 4):.3f}" == "1.796"
    assert "less than 3.92 u apart" in PAGE
    assert guard_factor(0.95, 3.919) is None
    assert guard_factor(0.95, 3.921) is not None


def test_a_value_shown_on_the_limit_may_be_high(spec):
    value = Decimal("76.2201")
    assert shown_in(value, "mm", Decimal("0.01"), sign=False) == "76.22 mm"
    assert place(value, spec).outcome.value == "high"
