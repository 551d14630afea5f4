"""What the page on uncertainty says of a calibration point is what the program does."""

import math
import re
from pathlib import Path

import numpy as np
import pytest

from daq.calibration.plan import prepared
from tests.benchmarks.calibration.coverage import POINTS
from tests.benchmarks.calibration.gauges import FLAT, KINDS
from tests.benchmarks.calibration.section import BEGINS, ENDS
from tests.daq.calibration.assess.invented_run import (
    ON,
    assessed,
    found,
    limited,
    lines,
    plan,
    point,
)
from tests.daq.calibration.invented import flat, standard

PAGE = (Path(__file__).parents[4] / "docs" / "uncertainty.md").read_text("utf-8")
COMPONENTS = PAGE.split("| component |")[1].split("\n\n")[0]
TABLES = PAGE.split(BEGINS)[1].split(ENDS)[0]


def cells(line):
    return [cell.strip() for cell in line.strip("|").split("|")]


def covered(of):
    """By what is stated, per cent covered for a kind of gauge."""
    rows = [cells(line) for line in TABLES.splitlines() if line.startswith("|")]
    heading = next(row for row in rows if row[0].startswith("covered"))
    stated = [POINTS, "fixed-zero error", "span error", "one-way span", "partial-range error",
              "hysteresis", "repeatability"]  # fmt: skip
    column = heading.index(of)
    return {row[0]: float(row[column].split()[0]) for row in rows if row[0] in stated}


def test_every_line_of_a_budget_is_on_the_page_with_its_distribution():
    of = {"of": limited(expansion="9"), "temperature_c": "20.5", "u_reading": "0.0012"}
    for repeats in ((2, 3, 1, 2, 3), (2, 2, 2, 2, 2)):
        for name, row in lines(point(assessed(repeats=repeats, **of), "up", "8").stated).items():
            begins = f"| {name.split(',')[0]}"
            (line,) = [each for each in COMPONENTS.splitlines() if each.startswith(begins)]
            assert row.distribution == cells(line)[2], name


def test_the_keys_of_the_plan_that_are_named_exist():
    heading = prepared(plan(), standard(), ON, flat()).plan.heading
    for key in ("u_temperature", "apart", "tilt"):
        assert f"`{key}`" in COMPONENTS
        assert hasattr(heading, key)


def test_shown_values_scatter_with_their_rounding_from_a_third_of_a_step_on():
    assert "from a scatter of about 0.3 display\n  steps on, s² holds d²/12 in full" in PAGE
    rng = np.random.default_rng(8)
    at = 0.3 * rng.standard_normal((40_000, 10)) + rng.random((40_000, 1))
    pooled = np.floor(at).var(axis=1, ddof=1).mean()
    assert pooled == pytest.approx(0.3**2 + 1 / 12, rel=0.02)


def test_a_tilt_anywhere_within_its_bound_amounts_to_less_than_what_is_counted():
    tilts = np.random.default_rng(8).uniform(-1, 1, 100_000) * math.radians(0.25)
    bound = 1 / math.cos(math.radians(0.25)) - 1
    amounts = math.sqrt(np.mean((1 / np.cos(tilts) - 1) ** 2))
    assert amounts < bound / math.sqrt(3) < 1.4 * amounts


def test_the_line_of_an_extreme_is_called_as_the_page_says():
    assert "*extreme*" in PAGE
    equal = lines(found(assessed(repeats=(2, 2, 2, 2, 2)), "hysteresis").stated)
    assert "extreme" in equal


def test_the_tables_say_of_every_kind_of_gauge_how_often_it_was_covered():
    for kind in (*KINDS, FLAT):
        assert len(covered(kind.name)) == 7, kind.name
    assert re.search(r": 2 000 calibrations of each kind", TABLES)


def test_what_the_page_says_of_its_tables_is_so():
    for kind in KINDS:
        assert 94 <= covered(kind.name)[POINTS] <= 96.5, kind.name
    usual, wide = covered("usual"), covered("scatter of one display step")
    del usual[POINTS]
    least, most = min(usual, key=usual.get), max(usual.values())
    assert f"covered in {usual[least]:.1f} to {most:.1f} %" in PAGE
    assert least == "repeatability"
    assert f"covered in {min(wide['hysteresis'], wide['partial-range error'])} % and more" in PAGE
    assert covered("fine display, poor blocks")["span error"] > 98
    assert all(covered("coarse display, hardly any scatter")[each] >= 95 for each in wide)
    none = covered("no error at all")
    assert none[POINTS] < 94
    assert f"the fixed-zero error in {none['fixed-zero error']} %" in PAGE
