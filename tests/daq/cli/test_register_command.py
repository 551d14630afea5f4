"""restpoint register: check, enter, show, history, withdraw and return."""

import json
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from daq.cli import main
from daq.logbook import Logbook, verify
from daq.logbook.register import StatusChanged
from tests.daq.calibration.fleet.records import calibration, gauge_entry, standard_entry
from tests.daq.calibration.fleet.test_fleet import Newer

REGISTER = (Path(__file__).parents[1] / "calibration" / "register.toml").read_text("utf-8")
DI_7, DG_2 = REGISTER.index("[[gauges]]"), REGISTER.rindex("[[gauges]]")
TODAY = datetime.now(UTC).date()
WHO = ["--operator", "M. Ostby"]


@pytest.fixture
def lab(tmp_path):
    """A register file and the path of a logbook that is not there yet."""
    file, book = tmp_path / "lab.toml", tmp_path / "lab.logbook"
    file.write_text(REGISTER, "utf-8")
    return file, book


@pytest.fixture
def say(capsys):
    """Runs a command; its exit status, what it printed, and what it said of trouble."""

    def run(*words):
        status = main(["register", *map(str, words)])
        captured = capsys.readouterr()
        return status, captured.out, captured.err

    return run


def keep(book, *records):
    with Logbook.open(book) as opened:
        opened.append_many(records)


def number_of_records(book):
    report = verify(book)
    assert not report.problems
    return report.records


def test_a_sound_file_is_summed_up_and_nothing_is_entered(lab, say):
    file, book = lab
    assert say("check", file) == (0, "lab.toml is sound: 2 standards; 2 gauges.\n", "")
    _, out, _ = say("check", file, "--json")
    assert json.loads(out) == {"standards": ["blocks-1", "bench"], "gauges": ["DI-7", "DG-2"]}
    assert not book.exists()


def test_every_mistake_is_told_with_its_line_and_nothing_is_entered(lab, say):
    file, book = lab
    text = REGISTER.replace('label = "DG-2"', 'label = "DI-7"').replace("k = 2.1", "k = 21")
    file.write_text(text, "utf-8")
    status, out, error = say("check", file)
    told = error.splitlines()
    assert (status, out, len(told)) == (1, "", 2)
    lines = text.splitlines()
    twice = len(lines) - lines[::-1].index('label = "DI-7"')
    assert told[0].startswith(f"lab.toml:{lines.index('k = 21') + 1}: ")
    assert told[1].startswith(f"lab.toml:{twice}: ")
    status, _, error = say("enter", file, "--logbook", book, *WHO)
    assert (status, error.count("lab.toml:")) == (3, 2)
    assert not book.exists()


def test_a_file_that_is_not_there_could_not_be_checked(tmp_path, say):
    status, _, error = say("check", tmp_path / "none.toml")
    assert (status, "none.toml does not exist" in error) == (3, True)


def test_entering_enters_what_is_new_or_changed_and_only_that(lab, say):
    file, book = lab
    status, out, error = say("enter", file, "--logbook", book, *WHO)
    assert (status, f"4 of 4 entered in {book}." in error) == (0, True)
    assert out.splitlines() == [
        "standard blocks-1: new", "standard bench: new", "gauge DI-7: new", "gauge DG-2: new",
    ]  # fmt: skip
    assert number_of_records(book) == 5
    _, out, error = say("enter", file, "--logbook", book, *WHO)
    assert "0 of 4 entered" in error
    assert number_of_records(book) == 5
    text = REGISTER.replace("due = 2027-02-01", "due = 2027-03-01")
    file.write_text(text.replace("months = 12", "months = 9"), "utf-8")
    _, out, _ = say("enter", file, "--logbook", book, *WHO, "--json")
    assert [(each["name"], each["what"], each["changed"]) for each in map(json.loads,
        out.splitlines())] == [
        ("blocks-1", "unchanged", []), ("bench", "changed", ["due"]),
        ("DI-7", "changed", ["interval"]), ("DG-2", "unchanged", []),
    ]  # fmt: skip
    assert number_of_records(book) == 7


def test_an_adapter_that_serves_another_gauge_is_refused_and_nothing_is_written(lab, say):
    file, book = lab
    keep(book, gauge_entry(date(2026, 1, 1), label="DI-3", identity="usb:1209:0001:A7"))
    status, _, error = say("enter", file, "--logbook", book, *WHO)
    assert status == 3
    assert "gauge DI-7: its adapter usb:1209:0001:A7 serves DI-3 in the logbook" in error
    assert number_of_records(book) == 2
    # Where the file itself gives the other gauge another adapter, or none, all is well.
    di_3 = REGISTER[DG_2:].replace('"DG-2"', '"DI-3"')
    file.write_text(f"{REGISTER}\n{di_3}", "utf-8")
    assert say("enter", file, "--logbook", book, *WHO)[0] == 0
    assert number_of_records(book) == 7


def test_two_gauges_may_change_their_adapters_in_one_file(lab, say):
    file, book = lab
    text = REGISTER.replace('label = "DG-2"', 'label = "DG-2"\nidentity = "usb:1209:0001:A2"')
    file.write_text(text, "utf-8")
    say("enter", file, "--logbook", book, *WHO)
    swapped = text.replace("usb:1209:0001:A7", "x").replace("usb:1209:0001:A2", "usb:1209:0001:A7")
    file.write_text(swapped.replace('"x"', '"usb:1209:0001:A2"'), "utf-8")
    assert say("enter", file, "--logbook", book, *WHO)[0] == 0
    _, out, _ = say("show", "DI-7", "DG-2", "--logbook", book)
    assert "!" not in out


@pytest.fixture
def shown(tmp_path):
    """A logbook with gauges and standards that stand in every way there is on the day."""
    book = tmp_path / "lab.logbook"
    day = date(2026, 6, 1)
    spans = {"DI-overdue": 400, "DI-due": 350, "DI-good": 20}
    entries = {
        label: gauge_entry(date(2025, 1, 1), label=label, identity=None)
        for label in (*spans, "DI-limited", "DI-failed", "DI-never")
    }
    records = [standard_entry(day), standard_entry(day, id="old", due="2026-05-31")]
    records += entries.values()
    for label, days in spans.items():
        records += calibration(day - timedelta(days), entries[label])
    records += calibration(date(2026, 5, 1), entries["DI-limited"], to_mm=gauge_entry(day).range_mm)
    records += calibration(date(2026, 5, 1), entries["DI-failed"], "fail", "fail")
    keep(book, *records)
    return book


def test_show_has_the_most_urgent_first_and_its_status_says_if_all_may_be_used(shown, say):
    status, out, _ = say("show", "--logbook", shown, "--on", "2026-06-01")
    assert status == 1
    assert [line.split()[0] for line in out.splitlines()] == [
        "DI-failed", "DI-overdue", "old", "DI-never", "DI-due", "DI-limited", "DI-good", "blocks",
    ]  # fmt: skip
    assert "DI-limited is good up to 10 mm only, due on 2027-05-01 (C-DI-limited-260501" in out
    status, out, _ = say("show", "DI-good", "blocks", "--logbook", shown, "--on", "2026-06-01")
    assert (status, len(out.splitlines())) == (0, 2)
    status, _, error = say("show", "DI-god", "--logbook", shown)
    assert (status, "There is no gauge or standard 'DI-god'; known: DI-due," in error) == (3, True)


def test_show_says_what_is_due_within_some_days_and_what_may_not_be_used(shown, say):
    words = ["show", "--logbook", shown, "--on", "2026-06-01", "--json"]
    _, out, _ = say(*words, "--within", 14)
    assert "DI-due" not in out  # in 15 days
    _, out, _ = say(*words, "--within", 15)
    facts = {each["name"]: each for each in map(json.loads, out.splitlines())}
    assert set(facts) == {"DI-failed", "old", "DI-overdue", "DI-never", "DI-due"}
    assert facts["DI-due"] == {
        "about": "gauge", "name": "DI-due", "standing": "due", "usable": True,
        "due": "2026-06-16", "certificate": "C-DI-due-250616", "remarks": [],
        "words": "DI-due is due on 2026-06-16, in 15 days (C-DI-due-250616 of 2025-06-16).",
    }  # fmt: skip


def test_a_history_ends_with_how_the_gauge_stands_and_when_it_is_due(shown, say):
    status, out, _ = say("history", "DI-due", "--logbook", shown, "--on", "2026-06-01")
    assert (status, out.splitlines()) == (0, [
        "2025-06-16  C-DI-due-250616: as found pass, as left pass",
        "2026-06-01  DI-due is due on 2026-06-16, in 15 days (C-DI-due-250616 of 2025-06-16).",
        "            next on 2026-06-16: Every 12 months. Last: C-DI-due-250616 of 2025-06-16.",
    ])  # fmt: skip
    _, out, _ = say("history", "DI-due", "--logbook", shown, "--on", "2025-06-15", "--json")
    (fact,) = map(json.loads, out.splitlines())
    assert fact["standing"] == "never calibrated"


def test_what_is_withdrawn_is_so_at_once_and_until_it_is_returned(shown, say):
    book = ["--logbook", shown, *WHO]
    assert say("show", "blocks", *book[:2])[0] == 0
    for name in ("DI-good", "blocks"):
        status, out, _ = say("withdraw", name, *book, "--reason", "dropped", "--by", "B. Lunde")
        assert (status, f"{name} withdrawn by B. Lunde: dropped" in out) == (0, True)
        status, out, _ = say("show", name, *book[:2])
        assert (status, f"was withdrawn on {TODAY} by B. Lunde: dropped" in out) == (1, True)
    before = number_of_records(shown)
    status, _, error = say("withdraw", "DI-good", *book, "--reason", "dropped")
    assert (status, "DI-good is withdrawn already; nothing was written." in error) == (3, True)
    status, _, error = say("return", "DI-due", *book, "--reason", "found again")
    assert (status, "DI-due was not withdrawn by anybody; nothing" in error) == (3, True)
    assert number_of_records(shown) == before
    assert say("return", "DI-good", *book, "--reason", "looked at")[0] == 0
    with Logbook.read(shown) as opened:
        last = opened.last().record
    assert isinstance(last, StatusChanged)
    assert (last.about, last.what, last.by) == ("gauge", "returned to use", "M. Ostby")


def test_a_name_that_two_things_have_must_be_told_apart(shown, say):
    keep(shown, gauge_entry(date(2026, 1, 1), label="blocks"))
    words = ["withdraw", "blocks", "--logbook", shown, *WHO, "--reason", "worn"]
    status, _, error = say(*words)
    assert (status, "Say which: --about gauge or --about standard" in error) == (3, True)
    assert say(*words, "--about", "standard")[0] == 0


@pytest.mark.parametrize("empty", ["--operator", "--reason", "--by"])
def test_a_name_or_a_reason_is_never_empty(shown, say, empty):
    words = {"--operator": "M. Ostby", "--reason": "dropped", "--by": "B. Lunde"} | {empty: " "}
    before = number_of_records(shown)
    asked = [word for pair in words.items() for word in pair]
    status, _, error = say("withdraw", "DI-good", "--logbook", shown, *asked)
    assert (status, f"{empty} is empty" in error) == (2, True)
    assert number_of_records(shown) == before


def test_a_record_that_cannot_be_read_is_said_and_is_no_yes(shown, say):
    keep(shown, Newer(kind="status", format=2, at="2026-06-01"))
    status, _, error = say("show", "DI-good", "--logbook", shown, "--on", "2026-06-01")
    assert (status, "(status) cannot be read" in error) == (1, True)


def test_a_logbook_that_is_not_there_is_not_begun_by_looking(tmp_path, say):
    book = tmp_path / "none.logbook"
    assert say("show", "--logbook", book)[0] == 2
    assert say("withdraw", "DI-7", "--logbook", book, *WHO, "--reason", "dropped")[0] == 2
    assert not book.exists()
