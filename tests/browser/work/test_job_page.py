"""The job page by clicks: what is taken, what is refused, and how a result is set aside."""

import pytest

from daq.jobs.keeping import jobs_in, kept_job
from daq.logbook import Logbook
from daq.logbook.job import JobException, JobResult
from tests.browser.browser import until
from tests.browser.test_live_layout import overlapping, picture
from tests.browser.work.conftest import OPERATOR
from tests.browser.work.pressing import answered, fill_in, go_on, lift, press, settle
from tests.end_to_end.road import captures_in, restpoint

LINE = "document.querySelector('#history li')"
"""The newest line of what was done so far."""

BOXES = """() => [...document.querySelectorAll("header, #now > *, #around > *, .answers > *")]
  .filter((each) => each.checkVisibility())
  .map((each) => [each.id || each.className, each.getBoundingClientRect().toJSON()])"""


@pytest.fixture
def at_cylinder_1(bench_job, open_page):
    """A job whose gauge has been checked, a page that asks for the first cylinder, the logbook."""
    plunger, program, book = bench_job()
    page = open_page(*program.addresses())
    page.goto(f"{page.watched.origin}/job")
    until(page, '$("headline").textContent === "READ PLATE"')
    go_on(page, "Before you begin")
    go_on(page, "Rack reference length")
    press(page, "go")
    for _ in range(2):
        lift(page, plunger, 0.02)
        press(page, "go")
    until(page, '$("title").textContent.includes("cylinder 1")')
    yield page, plunger, book, program
    assert restpoint("log", "verify", book)[0] == 0


def job_in(book):
    with Logbook.read(book) as reader:
        (begun,) = jobs_in(reader)
        return kept_job(reader, begun.uid).records


def results(book):
    return [each for each in job_in(book) if isinstance(each, JobResult) and not each.master]


def exceptions(book):
    return [each for each in job_in(book) if isinstance(each, JobException)]


def drawn(page):
    """How the drawing shows each cylinder, by its class."""
    every = page.locator("#drawing g.cylinder").all()
    return [each.get_attribute("class").removeprefix("cylinder is-") for each in every]


def measured(page, plunger, mm, title):
    lift(page, plunger, mm)
    press(page, "go")
    until(page, f'$("title").textContent.includes("{title}")')


def test_a_value_is_taken_once_and_the_plunger_must_have_moved_for_the_next(at_cylinder_1):
    page, plunger, book, _ = at_cylinder_1
    until(page, "document.querySelectorAll('#drawing .is-now').length === 1")
    assert drawn(page) == ["now", "to-do"]
    measured(page, plunger, 0.01, "cylinder 2")
    until(page, f"{LINE}.textContent.includes('cylinder 1')")
    until(page, "document.querySelectorAll('#drawing .is-in').length === 1")
    assert drawn(page) == ["in", "now"]
    (kept,) = results(book)
    assert (kept.target, float(kept.value)) == ("cylinder 1", pytest.approx(0.01, abs=0.001))
    before = len(captures_in(book))
    press(page, "go")
    until(page, '$("notice").textContent.startsWith("The plunger was not seen to move")')
    assert len(captures_in(book)) == before
    assert page.locator("#title").text_content().endswith("cylinder 2")


def test_back_and_measure_again_set_a_result_aside_by_a_new_record(at_cylinder_1):
    page, plunger, book, _ = at_cylinder_1
    measured(page, plunger, 0.01, "cylinder 2")
    answered(page, "back")
    until(page, '$("title").textContent.includes("cylinder 1")')
    assert [each.what for each in exceptions(book)] == ["again"]
    measured(page, plunger, 0.03, "cylinder 2")
    page.locator("#history button", has_text="Measure again").first.click()
    fill_in(page, reason="the stand was touched", by="M. Lind")
    until(page, '$("title").textContent.includes("cylinder 1")')
    *_, last = exceptions(book)
    assert (last.what, last.reason, last.by) == ("again", "the stand was touched", "M. Lind")
    assert [float(each.value) for each in results(book)] == pytest.approx([0.01, 0.03], abs=0.001)
    page.reload()
    until(page, f"{LINE}?.textContent.includes('the stand was touched')")


def test_a_skip_wants_a_reason_and_a_name_and_both_are_kept(at_cylinder_1):
    page, plunger, book, _ = at_cylinder_1
    measured(page, plunger, 0.01, "cylinder 2")
    press(page, "skip")
    until(page, '$("ask").open')
    yes, why = ('#ask [data-part="yes"]', '#ask [data-part="why"]')
    page.click(yes)
    assert "reason" in page.locator(why).text_content()
    page.fill("#ask-reason", "the rack is\n seized")
    page.fill("#ask-by", "")
    settle(page)
    page.click(yes)
    assert "name" in page.locator(why).text_content()
    assert not exceptions(book)
    page.fill("#ask-by", "M. Lind")
    settle(page)
    page.click(yes)
    until(page, '$("headline").textContent === "DONE"')
    (kept,) = exceptions(book)
    assert (kept.target, kept.what, kept.reason, kept.by, kept.operator) == (
        "cylinder 2", "skipped", "the rack is seized", "M. Lind", OPERATOR
    )  # fmt: skip
    until(page, "document.querySelectorAll('#drawing .is-skipped').length === 1")
    assert drawn(page) == ["in", "skipped"]


def test_a_dialogue_that_is_left_does_nothing(at_cylinder_1):
    page, _, book, _ = at_cylinder_1
    press(page, "skip")
    until(page, '$("ask").open')
    page.keyboard.press("Escape")
    until(page, '!$("ask").open')
    press(page, "skip")
    until(page, '$("ask").open')
    page.click('#ask [data-part="no"]')
    until(page, '!$("ask").open')
    assert not exceptions(book)


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_nothing_lies_on_something_else_on_a_tablet_held_either_way(at_cylinder_1, scheme):
    page, plunger, _, _ = at_cylinder_1
    measured(page, plunger, 0.01, "cylinder 2")
    lift(page, plunger, 0.02)
    page.emulate_media(color_scheme=scheme)
    for width, height in ((1280, 800), (800, 1280), (1920, 1080)):
        page.set_viewport_size({"width": width, "height": height})
        until(page, f"innerWidth === {width} && !document.querySelector('.pressed')")
        picture(page, f"job-{width}x{height}-{scheme}")
        boxes = dict(page.evaluate(BOXES))
        answers = [name for name in boxes if name in ("back", "anew", "skip", "stand", "go")]
        assert len(answers) == 5
        assert not overlapping([(name, boxes[name]) for name in answers])
        assert all(boxes[name]["height"] >= 100 for name in answers)
        assert all(boxes[name]["bottom"] <= height for name in answers)
        assert page.evaluate("document.documentElement.scrollWidth") == width
