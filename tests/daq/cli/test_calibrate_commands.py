"""Lines of text as commands of a calibration, and what is refused before one begins."""

import re
from dataclasses import replace
from datetime import UTC, date, datetime
from decimal import Decimal
from pathlib import Path

import pytest

from daq.calibration.entered import gauge_record, standard_record
from daq.calibration.guided import Ending
from daq.calibration.register_file import register_from_bytes
from daq.cli import main
from daq.cli.calibrate_commands import WORDS, command_from
from daq.cli.calibrate_opening import open_calibration
from daq.logbook import Logbook, new_uid
from daq.logbook.register import StatusChanged
from daq.screen.calibration_run import Command
from daq.screen.calibration_view import KEYS
from simulated_devices import Bench

PROPOSED = Ending(certificate="DI-7-1", due=date(2027, 6, 1), due_words="12 months.")


@pytest.mark.parametrize(
    ("line", "command"),
    [
        ("go\n", Command(kind="go")),
        ("temp 20.1", Command(kind="go", temperature_c=Decimal("20.1"))),
        ("temp 20.1 °C", Command(kind="go", temperature_c=Decimal("20.1"))),
        ("temp warm", None),
        ("temp inf", None),
        ("back", Command(kind="back")),
        ("anew the stand was knocked", Command(kind="anew", text="the stand was knocked")),
        (
            "insist looked at it | M. Lind",
            Command(kind="insist", text="looked at it", by="M. Lind"),
        ),
        ("insist looked at it", Command(kind="insist", text="looked at it")),
        ("adjusted new spring", Command(kind="adjusted", text="new spring")),
        ("unadjusted", Command(kind="not adjusted")),
        ("trust", Command(kind="trust the gauge")),
        ("quit", Command(kind="quit")),
        ("jump", None),
    ],
)
def test_a_line_says_a_command(line, command):
    assert command_from(line) == command


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("end", {}),
        ("end X-9", {"certificate": "X-9"}),
        ("end | M. Lind", {"authorised_by": "M. Lind"}),
        ("end X-9 | | new cable", {"certificate": "X-9", "remarks": "new cable"}),
    ],
)
def test_what_is_said_at_the_end_stands_in_the_place_of_what_is_proposed(line, said):
    assert command_from(line, PROPOSED) == Command(kind="go", ending=replace(PROPOSED, **said))
    assert command_from(line) is None  # before anything is proposed


# What is refused before a calibration begins.

REGISTER = """
[[standards]]
id = "bench-1"
kind = "bench"
what = "Calibration bench"
certificate = "INV-1"
issuer = "Invented laboratory"
expansion = 11.5
u_expansion = 0.6
drift_per_year = "0 mm"
valid_from = {first}
due = {due}
values = [
  {{ nominal = "0 mm", length = "0 mm", expanded_u = "0.2 µm", k = 2 }},
  {{ nominal = "25 mm", length = "25 mm", expanded_u = "0.2 µm", k = 2 }},
]

[[gauges]]
label = "DI-7"
identity = "{identity}"
kind = "indicator"
range = "10 mm"
step = "{step}"
profile = "{profile}"

[gauges.limits]
source = "invented"
over_range = "0.02 mm"
"""
PLAN = """
[plan]
title = "Three points"
revision = "1"
range = "{range}"
points = ["0 mm", "5 mm", "10 mm"]
"""


@pytest.fixture
def enter(tmp_path):
    """Enters a gauge and a bench in a new logbook; the words of the command on it."""

    def entered(*, left=1, identity="usb:1:1:7", step="0.001 mm", profile="decimal-line"):
        today = datetime.now(UTC).date()
        text = REGISTER.format(
            first=f"{today.year - 2}-01-01",
            due=f"{today.year + left}-12-31",
            identity=identity or "usb:0:0:0",
            step=step,
            profile=profile,
        )
        register = register_from_bytes(text.encode(), "r.toml")
        path, at = tmp_path / "lab.logbook", datetime.now(UTC)
        with Logbook.open(path) as book:
            book.append(standard_record(register.standard("bench-1"), "M. Lind", at))
            gauge = gauge_record(register.gauge("DI-7"), "M. Lind", at)
            book.append(gauge.model_copy(update={"identity": identity}))
        words = ["--logbook", str(path), "--operator", "M. Lind"]
        return path, ["calibrate", "DI-7", *words]

    return entered


@pytest.fixture
def port():
    """A gauge that rests at zero, on a port without identity."""
    with Bench.single("decimal-line") as bench:
        yield bench.ports["gauge"]


def refused(words, capsys):
    """What is said when it is refused; nothing may have been begun."""
    status = main(words)
    said = " ".join(capsys.readouterr().err.split())
    assert status in (2, 3)
    logbook = words[words.index("--logbook") + 1]
    with Logbook.read(logbook) as book:
        assert not any(book.entries(kind="calibration"))
    return said


def test_a_gauge_that_was_never_entered_is_refused(enter, capsys):
    _, words = enter()
    words[1] = "DI-8"
    assert "There is no gauge 'DI-8'" in refused([*words, "--standard", "bench-1"], capsys)


def test_a_gauge_on_another_adapter_than_it_was_entered_with_is_refused(enter, port, capsys):
    _, words = enter()
    said = refused([*words, "--standard", "bench-1", "--port", port], capsys)
    assert "DI-7 was entered on adapter usb:1:1:7, and this is one without identity" in said


def test_nobody_guesses_where_a_gauge_without_identity_is(enter, capsys):
    _, words = enter(identity="")
    said = refused([*words, "--standard", "bench-1"], capsys)
    assert "DI-7 was entered with no identity that an adapter can be found by" in said
    assert "Say where it is: --port PORT" in said


def test_a_profile_with_another_step_than_was_entered_is_refused(enter, port, capsys):
    _, words = enter(step="0.002 mm")
    said = refused([*words, "--standard", "bench-1", "--port", port], capsys)
    assert "entered with a step of 0.002 mm, and decimal-line shows 0.001 mm or 0.00127 mm" in said


def test_a_profile_that_is_none_is_refused(enter, port, capsys):
    _, words = enter(profile="no-such-profile")
    assert "no-such-profile" in refused([*words, "--standard", "bench-1", "--port", port], capsys)


@pytest.fixture
def free(enter):
    """As ``enter``, with a gauge whose adapter has no identity that is looked at."""

    def entered(monkeypatch, **more):
        path, words = enter(identity="usb:1:1:7", **more)
        monkeypatch.setattr("daq.measure.station.identity_of", lambda _: "usb:1:1:7")
        return path, words

    return entered


def test_a_standard_past_its_date_is_refused(free, port, capsys, monkeypatch):
    _, words = free(monkeypatch, left=-1)
    said = refused([*words, "--standard", "bench-1", "--port", port], capsys)
    assert "bench-1 was due on" in said
    assert "It cannot be used." in said


def test_a_standard_that_was_withdrawn_is_refused(free, port, capsys, monkeypatch):
    path, words = free(monkeypatch)
    with Logbook.open(path) as book:
        book.append(
            StatusChanged(
                uid=new_uid(),
                at=datetime.now(UTC),
                operator="M. Lind",
                about="standard",
                name="bench-1",
                what="withdrawn",
                reason="it fell down",
                by="M. Lind",
            )
        )
    said = refused([*words, "--standard", "bench-1", "--port", port], capsys)
    assert "withdrawn" in said
    assert "it fell down" in said


@pytest.mark.parametrize(
    ("more", "why"),
    [
        ([], "Say against which standard: --standard ID."),
        (["--standard", "bench-2"], "There is no standard 'bench-2'"),
        (["--standard", "bench-1", "--rule", "by feel"], "rule"),
        (["--standard", "bench-1", "--level", "95"], "write a share such as 0.95"),
        (["--standard", "bench-1", "--plan", "{plan}"], "for a range of 11 mm"),
        (["--standard", "bench-1", "--plan", "no-such.toml"], "no-such.toml cannot be read"),
    ],
)
def test_what_cannot_be_is_refused_before_anything_is_begun(
    more, why, free, port, capsys, monkeypatch, tmp_path
):
    _, words = free(monkeypatch)
    plan = tmp_path / "plan.toml"
    plan.write_text(PLAN.format(range="11 mm"))
    more = [each.replace("{plan}", str(plan)) for each in more]
    assert why in refused([*words, "--port", port, *more], capsys)


# Going on with one that is open.


@pytest.fixture
def opened(free, port, monkeypatch, tmp_path):
    """A calibration that was begun and stopped at once; its words and its logbook."""
    path, words = free(monkeypatch)
    plan = tmp_path / "plan.toml"
    plan.write_text(PLAN.format(range="10 mm"))
    words += ["--port", port]
    with (tmp_path / "nothing").open("w+") as nothing:
        monkeypatch.setattr("sys.stdin", nothing)
        assert main([*words, "--standard", "bench-1", "--plan", str(plan)]) == 3
    return path, words


def test_one_that_is_open_goes_on_by_what_it_was_begun_with(opened, capsys, monkeypatch, tmp_path):
    path, words = opened
    with (tmp_path / "nothing").open() as nothing:
        monkeypatch.setattr("sys.stdin", nothing)
        assert main(words) == 3
    assert "0 of 6 points as found. It is open" in capsys.readouterr().out
    with Logbook.read(path) as book:
        assert len(list(book.entries(kind="calibration"))) == 1


def test_another_standard_or_plan_is_not_slipped_in(opened, capsys, tmp_path):
    _, words = opened
    assert main([*words, "--standard", "bench-2"]) == 2
    assert "is still open, begun with bench-1" in " ".join(capsys.readouterr().err.split())
    other = tmp_path / "other.toml"
    other.write_text(PLAN.format(range="10 mm").replace("Three", "The same three"))
    assert main([*words, "--plan", str(other)]) == 2
    assert "begun by another plan (plan.toml)" in " ".join(capsys.readouterr().err.split())


def test_one_that_was_broken_off_is_open_no_more(opened, capsys):
    path, words = opened
    assert main([*words, "--break-off", "the spring broke"]) == 0
    assert "is broken off: the spring broke" in capsys.readouterr().out
    with Logbook.read(path) as book:
        assert open_calibration(book, "DI-7") is None
    assert main([*words, "--break-off", "once more"]) == 2
    assert "No calibration of 'DI-7' is open" in " ".join(capsys.readouterr().err.split())


# The page.

PAGE = (Path(__file__).parents[3] / "docs" / "calibrating.md").read_text("utf-8")
SECTION = PAGE.split("## A guided calibration\n")[1].split("\n## ")[0]


def test_the_page_explains_every_key_and_every_word_of_a_line():
    keys = {each.split()[0] for line in KEYS.values() for each in line.split("  ")} | {"c"}
    assert set(re.findall(r"^\| (\w+) \|", SECTION, re.M)) == keys | {"key"}
    words = {each.split()[0] for each in WORDS.split(", ")}
    assert {each.split()[0] for each in re.findall(r"`([a-z]+[^`]*)`", SECTION)} >= words


def test_the_screen_on_the_page_is_one_that_is_drawn():
    assert SECTION.count(KEYS["point"]) == 1
    assert "↑ up   ↓ down   ↕ both   o again   ─ limit" in SECTION
