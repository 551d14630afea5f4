"""The PDF certificate: numbered on every page, the same bytes each time."""

import io
import sys

import pytest
from pypdf import PdfReader

from daq.report import PdfError
from daq.report.certificate.pdf import pdf_of
from tests.daq.report.certificate.making import STORIES, adjusted, broken_off, gauge, unfinished
from tests.daq.report.reading import closed_up, pdf_text


def pages_of(pdf):
    return [closed_up(page.extract_text()) for page in PdfReader(io.BytesIO(pdf)).pages]


def test_every_page_has_the_number_and_which_page_of_how_many_it_is():
    pages = pages_of(pdf_of(adjusted().model()))
    assert len(pages) > 5
    for at, page in enumerate(pages, 1):
        assert f"Certificate2026-0042page{at}of{len(pages)}" in page
    assert "Endofthisdocument·Certificate2026-0042" in pages[-1]


@pytest.mark.parametrize(("make", "word"), [(unfinished, "DRAFT"), (broken_off, "VOID")])
def test_what_is_no_certificate_says_so_on_every_page(make, word):
    pages = pages_of(pdf_of(make().model()))
    for at, page in enumerate(pages, 1):
        assert f"{word},nocertificate:DI-7,calibrationabcd0000page{at}of{len(pages)}" in page
        assert page.count(word) >= 2  # across the page too
    assert "Calibrationcertificate" not in "".join(pages)


@pytest.mark.parametrize("story", ["troubled", "unfinished"])
def test_the_same_calibration_is_the_same_pdf(story):
    made = pdf_of(STORIES[story]().model())
    assert made.startswith(b"%PDF-")
    assert made == pdf_of(STORIES[story]().model())


def test_it_is_dated_by_the_last_record_and_not_by_the_clock():
    model = adjusted().model()
    made = PdfReader(io.BytesIO(pdf_of(model))).metadata.creation_date
    assert made == model.dates.last.utc.replace(microsecond=0)


def test_words_of_records_are_never_taken_for_markup():
    nasty = '#panic("x") *bold* $x^2$ <label> @ref // no \\ comment'
    story = adjusted(customer=nasty, gauge_facts=gauge(label="#panic()"), ended={"remarks": nasty})
    text = pdf_text(pdf_of(story.model()))
    assert text.count('#panic("x")*bold*$x^2$<label>@ref//no\\comment') == 2


def test_without_the_extra_it_says_what_to_install(monkeypatch):
    model = unfinished().model()
    monkeypatch.setitem(sys.modules, "typst", None)  # as if it were not installed
    with pytest.raises(PdfError, match=r"Install restpoint\[pdf\], or open the HTML certificate"):
        pdf_of(model)
