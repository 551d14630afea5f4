"""The number on the live page is the number that the gauge sends, with the way to go."""

import pytest

from drivers.profiles import load_profile
from simulated_devices import SimulatedGauge
from simulated_devices.motion import Ramp, Still
from tests.browser.browser import until
from tests.browser.live_page import BY_KEY, at_rest, painted, said
from tests.end_to_end.road import steady

UP, DOWN = "M50 98V14", "M50 2V86"
ANTICLOCKWISE, LEAVE = "M84 98V46", "M8 54L38 84"
ON_M10 = ("--thread", "M10x1.5", "--clicks", "12")


class Pushed:
    """A plunger that rests until it is pushed."""

    def __init__(self, at_mm):
        self.at_mm, self.push = at_mm, Still(0.0)

    def at(self, t_s):
        return self.at_mm + self.push.at(t_s)


@pytest.mark.parametrize(
    ("at_mm", "digits", "headline", "arrow", "words", "more"),
    [
        (12.34, "+0.040", "LOWER", DOWN, "lower 0.040 mm · within limits", ()),
        (12.171, "-0.129", "RAISE", UP, "raise 0.129 mm · below the lower limit", ()),
        (12.3, "0.000", "LEAVE IT", LEAVE, "leave it · within limits", ()),
        (12.38, "+0.080", "ANTICLOCKWISE 1/16", ANTICLOCKWISE,
         "anticlockwise about 1/16 turn (19°), about 1 click · above the upper limit", ON_M10),
    ],
)  # fmt: skip
def test_the_page_shows_what_the_gauge_sends_and_says_which_way_and_how_far(
    open_page, bench_live, at_mm, digits, headline, arrow, words, more
):
    gauge = steady("decimal-line", at_mm)
    _, program, _ = bench_live({"gauge": (gauge, None)}, *BY_KEY, *more)
    page = open_page(*program.addresses())
    at_rest(page, digits)
    assert painted(page) == digits
    assert said(page, "length") == f"{gauge.shown().value} mm"
    assert said(page, "digits-unit") == "mm"
    assert said(page, "headline") == headline
    assert said(page, "words") == words
    assert said(page, "limits") == "-0.050 mm to +0.050 mm"
    assert page.locator("#mark path").get_attribute("d").startswith(arrow)
    assert said(page, "link") == "signal"


def test_the_needle_stands_where_the_number_says(open_page, bench_live):
    _, program, _ = bench_live({"gauge": (steady("decimal-line", 12.325), None)}, *BY_KEY)
    page = open_page(*program.addresses())
    at_rest(page, "+0.025")
    boxes = [page.locator(f"#gate .{each}").first.bounding_box() for each in ("hand", "aim")]
    (low, high) = (each.bounding_box() for each in page.locator("#gate .edge").all())
    middle = [each["x"] + each["width"] / 2 for each in (*boxes, low, high)]
    hand, aim, lower, upper = middle
    assert aim == pytest.approx((lower + upper) / 2, abs=1)
    assert hand == pytest.approx(aim + (upper - aim) / 2, abs=2)  # 0.025 of 0.050


def test_a_number_moves_comes_to_rest_and_moves_again(open_page, bench_live):
    plunger = Pushed(12.4)
    gauge = SimulatedGauge(load_profile("decimal-line"), plunger)
    bench, program, _ = bench_live({"gauge": (gauge, None)}, *BY_KEY)
    page = open_page(*program.addresses())
    at_rest(page, "+0.100")
    with bench.still():
        plunger.push = Ramp(by_mm=-0.2, speed_mm_s=0.1, start_s=gauge.t_s)
    until(page, '$("motion").textContent === "moving" && $("bench").dataset.motion === "moving"')
    assert said(page, "settled") == "–"
    at_rest(page, "-0.100")
    assert said(page, "settled").startswith("-0.1000")
    assert painted(page) == "-0.100"


def test_the_page_asks_nobody_but_the_bench(open_page, bench_live):
    _, program, _ = bench_live({"gauge": (steady("decimal-line"), None)}, *BY_KEY)
    (address,) = program.addresses()
    page = open_page(address)
    at_rest(page)
    for path in ("/logbook", "/job", "/calibration", "/"):
        page.goto(page.watched.origin + path)
    at_rest(page)
    port = page.watched.origin.rpartition(":")[2]
    asked = page.watched.asked
    assert {each for each in asked if f"//127.0.0.1:{port}/" not in each} == set()
    assert f"ws://127.0.0.1:{port}/live" in asked
    assert f"{page.watched.origin}/static/live.js" in asked
    loaded = page.evaluate("performance.getEntriesByType('resource').map((each) => each.name)")
    assert loaded
    assert not [each for each in loaded if not each.startswith(page.watched.origin)]
