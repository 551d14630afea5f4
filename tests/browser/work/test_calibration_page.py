"""A calibration begun and measured by clicks: each point comes into the curve and the logbook."""

from decimal import Decimal

import pytest

from daq.logbook import Logbook
from tests.browser.browser import until
from tests.browser.test_live_layout import picture
from tests.browser.work.pressing import press

PLAN = """
[plan]
title = "Short"
revision = "1"
range = "10 mm"
points = ["0 mm", "5 mm", "10 mm"]
soak = 0

[[repeats]]
at = "5 mm"
times = 5
"""

DIGITS = "document.querySelector('[data-part=digits]').textContent"


MARKS = "document.querySelectorAll('#curve .mark').length"


def points(book):
    with Logbook.read(book) as reader:
        return [each.record for each in reader.entries(kind="calibration point")]


def come_to(page, rig, nominal_mm):
    """Back off, come to a length from below, and wait until the page shows that it rests there."""
    there_mm = rig.travel_mm([Decimal(nominal_mm)]) if nominal_mm else 0.0
    rig.go_to(there_mm - 1.0)
    until(page, f"Math.abs(parseFloat({DIGITS}) - {there_mm - 1}) < 0.05")
    rig.go_to(there_mm)
    near = f"Math.abs(parseFloat({DIGITS}) - {there_mm}) < 0.05"
    until(page, f'{near} && $("strip").dataset.motion === "at rest"')


@pytest.fixture
def begun(bench_calibrate, tmp_path, open_page):
    """A calibration that asks for its conditions: the page, the rig, the logbook."""
    plan = tmp_path / "plan.toml"
    plan.write_text(PLAN, "utf-8")
    rig, program, book = bench_calibrate("--plan", plan, "--by-key", plan=PLAN)
    page = open_page(*program.addresses())
    page.goto(f"{page.watched.origin}/calibration")
    until(page, '$("figure") !== null')
    return page, rig, book


def test_a_calibration_is_begun_and_its_curve_grows_by_clicks(begun):
    page, rig, book = begun
    press(page, "go")
    until(page, '$("notice").textContent.includes("type a number")')
    page.fill("#figure", "20.3")
    press(page, "go")
    until(page, '$("temperature").textContent.startsWith("20.3")')
    errors_mm = []
    for place, nominal_mm in enumerate((0, 5, 10)):
        until(page, f'document.body.textContent.includes("({place + 1} of 3).")')
        come_to(page, rig, nominal_mm)
        if nominal_mm == 0:
            rig.press("zero")
        press(page, "go")
        until(page, f"{MARKS} === {place + 1}")
        errors_mm.append(rig.error_mm([Decimal(nominal_mm)] if nominal_mm else []))
    picture(page, "calibration-up")
    assert page.locator("#curve .edge").count() >= 2  # the limits, above and below
    kept = points(book)
    assert [(each.series, float(each.nominal_mm)) for each in kept] == [
        ("up", 0.0), ("up", 5.0), ("up", 10.0)
    ]  # fmt: skip
    found_mm = [float(each.reading_mm - each.reference_mm) for each in kept]
    assert found_mm == pytest.approx(errors_mm, abs=0.0015)  # play and steps of half a micrometre
