"""The logbook page finds records by their words, and a record is shown with its readings."""

import pytest

from tests.browser.browser import until
from tests.browser.live_page import BY_KEY, at_rest
from tests.browser.test_live_layout import picture
from tests.end_to_end.road import captures_in, steady

FOUND = "document.querySelectorAll('#list li').length"


@pytest.fixture
def two_captures(bench_live, open_page):
    """A page on a bench with two captures in its logbook, from two sources; the logbook."""
    words = (*BY_KEY, "--operator", "R. Vale")
    _, program, book = bench_live({"gauge": (steady("decimal-line"), None)}, *words)
    page = open_page(*program.addresses())
    for count in ("1", "2"):
        at_rest(page, "+0.040")
        page.click("#capture")
        until(page, f'$("captured").textContent === "{count}"')
        until(page, f"now > {until(page, 'true') + 320}")
    page.goto(f"{page.watched.origin}/logbook")
    until(page, f"{FOUND} === 3")
    return page, book


def search(page, words):
    page.fill("#q", words)
    page.keyboard.press("Enter")


def test_records_are_found_by_their_words_kind_and_day(two_captures):
    page, book = two_captures
    newest = captures_in(book)[-1]
    picture(page, "logbook-1280x800")
    search(page, "vale")
    until(page, f"{FOUND} === 2")
    search(page, newest.uid)
    until(page, f"{FOUND} === 1")
    assert "?q=" in page.url
    search(page, "nothing of the sort")
    until(page, f"""{FOUND} === 0 && $("foot").textContent.startsWith("Nothing found")""")
    page.click("#clear")
    until(page, f"{FOUND} === 3")
    page.select_option("#kind", "logbook")
    until(page, f"{FOUND} === 1")
    page.reload()
    until(page, f"{FOUND} === 1")
    assert page.locator("#kind").input_value() == "logbook"
    page.click("#clear")
    page.fill("#day", "2001-01-01")
    until(page, f"{FOUND} === 0")


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_a_record_is_shown_with_its_readings_and_its_hash(two_captures, scheme):
    page, book = two_captures
    kept = captures_in(book)[-1]
    page.emulate_media(color_scheme=scheme)
    page.locator("#list a").first.click()
    until(page, '$("trace").querySelector("svg") !== null')
    assert page.locator("#uid").text_content() == kept.uid
    assert page.locator("#name").text_content() == "Record 3: capture"
    drawn = page.locator("#trace svg")
    assert drawn.locator("path").count() + drawn.locator("circle").count() >= 2
    assert f"{len(kept.readings)} readings" in page.locator("#trace-words").text_content()
    fields = page.locator("#fields").inner_text()
    for each in ("R. Vale", "decimal-line", str(kept.value_mm)):
        assert each in fields
    assert page.locator("#chain").text_content().startswith("It fits its own hash. Record 3 of 3.")
    for width, height in ((1280, 800), (800, 1280)):
        page.set_viewport_size({"width": width, "height": height})
        until(page, f"innerWidth === {width}")
        picture(page, f"record-{width}x{height}-{scheme}")
        assert page.evaluate("document.documentElement.scrollWidth") == width
    page.click("#before")
    until(page, '$("name").textContent === "Record 2: capture"')
