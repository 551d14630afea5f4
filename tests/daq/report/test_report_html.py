"""The HTML report: one file that asks for nothing, safe whatever the records say."""

import re

import pytest

from daq.report.html import html_of
from tests.daq.report.making import Job, good_job, poor_job
from tests.daq.report.reading import html_text


@pytest.fixture
def log(tmp_path):
    return tmp_path / "log"


def test_the_first_words_say_whether_it_passed(log):
    text = html_text(html_of(good_job(log).report()))
    assert text.startswith("ReportofajobNo.2,portside")
    front = text[: text.index("Stepbystep")]
    order = [
        "Passed", "9of9passed", "A.Fitter,C.Second", "DI-07(setting)", "Notpassed:nothing",
        "Skipped,overruled,measuredagain:nothing", "Indoubt:nothing", "certificate4711",
    ]  # fmt: skip
    places = [front.index(each) for each in order]
    assert places == sorted(places)


def test_what_did_not_pass_stands_on_the_front_with_reason_and_name(log):
    text = html_text(html_of(poor_job(log).report()))
    front = text[: text.index("Stepbystep")]
    assert "Notpassed7of9passed" in front
    assert "rack,injector3high:+0.0631mmfromnominal" in front
    assert "overruledthenewrackcomesnextweekansweredforbyB.Foreman" in front
    assert 'skippedno<pin>&no"tool"athand' in front


@pytest.mark.parametrize("status", ["passed", "not-passed", "unfinished", "broken-off"])
def test_each_status_has_its_own_look(status, log):
    make = {"passed": good_job, "not-passed": poor_job}.get(status, Job)
    job = make(log)
    if status == "broken-off":
        job.end("broken off", "")
    html = html_of(job.report())
    assert f'<section class="verdict {status}">' in html
    assert f".verdict.{status}" in html or status == "not-passed"


def test_words_of_records_are_never_taken_for_markup(log):
    nasty = '<script>alert(1)</script> & "it\'s" {{ 777 * 777 }} ]]> \x1b[31m'
    job = Job(log, engine=nasty, station=nasty, operator=nasty)
    target = "cylinder 1"
    job.result("liner", target, "as found", "0.2", remarks=(nasty,), doubts=(nasty,), what=nasty)
    job.exception("liner", target, "overruled", reason=nasty, by=nasty)
    job.gate("plate", asked=nasty)
    job.note(job.begun, "remark", nasty)
    html = html_of(job.report())
    assert "<script" not in html
    assert str(777 * 777) not in html
    assert html_text(html).count("<script>alert(1)</script>") >= 8


def test_the_file_asks_for_no_other_and_runs_nothing(log):
    html = html_of(poor_job(log).report())
    for tag in ("<link", "<script", "<img", "<iframe", "<object", "@import", "url("):
        assert tag not in html
    assert not re.search(r"\s(src|href|action|on[a-z]+|xlink:href)\s*=", html)
    # A name space is a name; it is asked for by nobody.
    assert set(re.findall(r"https?://[^\s\"'<]+", html)) == {"http://www.w3.org/2000/svg"}


def test_the_same_report_is_the_same_file(log):
    job = poor_job(log)
    assert html_of(job.report()) == html_of(job.report())


def test_it_is_made_for_paper_and_its_inks_can_be_read(log):
    """Contrast after WCAG 2.2, 1.4.3: 4.5 to 1; formula of its glossary."""
    html = html_of(good_job(log).report())
    assert "@page { size: A4" in html
    inks = dict(re.findall(r"--(ink|soft|good|bad): (#[0-9a-f]{6})", html))
    assert set(inks) == {"ink", "soft", "good", "bad"}
    for ink in inks.values():
        assert contrast(ink, "#ffffff") >= 7
        assert contrast(ink, "#e9ebee") >= 4.5


def luminance(colour):
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    red, green, blue = (x / 12.92 if x <= 0.04045 else ((x + 0.055) / 1.055) ** 2.4 for x in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one, other):
    dark, light = sorted((luminance(one), luminance(other)))
    return (light + 0.05) / (dark + 0.05)


def test_the_contrast_formula_gives_its_known_ends():
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#777777", "#777777") == pytest.approx(1)
