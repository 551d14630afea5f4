"""What the live page looks like on a tablet, held either way, and on larger screens."""

import os
from pathlib import Path

import pytest

from tests.browser.browser import until
from tests.browser.live_page import BY_KEY, at_rest
from tests.end_to_end.road import steady

GLOVE_PX = 118
"""20 mm on a 10-inch tablet of 1280 by 800 pixels; 31 mm at 96 pixels an inch."""

MEASURES = """() => {
  const box = (element) => {
    const { x, y, right, bottom, width, height } = element.getBoundingClientRect();
    return { x, y, right, bottom, width, height };
  };
  const seen = (query) => [...document.querySelectorAll(query)]
    .filter((each) => each.checkVisibility() && box(each).height > 0);
  const svg = document.querySelector("#number svg");
  const { width, height } = box(svg);
  const [, , wide, high] = svg.getAttribute("viewBox").split(" ").map(Number);
  return {
    figuresHigh: high * Math.min(width / wide, height / high),
    buttons: seen("#buttons button").map(box),
    blocks: seen("#label, #target, #link, #mark, #number, #floor, #head, #scale, #facts, #buttons")
      .map((each) => [each.id, box(each)]),
    cut: seen("#label, #target, #link, #headline, #floor, #words, #last, #buttons button")
      .filter((each) => each.scrollWidth > each.clientWidth + 1).map((each) => each.id),
    lines: seen("#facts dl > div").map((each, at) => [at, box(each)]),
    facts: box(document.getElementById("facts")),
    page: [document.documentElement.scrollWidth, document.documentElement.scrollHeight],
  };
}"""


def overlapping(blocks):
    """Pairs of blocks that lie on each other by more than a pixel."""
    found = []
    for place, (name, one) in enumerate(blocks):
        for other_name, other in blocks[place + 1 :]:
            across = min(one["right"], other["right"]) - max(one["x"], other["x"])
            down = min(one["bottom"], other["bottom"]) - max(one["y"], other["y"])
            if across > 1 and down > 1:
                found.append((name, other_name))
    return found


def picture(page, name):
    """Kept for people to look at, where RESTPOINT_PICTURES names a folder."""
    folder = os.environ.get("RESTPOINT_PICTURES")
    if folder:
        page.screenshot(path=Path(folder) / f"{name}.png")


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize(
    ("width", "height", "least_share"),
    [(1280, 800, 0.4), (1920, 1080, 0.4), (2560, 1440, 0.4), (800, 1280, 0.2)],
)
def test_the_number_is_large_the_buttons_fit_a_glove_and_nothing_overlaps_or_scrolls(
    open_page, bench_live, width, height, least_share, scheme
):
    bench, program, _ = bench_live({"gauge": (steady("decimal-line", 12.38), None)}, *BY_KEY)
    size = {"width": width, "height": height}
    page = open_page(*program.addresses(), viewport=size, color_scheme=scheme)
    at_rest(page, "+0.080")
    page.click("#capture")
    until(page, '$("captured").textContent === "1" && $("headline").textContent === "LOWER"')
    found = page.evaluate(MEASURES)
    picture(page, f"live-{width}x{height}-{scheme}")
    assert found["figuresHigh"] >= least_share * height
    assert found["page"] == [width, height]
    assert len(found["buttons"]) == 3
    assert all(min(each["width"], each["height"]) >= GLOVE_PX for each in found["buttons"])
    assert not overlapping(found["blocks"])
    assert not found["cut"]
    assert not overlapping(found["lines"])
    assert max(each["bottom"] for _, each in found["lines"]) <= found["facts"]["bottom"] + 1

    bench.pull("gauge")
    until(page, '$("headline").textContent === "CABLE OUT"')
    found = page.evaluate(MEASURES)
    picture(page, f"blank-{width}x{height}-{scheme}")
    assert found["page"] == [width, height]
    assert not overlapping(found["blocks"])
    assert not found["cut"]
