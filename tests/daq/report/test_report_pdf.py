"""The PDF report: the same bytes each time, and a clear refusal where it cannot be made."""

import io
import sys

import pytest
from pypdf import PdfReader

from daq.report import PdfError
from daq.report.pdf import pdf_of
from tests.daq.report.making import Job, good_job
from tests.daq.report.reading import pdf_text


@pytest.fixture
def log(tmp_path):
    return tmp_path / "log"


def test_the_same_report_is_the_same_pdf(log):
    report = good_job(log).report()
    made = pdf_of(report)
    assert made.startswith(b"%PDF-")
    assert made == pdf_of(report)


def test_it_is_dated_by_the_last_record_and_not_by_the_clock(log):
    report = good_job(log).report()
    made = PdfReader(io.BytesIO(pdf_of(report))).metadata.creation_date
    assert made == report.heading.last.utc.replace(microsecond=0)


def test_an_empty_job_makes_a_report_too(log):
    text = pdf_text(pdf_of(Job(log).report()))
    assert "Unfinished0of9passed" in text
    assert "9of9notdone." in text


def test_words_of_records_are_never_taken_for_markup(log):
    nasty = '#panic("x") *bold* $x^2$ <label> @ref // no \\ comment'
    job = Job(log, engine=nasty)
    job.gate("plate", asked=nasty)
    text = pdf_text(pdf_of(job.report()))
    assert text.count('#panic("x")*bold*$x^2$<label>@ref//no\\comment') >= 2


def test_without_the_extra_it_says_what_to_install(log, monkeypatch):
    monkeypatch.setitem(sys.modules, "typst", None)  # as if it were not installed
    with pytest.raises(PdfError, match=r"Install restpoint\[pdf\], or open the HTML report"):
        pdf_of(Job(log).report())
