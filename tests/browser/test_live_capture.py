"""A capture from the page, by hand or foot, from the terminal and by the gauge's own key."""

import re

import pytest

from drivers.profiles import load_profile
from simulated_devices import Bench, SimulatedGauge
from simulated_devices.motion import Ramp, Still
from tests.browser.browser import until
from tests.browser.live_page import BY_KEY, at_rest, said
from tests.end_to_end.bench_page import Terminal
from tests.end_to_end.road import captures_in, restpoint, steady

BY_HAND = (*BY_KEY, "--operator", "R. Ahlers")


def capture_seen(page, count):
    """Waits until the page says how many captures there are, and shows the news."""
    until(page, f'$("captured").textContent === "{count}"')


def proven(book, count):
    """The captures of a logbook that the command itself finds whole."""
    status, out, err = restpoint("log", "verify", book)
    assert (status, err) == (0, "")
    found = captures_in(book)
    assert len(found) == count, out
    return found


@pytest.mark.parametrize("press", ["click", "Space", "Enter", "PageDown"])
def test_a_press_captures_once_and_is_on_the_page_and_in_the_logbook(open_page, bench_live, press):
    _, program, book = bench_live({"gauge": (steady("decimal-line", 12.31), None)}, *BY_HAND)
    page = open_page(*program.addresses())
    at_rest(page, "+0.010")
    if press == "click":
        page.click("#capture")
    else:
        page.keyboard.press(press)
        page.keyboard.press(press)  # a foot bounces
    until(page, '$("headline").textContent === "CAPTURED"')
    capture_seen(page, 1)
    assert page.locator("#bench").get_attribute("data-form") == "slab"
    assert said(page, "last") != "–"
    (kept,) = proven(book, 1)
    assert float(kept.value_mm) == pytest.approx(12.31, abs=1e-6)
    assert (kept.trigger, kept.operator) == ("key", "R. Ahlers")
    page.goto(f"{page.watched.origin}/logbook")
    page.locator("#list li").first.wait_for()
    assert "12.31" in page.locator("#list").inner_text()


def test_a_capture_from_the_terminal_is_on_the_page(open_page, tmp_path):
    book = tmp_path / "a.logbook"
    with Bench({"gauge": (steady("decimal-line", 12.31), None)}) as bench, Terminal() as terminal:
        words = (f"decimal-line@{bench.ports['gauge']}", "--logbook", book, *BY_KEY)
        terminal.run("live", *words, "--listen", "127.0.0.1:0")
        (address,) = re.findall(rb"http://[^ \r\n]+", terminal.until(b"space bar"))
        page = open_page(address.decode())
        at_rest(page, "+0.010")
        terminal.press(b" ")
        until(page, '$("headline").textContent === "CAPTURED"')
        capture_seen(page, 1)
        page.click("#capture")
        capture_seen(page, 2)
        page.close()
        terminal.press(b"q")
        assert terminal.ended() == 0
    assert [each.trigger for each in proven(book, 2)] == ["key", "key"]


def test_the_data_key_of_a_gauge_captures_and_is_on_the_page(open_page, bench_live):
    gauge = SimulatedGauge(load_profile("marked-xor"), Still(12.31))
    bench, program, book = bench_live({"gauge": (gauge, None)}, *BY_HAND)
    page = open_page(*program.addresses())
    until(page, '$("link").textContent === "key"')
    bench.press("gauge", "data")
    capture_seen(page, 1)
    (kept,) = proven(book, 1)
    assert float(kept.value_mm) == pytest.approx(12.31, abs=1e-6)
    assert kept.trigger == "data key"


def test_a_press_while_it_moves_is_refused_with_the_reason_and_keeps_nothing(open_page, bench_live):
    slide = Ramp(by_mm=30.0, speed_mm_s=0.5)
    gauge = SimulatedGauge(load_profile("decimal-line"), slide)
    _, program, book = bench_live({"gauge": (gauge, None)}, *BY_HAND)
    page = open_page(*program.addresses())
    until(page, '$("motion").textContent === "moving"')
    page.click("#capture")
    until(page, '$("headline").textContent === "REFUSED"')
    assert said(page, "loud") == "the reading is still moving; hold still until it rests"
    assert page.locator("#bench").get_attribute("data-form") == "frame"
    assert said(page, "captured") == "0"
    proven(book, 0)


def test_a_viewer_sees_and_is_refused_with_the_reason(open_page, bench_live):
    words = (*BY_HAND, "--viewers")
    _, program, book = bench_live({"gauge": (steady("decimal-line"), None)}, *words)
    _, look = program.addresses(2)
    page = open_page(look)
    at_rest(page, "+0.040")
    assert page.locator("#capture").is_disabled()
    page.keyboard.press("Space")
    until(page, '$("headline").textContent === "REFUSED"')
    assert said(page, "loud") == "This screen may only look on."
    proven(book, 0)
