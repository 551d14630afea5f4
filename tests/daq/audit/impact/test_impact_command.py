"""restpoint impact: in words, as JSON, as CSV, and its exit status."""

import csv
import json

import numpy as np
import pytest
from click import UsageError

from daq.audit.impact import Captures, ErrorCurve, Impact, Run, periods_of, rows, touched
from daq.audit.impact.words import is_answered, lines_of
from daq.cli.impact import command
from daq.logbook import Logbook
from tests.daq.audit.impact.bench import FIRST, work

LIMITS = ("4.980", "5.010")


@pytest.fixture
def book(tmp_path, story):
    """A logbook: good, three captures, found bad, adjusted."""
    path, (good, bad) = tmp_path / "lab.logbook", story
    captures = [work("5.000", LIMITS), work("5.000", ("4.9", "5.1")), work("5.000")]
    with Logbook.open(path, at=FIRST) as opened:
        opened.append_many([*good, *captures, *bad])
    return path


@pytest.fixture
def say(capsys):
    """Runs the command; its exit status, what it printed, and what it said of trouble."""

    def run(*words):
        status = command.main([*map(str, words)], standalone_mode=False)
        captured = capsys.readouterr()
        return status, captured.out, captured.err

    return run


def test_the_words_say_what_was_found_and_which_verdict_turns(book, say):
    status, out, _ = say("DI-7", "--logbook", book)
    assert status == 1
    lines = out.splitlines()
    assert lines[0].startswith("DI-7: found out of limits by calibration ")
    assert lines[0].endswith(" mm.")
    assert "3 captures from 2026-06-01" in lines[1]
    assert lines[2].split() == [
        "job", "feature", "document", "flips", "weakened", "unaffected", "not", "judged",
    ]  # fmt: skip
    assert lines[3].split() == [
        "no", "job", "protrusion", "setting", "sheet", "4", "1", "0", "1", "0",
    ]  # fmt: skip
    assert lines[4].split() == ["no", "job", "0", "0", "0", "1"]
    assert "5.0000 mm → 4.96" in lines[5]
    assert "within → out" in lines[5]
    assert lines[-1] == (
        "1 gauge out of limits. Captures: flips 1, weakened 0, unaffected 1, not judged 1, "
        "not corrected 0."
    )


def test_json_has_a_period_a_line_with_the_captures_that_flip(book, say):
    status, out, _ = say("--all", "--logbook", book, "--json")
    (period,) = map(json.loads, out.splitlines())
    assert status == 1
    assert (period["gauge"], period["what"]) == ("DI-7", "found out of limits")
    assert (period["captures"], period["flips"], period["not_judged"]) == (3, 1, 1)
    (flip,) = period["flipping"]
    assert (flip["within_before"], flip["within_after"]) == (True, False)
    assert flip["corrected_mm"] == pytest.approx(flip["value_mm"] - flip["error_mm"])
    assert flip["p_before"] > 0.99 > 0.01 > flip["p_after"]


def test_csv_has_every_capture_and_a_schema_of_its_columns(book, say, tmp_path):
    file = tmp_path / "impact.csv"
    _, _, err = say("DI-7", "--logbook", book, "--csv", file)
    assert f"{file} written." in err
    with open(file, encoding="utf-8", newline="") as opened:
        found = list(csv.DictReader(opened))
    schema = json.loads((tmp_path / "impact.csv.schema.json").read_text("utf-8"))
    assert [each["name"] for each in schema["fields"]] == list(found[0])
    assert [each["group"] for each in found] == ["flips", "unaffected", "not judged"]
    assert (found[0]["within_before"], found[0]["within_after"]) == ("true", "false")
    assert found[2]["lower_mm"] == found[2]["within_after"] == found[2]["p_before"] == ""
    assert float(found[0]["corrected_mm"]) == 5.0 - float(found[0]["error_mm"])


def test_no_file_is_written_over_another(book, say, tmp_path):
    from daq.report.errors import ReportExistsError

    file = tmp_path / "impact.csv"
    file.write_text("mine", "utf-8")
    with pytest.raises(ReportExistsError, match="already there"):
        say("DI-7", "--logbook", book, "--csv", file)
    assert file.read_text("utf-8") == "mine"


def test_where_nothing_turns_the_status_is_0(tmp_path, story, say):
    path = tmp_path / "lab.logbook"
    with Logbook.open(path, at=FIRST) as opened:
        opened.append_many(story[0])
        opened.append_many([work("5.000", LIMITS)])
    assert say("--all", "--logbook", path) == (0, "No gauge was found out of limits.\n", "")


def test_captures_that_cannot_be_corrected_leave_the_answer_open():
    slip = ErrorCurve(np.zeros(1), np.zeros(1), np.zeros(1), "its readings look like inches")
    (period,) = periods_of([Run("DI-7", "C-2", 100, 110, slip, slip, True, False)])
    one, words = np.ones(1), np.full(1, "", dtype=object)
    number = np.ones(1, dtype=np.int64)
    capture = Captures(number, number, one, one, 0 * one, 2 * one, words, words, words, words)
    impact = Impact((touched(period, capture),), in_time=False)
    assert any("Put the calibration right" in line for line in lines_of(impact))
    assert not is_answered(impact)
    assert is_answered(Impact((), in_time=False))
    assert not is_answered(Impact((), in_time=False, is_whole=False))


@pytest.mark.parametrize(
    ("words", "why"),
    [
        ((), "Name one GAUGE, or say --all"),
        (("DI-7", "--all"), "Name one GAUGE, or say --all"),
        (("DI-7",), "--logbook FILE, or --log PATH"),
        (("DI-7", "--logbook", "a", "--log", "b"), "--logbook FILE, or --log PATH"),
        (("DI-7", "--logbook", "a", "--mapping", "m"), "--mapping is for --log"),
    ],
)
def test_what_cannot_be_asked_is_refused(words, why, say):
    with pytest.raises(UsageError, match=why):
        say(*words)


def test_every_digit_of_a_float_is_written_and_none_as_an_exponent():
    assert rows._cell(0.000001234) == "0.000001234"
    assert float(rows._cell(0.1 + 0.2)) == 0.1 + 0.2
