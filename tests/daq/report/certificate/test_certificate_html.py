"""The HTML certificate: one file that asks for nothing, safe whatever the records say."""

import re

import pytest

from daq.report.certificate import Laboratory, Typed
from daq.report.certificate.html import css_string, html_of
from tests.daq.report.certificate.making import (
    STORIES,
    adjusted,
    broken_off,
    gauge,
    troubled,
    unfinished,
    untouched,
)
from tests.daq.report.reading import html_text

NASTY = '</style><script>alert(1)</script> & "it\'s" {{ 777 * 777 }} ]]> \x1b[31m \\" } @import x;'


def test_the_first_page_says_which_gauge_and_whether_it_passes():
    text = html_text(html_of(adjusted().model()))
    front = text[: text.index("Resultsasfound")]
    order = [
        "indicatorDI-7", "Calibrationcertificate", "2026-0042", "Pass", "Asfound:fail", "DI-7",
        "InventedLengthLaboratory", "Engineshop,B.Foreman", "Whatwasjudged", "spanerror",
        "authorisedC.Head", "duenext2027-06-01",
    ]  # fmt: skip
    at = 0
    for each in order:
        at = front.index(each, at) + len(each)


def test_a_doubt_stands_on_the_first_page():
    text = html_text(html_of(troubled().model()))
    front = text[: text.index("Resultsasfound")]
    assert "Indoubt:asleft:Thezerohadmovedby0.004mmattheend." in front
    assert "tobeusedfrom1.5mmto10mmonly" in front


@pytest.mark.parametrize(("make", "word"), [(unfinished, "draft"), (broken_off, "void")])
def test_what_is_no_certificate_does_not_look_like_one(make, word):
    html = html_of(make().model())
    text = html_text(html)
    assert f'<html lang="en" class="{word}">' in html
    assert f"<span>{word.upper()}</span>" in html
    assert text.count(f"{word.upper()},nocertificate:DI-7") >= 2
    assert "Thisisnocertificate." in text
    assert "Calibrationcertificate" not in text
    assert "issuednotissued" in text
    assert '<section class="box good">' not in html


def test_a_certificate_has_no_such_mark():
    html = html_of(adjusted().model())
    assert '<section class="box good">' in html
    assert 'class="none-such"' not in html


def test_a_fail_does_not_look_like_a_pass():
    html = html_of(failed().model())
    assert '<section class="box bad">' in html
    assert '<section class="box good">' not in html


def failed():
    """Left as it was found: beyond its limits."""
    story = STORIES["unfinished"]()
    story.gate("not adjusted")
    story.end("fail", "fail")
    return story


def test_it_says_that_nobody_authorised_it():
    text = html_text(html_of(adjusted(ended={"authorised_by": ""}).model()))
    assert "authorisedNotauthorised;nonamewasgiven." in text


def test_what_nobody_stated_is_said_to_be_so():
    text = html_text(html_of(untouched(customer="", place="", order="").model(Typed())))
    for each in ("laboratory", "address", "contact", "doneat", "customer", "order", "condition"):
        assert f"{each}notstated" in text


def test_printed_every_page_has_its_number_and_the_end_is_clear():
    model = adjusted().model()
    html = html_of(model)
    assert f"@bottom-left {{ content: {css_string('Certificate 2026-0042')};" in html
    assert 'content: "page " counter(page) " of " counter(pages)' in html
    assert html_text(html).endswith("Endofthisdocument·Certificate2026-0042")


def test_words_of_records_are_never_taken_for_markup():
    story = adjusted(
        gauge_facts=gauge(label="x</style><b>"),
        place=NASTY, customer=NASTY, order=NASTY,
        ended={"certificate": NASTY, "due_words": NASTY, "authorised_by": NASTY, "remarks": NASTY},
    )  # fmt: skip
    story.result(
        "as left", [each for each in story.kept.records if getattr(each, "run", "") == "as left"
                    and each.kind == "calibration point"], remarks=(NASTY,), doubts=(NASTY,),
    )  # fmt: skip
    html = html_of(story.model(Typed(Laboratory(name=NASTY, address=(NASTY,)))))
    assert "<script" not in html
    assert "x</style>" not in html
    assert html.count("</style>") == 1
    assert str(777 * 777) not in html
    assert html_text(html).count("<script>alert(1)</script>") >= 10


def test_a_string_of_css_has_nothing_but_letters_and_escapes():
    escaped = css_string('a"b\\ </style>\n£')
    assert re.fullmatch(r'"([A-Za-z0-9]|\\[0-9a-f]{6})*"', escaped)
    assert escaped == '"a\\000022b\\00005c\\000020\\00003c\\00002fstyle\\00003e\\000020\\0000a3"'


def test_the_file_asks_for_no_other_and_runs_nothing():
    html = html_of(troubled().model())
    for tag in ("<link", "<script", "<img", "<iframe", "<object", "@import", "url("):
        assert tag not in html
    assert not re.search(r"\s(src|href|action|on[a-z]+|xlink:href)\s*=", html)
    assert set(re.findall(r"https?://[^\s\"'<]+", html)) == {"http://www.w3.org/2000/svg"}


@pytest.mark.parametrize("story", STORIES)
def test_the_same_calibration_is_the_same_file(story):
    assert html_of(STORIES[story]().model()) == html_of(STORIES[story]().model())
