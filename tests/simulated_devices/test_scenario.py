"""Scenario files say which gauges there are; a mistake is named by its line."""

import re
from pathlib import Path
from typing import get_args

import pytest

from simulated_devices import ScenarioError, bench_of, load_scenario
from simulated_devices.motion import AnyMotion
from simulated_devices.scenario import gauge_of, scenario_names

GOOD = """\
title = "One gauge"
[[gauges]]
name = "gauge"
profile = "decimal-line"
motion = [
  { kind = "still", at_mm = 1.0 },
  { kind = "step", by_mm = 0.5, start_s = 2.0 },
]
presses = [{ at_s = 1.0, key = "unit" }]
"""


@pytest.mark.parametrize("name", scenario_names())
def test_every_built_in_scenario_runs_for_a_minute(name):
    scenario = load_scenario(name)
    for number, form in enumerate(scenario.gauges):
        gauge = gauge_of(form, scenario.seed + number)
        if gauge.profile.sends.when == "by itself":
            assert gauge.advance(60.0)


def test_a_scenario_from_a_file_is_what_it_says(tmp_path):
    path = tmp_path / "mine.toml"
    path.write_text(GOOD)
    gauge = gauge_of(load_scenario(str(path)).gauges[0], 1)
    assert str(gauge.shown().value) == "1.000"
    gauge.advance(3.0)
    assert str(gauge.shown().value) == "0.05905"


@pytest.mark.parametrize(
    ("old", "new", "line", "words"),
    [
        ('"decimal-line"', '"decimal-lime"', 4, "There is no gauge profile 'decimal-lime'"),
        ("at_mm = 1.0", "at_m = 1.0", 6, "unknown name"),
        ('kind = "step"', 'kind = "jump"', 7, "jump"),
        ("start_s = 2.0", "start_s = -2.0", 7, "start_s"),
        ('key = "unit"', 'key = "units"', 9, "units"),
        ('name = "gauge"', 'nam = "gauge"', 3, "unknown name"),
        ('title = "One gauge"', 'title = "One gauge', 1, "a closing quote is missing"),
    ],
)
def test_a_mistake_is_named_by_file_and_line(tmp_path, old, new, line, words):
    path = tmp_path / "mine.toml"
    path.write_text(GOOD.replace(old, new))
    with pytest.raises(ScenarioError) as caught:
        load_scenario(str(path))
    assert f"{path}:{line}: " in str(caught.value)
    assert "must not be empty" not in str(caught.value)
    assert words in str(caught.value)


def test_a_scenario_that_is_not_there_is_refused_with_those_there_are():
    with pytest.raises(ScenarioError, match="Known: adjusting"):
        load_scenario("no-such")


def test_a_bench_has_every_gauge_of_its_scenario():
    with bench_of(load_scenario("every-layout"), "tcp") as bench:
        assert len(bench.ports) == 8
        assert len(set(bench.ports.values())) == 8


def test_the_documentation_s_example_is_a_scenario(tmp_path):
    page = (Path(__file__).parents[2] / "docs" / "simulating.md").read_text("utf-8")
    path = tmp_path / "example.toml"
    path.write_text(re.search(r"```toml\n(.*?)```", page, re.DOTALL)[1])
    form = load_scenario(str(path)).gauges[0]
    gauge_of(form, 3).advance(10.0)
    rows = {row.split("`")[1]: row for row in page.splitlines() if row.startswith("| `")}
    for kind in get_args(get_args(AnyMotion)[0]):
        row = rows[kind.model_fields["kind"].default]
        assert all(f"`{figure}`" in row for figure in kind.model_fields if figure != "kind"), kind
