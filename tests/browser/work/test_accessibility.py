"""No page has a fault that can be found for people who see little or nothing, or who use no mouse.

axe-core finds what can be found by rules (WCAG 2.2 A and AA, and its own good practice); contrast
is measured in both schemes.
"""

import hashlib
import re
from pathlib import Path

from tests.browser.browser import until
from tests.browser.live_page import BY_KEY, at_rest
from tests.browser.work.pressing import go_on, lift, press
from tests.end_to_end.road import steady

VENDOR = Path(__file__).parents[1] / "vendor"
AXE = VENDOR / "axe.min.js"

RUN = """async () => {
  const found = await axe.run(document, { resultTypes: ["violations"] });
  return { checked: found.passes.length, faults: found.violations.map(({ id, impact, nodes }) =>
    [impact, id, nodes.map(({ html, failureSummary }) => `${html.slice(0, 160)}: ${failureSummary}`)]),
  };
}"""  # noqa: E501


def test_the_tool_is_the_one_that_its_readme_names():
    said = re.search(r"\b[0-9a-f]{64}\b", (VENDOR / "README.md").read_text("utf-8"))[0]
    assert hashlib.sha256(AXE.read_bytes()).hexdigest() == said


def is_accessible(page, name):
    """Nothing is found on the page, in either scheme."""
    for scheme in ("light", "dark"):
        page.emulate_media(color_scheme=scheme, reduced_motion="reduce")
        page.evaluate(AXE.read_text("utf-8"))
        found = page.evaluate(RUN)
        assert found["checked"] > 10
        assert not found["faults"], f"{name}, {scheme}"


def test_the_live_page_and_the_logbook(bench_live, open_page):
    bench, program, _ = bench_live({"gauge": (steady("decimal-line"), None)}, *BY_KEY)
    (address,) = program.addresses()
    page = open_page(address)
    at_rest(page, "+0.040")
    page.click("#capture")
    until(page, '$("captured").textContent === "1"')
    is_accessible(page, "live")
    page.goto(f"{page.watched.origin}/logbook")
    until(page, '$("list").children.length > 1')
    is_accessible(page, "logbook")
    page.goto(f"{page.watched.origin}/record/2")
    until(page, '$("trace").children.length > 0')
    is_accessible(page, "record")
    page.goto(page.watched.origin)
    at_rest(page, "+0.040")
    bench.pull("gauge")
    until(page, '$("headline").textContent === "CABLE OUT"')
    is_accessible(page, "live, cable out")


def test_the_job_page_and_its_dialogue(bench_job, open_page):
    plunger, program, _ = bench_job()
    page = open_page(*program.addresses())
    page.goto(f"{page.watched.origin}/job")
    until(page, '$("headline").textContent === "READ PLATE"')
    is_accessible(page, "job, plate")
    go_on(page, "Before you begin")
    go_on(page, "Rack reference length")
    press(page, "go")
    lift(page, plunger, 0.02)
    is_accessible(page, "job, measuring")
    press(page, "go")
    press(page, "go")
    until(page, '!$("notice").hidden')
    is_accessible(page, "job, refused")
    lift(page, plunger, 0.02)
    press(page, "go")
    until(page, '$("title").textContent.includes("cylinder 1")')
    press(page, "skip")
    until(page, '$("ask").open')
    page.click('#ask [data-part="yes"]')
    until(page, "!document.querySelector('#ask [data-part=why]').hidden")
    is_accessible(page, "job, dialogue")


def test_a_job_is_gone_on_with_by_the_keyboard_alone(bench_job, open_page):
    _, program, _ = bench_job()
    page = open_page(*program.addresses())
    page.goto(f"{page.watched.origin}/job")
    until(page, '$("headline").textContent === "READ PLATE"')
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")  # the link to the large button
    until(page, 'document.activeElement === $("go")')
    page.keyboard.press("Enter")
    until(page, '$("headline").textContent === "TAKE CARE"')


def test_the_calibration_page(bench_calibrate, open_page):
    _, program, _ = bench_calibrate()
    page = open_page(*program.addresses())
    page.goto(f"{page.watched.origin}/calibration")
    until(page, '$("figure") !== null')
    is_accessible(page, "calibration, conditions")
    page.fill("#figure", "20.1")
    press(page, "go")
    until(page, '$("strip").dataset.motion === "at rest"')
    is_accessible(page, "calibration, first point")
    press(page, "insist")
    until(page, '$("ask").open')
    is_accessible(page, "calibration, dialogue")


def test_the_page_that_lets_nobody_in(bench_live, open_page):
    _, program, _ = bench_live({"gauge": (steady("decimal-line"), None)}, *BY_KEY)
    (address,) = program.addresses()
    page = open_page(address.partition("?")[0], allowed=("status of 401",))
    assert page.locator("h1").text_content() == "Not let in"
    is_accessible(page, "refused")
