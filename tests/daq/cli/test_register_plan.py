"""restpoint register plan: is a plan sound, does it suit, and one to begin with."""

import pytest

from daq.calibration.plan_file import plan_from_bytes
from daq.cli import main
from daq.logbook import Logbook
from tests.daq.calibration.fleet.records import change, gauge_entry, standard_entry
from tests.daq.calibration.invented import DAY, PLAN

FUTURE = {"due": "2199-01-10"}


@pytest.fixture
def lab(tmp_path):
    (tmp_path / "plan.toml").write_text(PLAN, "utf-8")
    with Logbook.open(tmp_path / "lab.logbook") as book:
        book.append_many(
            [
                standard_entry(DAY, **FUTURE),
                standard_entry(DAY, id="old"),
                standard_entry(DAY, id="gone", **FUTURE),
                change(DAY, "gone", "withdrawn", "standard"),
                standard_entry(DAY, id="few", **FUTURE, values=[
                    {"nominal": "2.5 mm", "length": "2.5 mm", "expanded_u": "0.0001 mm", "k": 2},
                ]),
                gauge_entry(DAY),
                gauge_entry(DAY, label="DI-25", identity=None, range="25 mm"),
            ]
        )  # fmt: skip
    return tmp_path


@pytest.fixture
def plan(lab, capsys):
    def run(*words):
        status = main(["register", "plan", *map(str, words)])
        captured = capsys.readouterr()
        return status, captured.out, captured.err

    return run


def test_a_sound_plan_is_summed_up(lab, plan):
    status, out, _ = plan("check", lab / "plan.toml")
    assert (status, out.startswith("plan.toml is sound: Invented plan, revision A, ")) == (0, True)


def test_every_mistake_is_told_with_its_line(lab, plan):
    text = PLAN.replace('"7.5 mm", "10 mm"', '"7.5 mm", "11 mm"').replace("times = 2", "times = 1")
    (lab / "plan.toml").write_text(text, "utf-8")
    status, out, error = plan("check", lab / "plan.toml")
    assert (status, out) == (1, "")
    numbers = [int(line.split(":")[1]) for line in error.splitlines()]
    lines = text.splitlines()
    assert numbers[0] == 1 + next(n for n, line in enumerate(lines) if "points" in line)
    assert lines.index("times = 1") + 1 in numbers


@pytest.mark.parametrize(
    ("words", "status", "said"),
    [
        (["--standard", "blocks", "--gauge", "DI-7"], 0, ""),
        (["--gauge", "DI-25"], 1, "plan.toml is for a range of 10 mm, and DI-25 has 25 mm."),
        (["--standard", "gone"], 1, "gone was withdrawn on 2026-06-01"),
        (["--standard", "few"], 1, "10 mm"),
        (["--standard", "blokcs"], 3, "There is no standard 'blokcs'"),
        (["--gauge", "DI-8"], 3, "There is no gauge 'DI-8'"),
    ],
)
def test_a_plan_is_held_against_the_standard_and_the_gauge(lab, plan, words, status, said):
    got, _, error = plan("check", lab / "plan.toml", "--logbook", lab / "lab.logbook", *words)
    assert got == status
    assert said in error


def test_both_or_neither_of_logbook_and_what_is_in_it(lab, plan):
    for words in (
        ["--standard", "blocks"],
        ["--gauge", "DI-7"],
        ["--logbook", lab / "lab.logbook"],
    ):
        status, _, error = plan("check", lab / "plan.toml", *words)
        assert (status, "together with the --logbook" in error) == (2, True)


def test_a_plan_that_was_made_is_sound_and_suits(lab, plan):
    words = ["--standard", "blocks", "--logbook", lab / "lab.logbook"]
    status, out, _ = plan("make", "DI-7", *words)
    assert status == 0
    assert plan_from_bytes(out.encode(), "made.toml").heading.range_mm == 10
    (lab / "made.toml").write_text(out, "utf-8")
    assert plan("check", lab / "made.toml", "--gauge", "DI-7", *words)[0] == 0
    status, _, error = plan("make", "DI-7", "--standard", "blocks")
    assert (status, "--logbook" in error) == (2, True)
