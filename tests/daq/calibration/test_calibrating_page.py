"""The page on calibrating: its files are sound, and it lists every key and figure there is."""

import re
from decimal import Decimal
from pathlib import Path
from typing import get_args

import pytest

from daq.calibration.checks import COULD_ERR, COULD_ERR_STEPS
from daq.calibration.due import SOON_DAYS, Standing
from daq.calibration.forms import (
    CertifiedLength,
    GaugeIdentity,
    GaugeKind,
    PermissibleErrors,
    ReferenceStandard,
    StandardKind,
)
from daq.calibration.plan import PartialPoints, PlanHeading, Repeats
from daq.calibration.plan_file import plan_from_bytes
from daq.calibration.policy import FixedInterval, ReactiveInterval, ReliabilityTarget
from daq.calibration.register_file import register_from_bytes
from daq.calibration.results import What
from daq.calibration.stacks import MOST_BLOCKS

PAGE = (Path(__file__).parents[3] / "docs" / "calibrating.md").read_text("utf-8")
FLOWING = " ".join(PAGE.split())
REGISTER, PLAN = re.findall(r"```toml\n(.*?)```", PAGE, re.DOTALL)

SECTIONS = {
    "[[standards]]": (ReferenceStandard,),
    "[[standards.values]]": (CertifiedLength,),
    "[[gauges]]": (GaugeIdentity,),
    "[gauges.limits]": (PermissibleErrors,),
    "[gauges.interval]": (FixedInterval, ReactiveInterval, ReliabilityTarget),
    "[plan]": (PlanHeading,),
    "[partial]": (PartialPoints,),
    "[[repeats]]": (Repeats,),
}
TABLES = [
    (heading, place, form)
    for heading, forms in SECTIONS.items()
    for place, form in enumerate(forms)
]


def rows_under(heading, place=0):
    """The rows of a heading's table by key; of several tables, the one at this place."""
    text = re.split(r"^#", PAGE.split(f"### {heading}\n")[1], maxsplit=1, flags=re.M)[0]
    table = text.split("| key | | meaning |")[1:][place]
    return {row.split("`")[1]: row for row in table.splitlines() if row.startswith("| `")}


def test_the_files_on_the_page_are_sound():
    register = register_from_bytes(REGISTER.encode(), "page.toml")
    assert register.gauge("DI-7").limits.partial_mm == 1
    assert register.standard("blocks-1").values[0].expanded_u_mm == Decimal("0.00006")
    plan = plan_from_bytes(PLAN.encode(), "page.toml")
    assert plan.remarks == ()
    assert len(plan.stops) == 2 * 15 + 5 + 5 + 10


@pytest.mark.parametrize(("heading", "place", "form"), TABLES, ids=lambda each: str(each)[-32:])
def test_every_key_is_listed_with_whether_it_is_needed_and_no_other(heading, place, form):
    rows = rows_under(heading, place)
    keys = {field.alias or name: field for name, field in form.model_fields.items()}
    assert set(rows) == set(keys)
    for key, field in keys.items():
        assert ("| needed |" in rows[key]) == field.is_required(), key


@pytest.mark.parametrize(
    ("heading", "key", "choice"),
    [
        ("[[standards]]", "kind", StandardKind),
        ("[[gauges]]", "kind", GaugeKind),
        ("[plan]", "directions", PlanHeading.model_fields["directions"].annotation),
        ("[plan]", "approach", PlanHeading.model_fields["approach"].annotation),
        ("[[repeats]]", "direction", Repeats.model_fields["direction"].annotation),
        ("[gauges.limits]", "zero", PermissibleErrors.model_fields["zero"].annotation),
    ],
)
def test_every_word_there_is_to_choose_is_explained(heading, key, choice):
    for word in get_args(choice):
        assert f'`"{word}"`' in rows_under(heading)[key], word


@pytest.mark.parametrize(
    ("heading", "place", "form"),
    [each for each in TABLES if each[0] in ("[plan]", "[[gauges]]", "[gauges.interval]")],
    ids=lambda each: str(each)[-32:],
)
def test_a_figure_that_may_be_left_out_is_the_one_that_is_then_taken(heading, place, form):
    rows = rows_under(heading, place)
    for name, field in form.model_fields.items():
        if isinstance(field.default, int | Decimal) and field.default:
            assert f"{field.default} if left out" in rows[field.alias or name], name


def test_every_characteristic_and_every_standing_is_explained():
    for word in (*get_args(What), *get_args(Standing)):
        assert f"\n| {word} |" in PAGE, word


def test_the_figures_on_the_page_are_those_of_the_program():
    could_err = f"{COULD_ERR} times its permissible error over the range, or {COULD_ERR_STEPS} disp"
    assert could_err in FLOWING
    assert f"at most {MOST_BLOCKS} |" in PAGE
    assert f"more than {SOON_DAYS} days before" in FLOWING
    assert f"within {SOON_DAYS} days, the day itself included" in FLOWING
    assert f"every {GaugeIdentity.model_fields['interval'].default.months} months if left" in PAGE
