"""The page about simulating says every name that a scenario file may have, and its examples run."""

import re
import sys
from pathlib import Path
from typing import get_args

import pytest

from simulated_devices import load_scenario
from simulated_devices.gauge import Key
from simulated_devices.motion import AnyMotion
from simulated_devices.scenario import (
    FaultsForm,
    GaugeForm,
    HandForm,
    PressForm,
    Scenario,
    gauge_of,
    scenario_names,
    wire_of,
)

PAGE = (Path(__file__).parents[2] / "docs" / "simulating.md").read_text("utf-8")
ROWS = [row for row in PAGE.splitlines() if row.startswith("| `")]
FIRST_CELLS = {name for row in ROWS for name in re.findall(r"`([^`]*)`", row.split("|")[1])}


def example(language):
    return re.search(rf"```{language}\n(.*?)```", PAGE, re.DOTALL)[1]


@pytest.mark.parametrize(
    "form", [Scenario, GaugeForm, HandForm, PressForm], ids=lambda f: f.__name__
)
def test_every_name_of_a_table_has_a_row(form):
    assert set(form.model_fields) <= FIRST_CELLS


def test_every_fault_scenario_and_key_has_a_row():
    chances = set(FaultsForm.model_fields) - {"cut_bytes", "read_baud"}
    assert chances | set(scenario_names()) | set(get_args(Key)) <= FIRST_CELLS
    assert "`cut_bytes`" in PAGE
    assert "`read_baud`" in PAGE


@pytest.mark.parametrize("kind", get_args(get_args(AnyMotion)[0]), ids=lambda kind: kind.__name__)
def test_every_motion_has_a_row_with_all_its_figures(kind):
    begins = f"| `{kind.model_fields['kind'].default}` | "
    figures = {f"`{figure}`" for figure in kind.model_fields if figure != "kind"}
    assert any(row.startswith(begins) and all(f in row for f in figures) for row in ROWS)


def test_the_example_is_a_scenario(tmp_path):
    path = tmp_path / "example.toml"
    path.write_text(example("toml"))
    (form,) = load_scenario(path).gauges
    wire = wire_of(form, 8)
    assert wire.through(gauge_of(form, 8).advance(20.0))


@pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminals")
def test_the_example_in_python_runs(capsys):
    exec(compile(example("python"), "docs/simulating.md", "exec"), {})
    assert capsys.readouterr().out.endswith("/gauge\n")
