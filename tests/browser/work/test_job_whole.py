"""A whole job by clicks on its page: what is in the logbook is what was clicked, and true."""

import json
import os
import re
from dataclasses import replace

import pytest

from daq.cli.demo_story import Excuse, demo_story
from daq.jobs.keeping import jobs_in, kept_job
from daq.jobs.standing import standing
from daq.logbook import Logbook
from daq.logbook.job import JobException, JobGate
from daq.page.engine_drawing import svg_of
from daq.page.job_cylinders import cylinders_of
from tests.browser.browser import until
from tests.browser.test_live_layout import picture
from tests.browser.work.walked import Walked
from tests.end_to_end.road import captures_in, restpoint
from tests.end_to_end.test_demo_job import CLEARANCE_2, FLAWS, STORY

SKIPPED = Excuse("it is worn", "M. Lind")
WHOLE = "RESTPOINT_TEST_WHOLE_DEMO"
STORIES = [
    pytest.param(replace(STORY, flaws=FLAWS, skips={CLEARANCE_2: SKIPPED}), id="small"),
    pytest.param(
        demo_story(),
        id="demo",
        marks=[
            pytest.mark.timeout(900),
            pytest.mark.skipif(WHOLE not in os.environ, reason=f"takes minutes; {WHOLE}=1 runs it"),
        ],
    ),
]


@pytest.fixture
def walked(request, monkeypatch, tmp_path):
    """A job at work, before its first task is answered."""
    found = Walked(tmp_path / "job.logbook", request.param)
    with found.at_work(monkeypatch):
        yield found


@pytest.mark.timeout(120)
@pytest.mark.parametrize("walked", STORIES, indirect=True)
def test_a_job_is_clicked_through_and_the_logbook_has_what_was_clicked(walked, open_page):
    looked = set()

    def look(task):
        expected = drawn_in_words(walked, task)
        until(page, f'$("drawing").querySelector("desc")?.textContent === {json.dumps(expected)}')
        sign = task.gate or task.kind
        if sign not in looked:
            looked.add(sign)
            picture(page, f"job-{sign}")

    page = open_page(*walked.server.ways_in()[:1])
    page.goto(page.watched.origin + "/job")
    walked.walk(page, look)
    page.close()

    assert walked.outcome.problems() == []
    status, said, _ = restpoint("log", "verify", walked.path)
    assert (status, "intact" in said) == (0, True)
    assert {"plate", "cautions", "step", "measure", "adjust", "adjusted", "locked"} <= looked
    is_what_was_clicked(walked)


def kept(walked):
    with Logbook.read(walked.path) as reader:
        (begun,) = jobs_in(reader)
        return kept_job(reader, begun.uid)


def drawn_in_words(walked, task):
    """How the engine's drawing has to say that each cylinder stands, from the logbook alone."""
    job = kept(walked)
    stands = standing(walked.story.sheet, job.begun, job.records)
    drawing = svg_of(walked.story.sheet.engine, cylinders_of(stands, task))
    return re.search("<desc[^>]*>(.*)</desc>", drawing)[1]


def is_what_was_clicked(walked):
    job, clicked = kept(walked), walked.clicked
    gone_on = [each.task for each in clicked if each.command.kind == "go"]
    gates = [each for each in job.records if isinstance(each, JobGate)]
    assert [(each.step, each.target, each.gate) for each in gates] == [
        (each.step, each.target, each.gate) for each in gone_on if each.kind == "confirm"
    ]
    by_key = [each for each in captures_in(walked.path) if each.trigger == "key"]
    assert len(by_key) == sum(each.kind in ("measure", "adjust") for each in gone_on)
    assert {each.operator for each in [*gates, *by_key]} == {walked.story.operator}
    by_name = [each for each in job.records if isinstance(each, JobException) and each.by]
    answered = {"skip": "skipped", "let it stand": "overruled"}
    assert [
        (each.step, each.target, each.what, each.reason, each.by)
        for each in by_name
        if each.by != walked.story.operator
    ] == [
        (task.step, task.target, answered[command.kind], command.reason, command.by)
        for command, task in ((each.command, each.task) for each in clicked)
        if command.kind in answered
    ]
    assert gone_on[-1].kind == "end"
    assert job.records[-1].kind == "job end"
