"""The calibration of a job's gauges in its report: how they stood, and who answered for them."""

import csv
import io

import pytest

from daq.report.csv import csv_of
from daq.report.html import html_of
from daq.report.pdf import pdf_of
from tests.daq.report.making import Job
from tests.daq.report.reading import closed_up, html_text, pdf_text

FORMATS = {"html": lambda report: html_text(html_of(report)), "pdf": lambda r: pdf_text(pdf_of(r))}


@pytest.fixture
def job(tmp_path):
    return Job(tmp_path / "log")


def finish(job):
    job.liners()
    job.racks()
    job.stop()
    job.end()
    return job.report()


def rows_of(report):
    return list(csv.DictReader(io.StringIO(csv_of(report))))


def test_a_gauge_in_date_is_named_with_its_certificate_and_day(job):
    job.calibration("setting")
    report = finish(job)
    assert (report.outcome.status, report.exempted, report.outcome.why) == ("passed", (), ())
    setting, depth = report.gauges
    (known,) = setting.calibrations
    assert (known.standing, known.certificate, known.due) == ("in date", "C-0815", "2027-01-31")
    assert (known.record, known.used, depth.calibrations) == (3, "", ())


def test_a_gauge_that_was_used_though_overdue_stands_on_the_front_page_with_reason_and_name(job):
    job.used(job.calibration("setting", "overdue", usable=False))
    report = finish(job)
    (told,) = report.exempted
    assert (told.what, told.step, told.target) == (
        "used though overdue", "gauge DI-07 (setting)", "",
    )  # fmt: skip
    assert (told.reason, told.by, told.record) == ("no other is here", "B. Foreman", 4)
    (why,) = report.not_passed
    assert (why.step, why.target, why.why) == ("gauge DI-07 (setting)", "", "used though overdue")
    assert report.outcome.status == "not passed"
    assert report.outcome.why == ("Gauge DI-07 (setting) was used though overdue.",)
    assert report.gauges[0].calibrations[0].used == "no other is here (B. Foreman)"


def test_one_that_was_answered_for_and_measured_nothing_spoils_nothing(job):
    job.liners()
    job.racks()
    job.used(job.calibration("setting", "overdue", usable=False))
    job.stop()
    job.end()
    report = job.report()
    assert (report.outcome.status, report.not_passed) == ("passed", ())
    assert [each.what for each in report.exempted] == ["used though overdue"]


def test_what_was_done_other_than_the_sheet_has_it_comes_in_the_order_it_was_recorded(job):
    first = job.exception("liner", "cylinder 1", "skipped")
    job.used(job.calibration("setting", "withdrawn", usable=False))
    last = job.exception("liner", "cylinder 2", "skipped")
    whats = [(each.what, each.at) for each in job.report().exempted]
    assert whats[0] == ("skipped", first.at)
    assert whats[1][0] == "used though withdrawn"
    assert whats[2] == ("skipped", last.at)


def test_every_row_says_how_its_gauge_stood_when_it_was_measured(job):
    job.liners()
    job.calibration("setting", "due", certificate="C-1")
    job.racks()
    job.calibration("depth", "limited range", certificate="C-2")
    job.stop()
    job.end()
    said = {
        (row["step"], row["gauge_standing"], row["gauge_certificate"])
        for row in rows_of(job.report())
        if row["kind"] in ("result", "master", "part")
    }
    assert said == {
        ("liner", "", ""), ("rack", "due", "C-1"), ("stop", "limited range", "C-2"),
    }  # fmt: skip


@pytest.mark.parametrize("form", FORMATS)
def test_it_can_be_read(job, form):
    job.used(job.calibration("setting", "overdue", usable=False))
    job.calibration("setting", certificate="C-0816", words="DI-07 is in date again.")
    text = FORMATS[form](finish(job))
    for words in (
        "certificate C-0815, due 2027-01-31",
        "used nevertheless: no other is here (B. Foreman)",
        "in date: DI-07 is in date again.",
        "certificate C-0816",
        "nothing is known",
        "gauge DI-07 (setting) used though overdue",
    ):
        assert closed_up(words) in text, words
