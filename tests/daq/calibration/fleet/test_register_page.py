"""The page on the register: its figures are those of the program, and its commands exist."""

import math
import re
import shlex
import tomllib
from datetime import date
from pathlib import Path

import click
import pytest

from daq.calibration.policy import ReliabilityTarget
from daq.calibration.reliability import NEAR, IntervalRun, enough, months_by_reliability
from daq.calibration.study import binomial_interval
from daq.cli import restpoint

PAGE = (Path(__file__).parents[4] / "docs" / "register.md").read_text("utf-8")
(POLICY,) = re.findall(r"```toml\n(.*?)```", PAGE, re.DOTALL)
TARGET = ReliabilityTarget.model_validate(tomllib.loads(POLICY))
ROWS = re.findall(
    r"^\| (\d+) \| (\d+) \| (\d+) \| ([\d.]+) to ([\d.]+) \| (\d+): (.*) \|$", PAGE, re.MULTILINE
)
COMMANDS = re.findall(r"^restpoint (.*)$", PAGE, re.MULTILINE)
WORDS = {
    "too few, the policy's own": "until the history of the fleet shows more",
    "it comes to no whole month more": "kept, it comes to no whole month more",
    "kept": "kept, the data cannot tell it from the target",
    "longer": "(lengthened)",
    "longer, held at `most`": "(lengthened, held at its bound)",
    "shorter": "(shortened)",
    "shorter, held at `least`": "(shortened, held at its bound)",
}


def test_there_are_rows_and_commands_to_check():
    assert len(ROWS) == 8
    assert len(COMMANDS) >= 10


@pytest.mark.parametrize("row", ROWS, ids=lambda row: "-".join(row[:3]))
def test_each_row_of_the_table_comes_out(row):
    length, within, of, low, high, months = map(float, row[:6])
    history = [
        IntervalRun(f"G{place % 10}", date(2026, 1, 1), length, place < within)
        for place in range(int(of))
    ]
    found, words = months_by_reliability(TARGET, history)
    assert found == months
    assert WORDS[row[6]] in words
    seen = binomial_interval(int(within), int(of), float(TARGET.confidence) / 100)
    assert (round(100 * seen.low, 1), round(100 * seen.high, 1)) == (low, high)
    assert f"interval {low:.1f} % to {high:.1f} %" in words


def test_the_row_in_full_is_right():
    low = binomial_interval(96, 97).low
    assert f"{low:.4f}" == "0.9439"
    assert f"{12 * math.log(0.9) / math.log(low):.1f}" == "21.9"
    assert "is 0.9439. 12 · ln 0.9 / ln 0.9439 is\n21.9, so" in PAGE
    assert f"that is {enough(TARGET)}." in PAGE
    assert f"within {NEAR:.0%} of the median".replace("%", " %") in PAGE


@pytest.mark.parametrize("line", COMMANDS)
def test_each_command_on_the_page_can_be_typed(line, tmp_path):
    """Its words are parsed as the program does; files are put where they must exist."""
    words = shlex.split(line.partition(" > ")[0])
    (tmp_path / "lab.logbook").touch()
    words = [str(tmp_path / word) if word == "lab.logbook" else word for word in words]
    command, context = restpoint, click.Context(restpoint, info_name="restpoint")
    while isinstance(command, click.Group):
        command = command.get_command(context, words.pop(0))
        assert command is not None
    assert command.make_context(None, words, parent=context).params
