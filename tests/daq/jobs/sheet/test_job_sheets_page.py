"""The page on job sheets: its example is sound, and it lists every key and every word there is."""

import re
from pathlib import Path
from typing import get_args

import pytest

from daq.jobs.sheet import (
    Across,
    CrankGear,
    Expansion,
    Figures,
    ForEach,
    Heading,
    Mounting,
    Recipe,
    Role,
    Source,
    Step,
    Variant,
    sheet_from_bytes,
)
from daq.jobs.sheet.crank_need import HINT
from daq.jobs.sheet.decidable import LEAST_STEPS
from daq.jobs.sheet.remarks import FEW_STEPS
from daq.jobs.sheet.step_rules import DONE_ON, KEYS_OF
from daq.spec import Adjuster
from tests.daq.jobs.sheet.planted import problems_of

PAGE = (Path(__file__).parents[4] / "docs" / "job-sheets.md").read_text("utf-8")
FLOWING = " ".join(PAGE.split())
(EXAMPLE,) = re.findall(r"```toml\n(.*?)```", PAGE, re.DOTALL)

SECTIONS = {
    "[sheet]": Heading,
    "[[sources]]": Source,
    "[[variants]]": Variant,
    "[[gauges]]": Role,
    "[[steps]]": Step,
    '[steps.by_variant."1500 rpm"]': Figures,
    "[steps.adjuster]": Adjuster,
    "[steps.across]": Across,
    "[steps.crank_gear]": CrankGear,
    "[steps.mounting]": Mounting,
    "[steps.expansion]": Expansion,
}


def section(heading):
    """What stands under a heading, down to the next one of its rank or above."""
    rank, rest = re.search(rf"^(#+) {re.escape(heading)}\n(.*)", PAGE, re.M | re.S).groups()
    return re.split(rf"^#{{2,{len(rank)}}} ", rest, maxsplit=1, flags=re.M)[0]


def test_the_example_is_sound():
    assert problems_of(EXAMPLE) == []
    sheet = sheet_from_bytes(EXAMPLE.encode(), "page.toml")
    order = [planned.name for planned in sheet.for_variant("1500 rpm")]
    assert order == ["rack", "timing", "clearance", "liner", "webs"]


@pytest.mark.parametrize("heading", SECTIONS)
def test_every_key_is_listed_with_whether_it_is_needed(heading):
    text, form = section(heading), SECTIONS[heading]
    for key, field in form.model_fields.items():
        rows = [row for row in text.splitlines() if f"`{key}`" in row]
        assert rows, f"{heading}: {key}"
        if field.is_required():
            assert any("| needed |" in row for row in rows), f"{heading}: {key}"


@pytest.mark.parametrize("heading", SECTIONS)
def test_no_key_is_listed_that_there_is_not(heading):
    known = set(SECTIONS[heading].model_fields)
    table = section(heading).split("\n#")[0]
    rows = re.findall(r"^\| ((?:`[a-z_]+`(?:, )?)+) \|", table, re.M)
    listed = {key for row in rows for key in re.findall(r"[a-z_]+", row)}
    assert listed <= known


@pytest.mark.parametrize(
    ("heading", "words"), [("for_each", get_args(ForEach)), ("recipe", get_args(Recipe))]
)
def test_every_word_there_is_to_choose_is_explained(heading, words):
    rows = [row for row in section(heading).splitlines() if row.startswith("|")]
    for word in words:
        assert any(f'`"{word}"`' in row.split("|")[1] for row in rows), word


def test_every_word_for_the_crank_is_explained():
    for word in re.findall(r'"([^"]+)"', HINT):
        assert f'`"{word}"`' in section("crank")


def test_a_recipe_is_listed_with_its_own_keys_and_what_it_is_done_on():
    rows = {row.split("|")[1].strip(): row for row in section("recipe").splitlines() if "|" in row}
    for key, recipes in KEYS_OF.items():
        if key not in ("repeats", "adjuster", "mounting", "expansion"):
            for recipe in recipes:
                assert f"`{key}`" in rows[f'`"{recipe}"`'], (key, recipe)
    assert set(DONE_ON) == {"run-out", "deflection", "dead centre"}
    assert (
        "A run-out goes with the engine, a bank, a cylinder or a place, a deflection with a "
        "cylinder or a place, a dead centre with a cylinder." in FLOWING
    )


def test_the_figures_on_the_page_are_those_of_the_program():
    assert f"at least {LEAST_STEPS} display steps apart. Below {FEW_STEPS} there is" in FLOWING
    kinds = get_args(Role.model_fields["kind"].annotation)
    assert all(f'`"{kind}"`' in section("[[gauges]]") for kind in kinds)
    assert "`[40, 30]` if left out" in PAGE
    assert [int(angle) for angle in CrankGear.model_fields["angles"].default] == [40, 30]
    play = EXAMPLE.replace("repeats = 3\n", "")
    (clearance,) = [s for s in sheet_from_bytes(play.encode(), "x").steps if s.name == "clearance"]
    assert clearance.times == 3
