"""The page on budgets: every example is what the command prints."""

import re
from pathlib import Path

import pytest

from tests.daq.cli.alone import run

PAGE = (Path(__file__).parents[3] / "docs" / "budgets.md").read_text("utf-8")
FILES = dict(re.findall(r"^```(?:toml|csv) (\S+)\n(.*?)^```$", PAGE, re.S | re.M))
RUNS = re.findall(r"^```text\n\$ restpoint (.*?)\n(.*?)^```$", PAGE, re.S | re.M)


@pytest.mark.parametrize(("line", "printed"), RUNS, ids=lambda text: text[:40])
def test_the_examples_of_the_page_are_what_the_command_prints(line, printed, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    for name, text in FILES.items():
        Path(name).write_text(text, "utf-8")
    ran = run(line)
    assert ran.error == ""
    assert ran.out.rstrip() == printed.rstrip()


def test_the_page_has_an_example_of_every_command():
    assert {line.split()[0] for line, _ in RUNS} == {"budget", "line", "judge"}
    assert set(FILES) == {"end-gauge.toml", "thermometer.csv"}
