"""restpoint job report: which job, which files, which exit status."""

import json
import sqlite3
import subprocess
import sys

import pytest

from daq.cli import main
from daq.report.model import JobReport
from tests.daq.report.making import Job, good_job, poor_job


@pytest.fixture
def log(tmp_path):
    return tmp_path / "job.logbook"


def run(*words):
    return main(["job", "report", *map(str, words)])


def test_all_files_of_a_job_that_has_passed(log, tmp_path, capsys):
    good_job(log).book.close()
    out = tmp_path / "new" / "report.html"
    made = [out, tmp_path / "r.pdf", tmp_path / "csv" / "results.csv"]
    assert run(log, "--out", out, "--pdf", made[1], "--csv", tmp_path / "csv") == 0
    assert capsys.readouterr().out == "No. 2, port side: passed, 9 of 9 passed.\n"
    assert out.read_text("utf-8").startswith("<!doctype html>")
    assert made[1].read_bytes().startswith(b"%PDF-")
    assert made[2].read_text("utf-8").startswith("row,job_uid,engine")
    schema = json.loads((tmp_path / "csv" / "results.schema.json").read_text("utf-8"))
    assert schema["fields"][0]["name"] == "row"


def test_the_answer_is_no_if_it_has_not_passed(log, tmp_path, capsys):
    poor_job(log).book.close()
    assert run(log, "--out", tmp_path / "r.html") == 1
    assert capsys.readouterr().out.splitlines()[:2] == [
        "No. 2, port side: not passed, 7 of 9 passed.",
        "  1 of 9 overruled.",
    ]


def test_the_same_logbook_gives_the_same_files(log, tmp_path):
    poor_job(log).book.close()
    for name in ("a", "b"):
        folder = tmp_path / name
        run(log, "--out", folder / "r.html", "--pdf", folder / "r.pdf", "--csv", folder)
    for name in ("r.html", "r.pdf", "results.csv", "results.schema.json"):
        assert (tmp_path / "a" / name).read_bytes() == (tmp_path / "b" / name).read_bytes()


def test_the_model_as_json(log, capsys):
    job = good_job(log)
    assert run(log, "--json", "--utc-offset", "+01:00") == 0
    assert JobReport.model_validate_json(capsys.readouterr().out) == job.report()


def test_the_newest_job_or_the_one_that_was_asked_for(log, capsys):
    job = good_job(log)
    for engine in ("No. 3", "No. 4"):
        job.book.append(job.begun.model_copy(update={"uid": job.uid(), "engine": engine}))

    def engine(*words):
        run(log, "--json", *words)
        return json.loads(capsys.readouterr().out)["heading"]["engine"]

    assert engine() == "No. 4"
    assert engine("--engine", "No. 3") == "No. 3"
    assert engine("--job", job.begun.uid) == "No. 2, port side"
    assert run(log, "--json", "--engine", "No. 5") == 3
    assert f"{job.begun.uid} on No. 2, port side" in capsys.readouterr().err


def test_nothing_is_written_over_a_file(log, tmp_path, capsys):
    good_job(log).book.close()
    there = tmp_path / "csv" / "results.csv"
    there.parent.mkdir()
    there.write_text("mine")
    assert run(log, "--out", tmp_path / "r.html", "--csv", there.parent) == 3
    assert "results.csv is already there" in capsys.readouterr().err
    assert there.read_text() == "mine"
    assert not (tmp_path / "r.html").exists()


def test_no_report_is_made_from_a_logbook_that_was_altered(log, tmp_path, capsys):
    good_job(log).book.close()
    connection = sqlite3.connect(log)
    triggers = "SELECT name FROM sqlite_master WHERE type = 'trigger'"
    for (name,) in connection.execute(triggers).fetchall():
        connection.execute(f'DROP TRIGGER "{name}"')
    connection.execute("UPDATE records SET body = replace(body, '42.612', '42.600')")
    connection.commit()
    connection.close()
    assert run(log, "--out", tmp_path / "r.html") == 3
    assert "is not as restpoint left it" in capsys.readouterr().err
    assert not (tmp_path / "r.html").exists()


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ([], "Say what to make"),
        (["--json", "--job", "x", "--engine", "y"], "not both"),
        (["--json", "--utc-offset", "1"], "is no offset from UTC"),
    ],
)
def test_what_is_asked_wrongly_is_told(words, said, log, capsys):
    Job(log).book.close()
    assert run(log, *words) == 2
    assert said in capsys.readouterr().err


def test_help_and_the_room_itself_do_not_wait_for_the_makers_of_files():
    program = (
        "import sys, daq.report, daq.cli, daq.cli.job, daq.cli.job_report\n"
        "print(*sorted({'jinja2', 'typst', 'markupsafe'} & set(sys.modules)))"
    )
    command = [sys.executable, "-c", program]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    assert done.stdout.split() == []
