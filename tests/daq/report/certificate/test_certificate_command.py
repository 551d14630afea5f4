"""restpoint certificate: which calibration, which files, which exit status."""

import sqlite3

import click
import pytest

from daq.cli.certificate import FORMATS, command
from daq.report import ReportExistsError
from daq.report.certificate import CertificateError, CertificateModel
from daq.report.certificate.files import FORMATS as MADE
from tests.daq.report.certificate.making import adjusted, broken_off, unfinished


@pytest.fixture
def log(tmp_path):
    return tmp_path / "lab.logbook"


def run(*words):
    return command.main([*map(str, words)], standalone_mode=False)


def test_all_files_of_a_certificate_that_says_pass(log, tmp_path, capsys):
    adjusted(log).book.close()
    lab = tmp_path / "lab.toml"
    lab.write_text('name = "Invented Length Laboratory"\n')
    out = tmp_path / "out"
    flags = [f"--{name}" for name in FORMATS]
    words = ["2026-0042", "--logbook", log, *flags, "--lab", lab, "--output", out]
    assert run(*words, "--received", "2026-05-29", "--condition", "clean") == 0
    said = capsys.readouterr()
    assert said.out.startswith("Certificate 2026-0042, DI-7: pass.\n  As found: fail; 3 of 4")
    assert sorted(each.name for each in out.iterdir()) == [
        f"certificate-2026-0042.{each}" for each in ("csv", "html", "json", "pdf", "schema.json")
    ]
    model = CertificateModel.model_validate_json(
        (out / "certificate-2026-0042.json").read_text("utf-8")
    )
    assert model.laboratory.name == "Invented Length Laboratory"
    assert (str(model.dates.received), model.gauge.condition) == ("2026-05-29", "clean")
    assert model.due is not None


def test_every_format_that_can_be_asked_for_can_be_made():
    assert set(FORMATS) <= set(MADE)


def test_a_gauge_is_its_newest_calibration(log, tmp_path, capsys):
    adjusted(log).book.close()
    assert run("DI-7", "--logbook", log, "--csv", "--output", tmp_path / "out") == 0
    assert "Certificate 2026-0042" in capsys.readouterr().out


@pytest.mark.parametrize(("make", "state"), [(unfinished, "draft"), (broken_off, "void")])
def test_the_answer_is_no_where_there_is_no_certificate(make, state, log, tmp_path, capsys):
    make(log).book.close()
    assert run("DI-7", "--logbook", log, "--html", "--output", tmp_path) == 1
    assert f"DI-7: {state}." in capsys.readouterr().out
    assert (tmp_path / f"{state}-DI-7-abcd0000.html").exists()


def test_the_answer_is_no_if_a_record_was_taken_back(log, tmp_path, capsys):
    story = adjusted(log)
    story.note(story.kept.ended)
    story.book.close()
    assert run("2026-0042", "--logbook", log, "--html", "--output", tmp_path) == 1
    assert "was taken back by B. Foreman" in capsys.readouterr().out


def test_the_day_on_which_it_is_due_can_be_left_out(log, tmp_path, capsys):
    adjusted(log).book.close()
    run("DI-7", "--logbook", log, "--json", "--no-due", "--output", tmp_path)
    text = (tmp_path / "certificate-2026-0042.json").read_text("utf-8")
    assert CertificateModel.model_validate_json(text).due is None


def test_nobody_authorised_it_is_said_at_once(log, tmp_path, capsys):
    adjusted(log, ended={"authorised_by": ""}).book.close()
    run("DI-7", "--logbook", log, "--csv", "--output", tmp_path)
    assert "Not authorised; no name was given." in capsys.readouterr().out


def test_the_same_logbook_gives_the_same_files_also_when_it_has_grown(log, tmp_path, capsys):
    story = adjusted(log)
    story.book.last()  # all of it is written
    flags = ["--logbook", log, "--html", "--pdf", "--csv", "--json", "--utc-offset", "+02:00"]
    run("DI-7", *flags, "--output", tmp_path / "a")
    story.capture(story.kept.gauge.step_mm)
    story.book.close()
    run("DI-7", *flags, "--output", tmp_path / "b")
    made = list((tmp_path / "a").iterdir())
    assert len(made) == 5
    for each in made:
        assert each.read_bytes() == (tmp_path / "b" / each.name).read_bytes()


def test_no_file_is_written_over(log, tmp_path, capsys):
    adjusted(log).book.close()
    there = tmp_path / "certificate-2026-0042.html"
    there.write_text("mine")
    with pytest.raises(ReportExistsError, match="is already there"):
        run("DI-7", "--logbook", log, "--csv", "--html", "--output", tmp_path)
    assert there.read_text() == "mine"
    assert not (tmp_path / "certificate-2026-0042.csv").exists()


def test_what_is_not_there_is_said_with_what_is(log, tmp_path):
    adjusted(log).book.close()
    with pytest.raises(CertificateError, match=r"no gauge 'DI-9'.*2026-0042, DI-7 of 2026-06-01"):
        run("DI-9", "--logbook", log, "--html")


def test_no_certificate_is_made_from_a_logbook_that_was_altered(log, tmp_path):
    adjusted(log).book.close()
    with sqlite3.connect(log) as book:
        for (name,) in book.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'"):
            book.execute(f"DROP TRIGGER {name}")
        book.execute("UPDATE records SET body = replace(body, '0.00230', '0.00130')")
    book.close()
    with pytest.raises(CertificateError, match="is not as restpoint left it"):
        run("DI-7", "--logbook", log, "--html", "--output", tmp_path)


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ([], "Say what to make: --html, --pdf, --csv, --json"),
        (["--html", "--received", "yesterday"], "is no day; write it such as"),
        (["--html", "--utc-offset", "CET"], "is no offset from UTC"),
    ],
)
def test_what_makes_no_sense_is_refused_before_anything_is_read(words, says, tmp_path):
    with pytest.raises(click.UsageError, match=says):
        run("DI-7", "--logbook", tmp_path / "none.logbook", *words)


def test_a_laboratory_file_that_is_not_there_is_said(log, tmp_path):
    with pytest.raises(CertificateError, match="cannot be read"):
        run("DI-7", "--logbook", log, "--html", "--lab", tmp_path / "none.toml")
