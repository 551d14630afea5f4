"""What the job page shows, as plain data for JSON: the JOB part of a state.

Where a job stands is worked out from its records; what follows from that alone is made once and
kept until the job moves on, since a view comes many times a second.
"""

from collections.abc import Iterator
from typing import Any

from daq.jobs.engine import Engine
from daq.jobs.names import degrees_words
from daq.jobs.phase import Position
from daq.jobs.stages import bar_deg
from daq.jobs.standing import JobStanding, StepStanding, TargetStanding
from daq.jobs.task import Task
from daq.logbook.fields import time_text
from daq.logbook.job import JobException, JobRecord, JobResult
from daq.page.job_cylinders import cylinders_of, state_of
from daq.screen.job_view import HEADLINES, JobView
from daq.spec.units import shown_in

Message = dict[str, Any]

HISTORY = 16
"""How many of the newest results and exceptions a state has; the logbook has them all. A state goes
to every screen many times a second."""


class JobStates:
    """Makes the JOB part of a state from each view, the slow half of it once a task."""

    def __init__(self) -> None:
        self._of: tuple[JobStanding, Task] | None = None
        self._place: Message = {}

    def message(self, view: JobView) -> Message:
        """The view as JOB."""
        placed = self._placed(view)
        more = [each for each in view.more if each not in placed["cautions"]]
        return {**_words(view), **placed, "more": more}

    def _placed(self, view: JobView) -> Message:
        job, task = view.standing, view.task
        if job is None or task is None:
            return dict(NOWHERE)
        if self._of is None or self._of[0] is not job or self._of[1] is not task:
            self._of, self._place = (job, task), place_message(job, task)
        return self._place


def job_message(view: JobView) -> Message:
    """One view as JOB; ``JobStates`` is quicker where many come of one task."""
    return JobStates().message(view)


def _words(view: JobView) -> Message:
    """What the terminal's screen has too."""
    return {
        "kind": view.kind,
        "sign": view.sign,
        "title": view.title,
        "words": view.words,
        "done": view.done,
        "of": view.of,
        "notice": view.notice,
        "headline": list(HEADLINES.get(view.sign, ())),
    }


NOWHERE: Message = {
    "engine": "",
    "sheet": "",
    "step": "",
    "target": "",
    "cautions": [],
    "asks": None,
    "steps": [],
    "next_crank": None,
    "svg_states": {},
    "history": [],
    "earlier": 0,
    "can": {"back": False, "anew": [], "skip": False, "stand": False},
}
"""What there is of a job where only the words of its view are known."""


def place_message(job: JobStanding, task: Task) -> Message:
    """Where the job stands: everything of JOB that follows from the records."""
    lines = list(_history(job))
    return {
        "engine": f"{job.begun.engine}, {job.begun.variant}",
        "sheet": f"{job.sheet.title}, revision {job.sheet.revision}",
        "step": task.step,
        "target": task.target if task.gate != "crank" else "",
        "cautions": _cautions(job, task),
        "asks": task.asks or None,
        "steps": [_step(each, task) for each in job.steps.values()],
        "next_crank": _next_crank(job, task),
        "svg_states": {
            name: {"state": each.state, "done": each.done, "of": each.of, "crank": each.crank}
            for name, each in cylinders_of(job, task).items()
        },
        "history": lines[:HISTORY],
        "earlier": max(0, len(lines) - HISTORY),
        "can": _can(job, task),
    }


def _cautions(job: JobStanding, task: Task) -> list[str]:
    """A step's cautions hold for as long as somebody works at the step."""
    if task.gate == "cautions":
        return list(task.more)
    return list(job.steps[task.step].planned.step.cautions) if task.step in job.steps else []


def _step(step: StepStanding, task: Task) -> Message:
    """One step; its targets only while it is worked at, so that a state stays small."""
    is_now = task.step == step.planned.name
    return {
        "name": step.planned.name,
        "title": step.planned.step.what,
        "state": "now" if is_now else "done" if step.is_done else "to do",
        "done": sum(each.is_done for each in step.targets),
        "of": len(step.targets),
        "after": _after(step),
        "targets": [_target(step, each, task) for each in step.targets] if is_now else [],
    }


def _after(step: StepStanding) -> list[str]:
    """What is left of a step besides its targets, in words."""
    if step.is_skipped or step.is_done:
        return []
    left = [] if step.is_closed or step.planned.step.master is None else ["check on the master"]
    return [*left, *([] if step.is_sealed else ["seal"])]


def _target(step: StepStanding, target: TargetStanding, task: Task) -> Message:
    latest = target.latest
    return {
        "name": target.work.target.name,
        "words": target.work.target.words,
        "cylinder": target.work.target.cylinder,
        "state": state_of(target, task),
        "value": None if latest is None else _value(step, latest),
        "deviation": None if latest is None else _deviation(step, latest),
        "in_doubt": target.is_in_doubt,
    }


def _value(step: StepStanding, result: JobResult) -> str:
    return _shown(step, result, result.value, sign=False)


def _deviation(step: StepStanding, result: JobResult) -> str | None:
    if result.deviation is None:
        return None
    return _shown(step, result, result.deviation, sign=True)


def _shown(step: StepStanding, result: JobResult, amount: Any, *, sign: bool) -> str:
    """A result's figure to a tenth of the gauge's step, as in the report."""
    if result.unit == "mm":
        planned = step.planned
        tenth = planned.role.resolution.mm / 10
        return shown_in(amount, planned.spec.unit, tenth, sign=sign)
    unit = "°" if result.unit == "deg" else f" {result.unit}"
    return f"{amount:{'+' if sign else ''}f}{unit}"


def _next_crank(job: JobStanding, task: Task) -> Message | None:
    """The position of the crank that is asked for, or the next one that will be."""
    every = [stop for stage in job.stages for stop in stage.stops]
    places = [stop.position for stop in every if stop.position is not None]
    here = next((each for each in places if each.words == job.crank), None)
    there: Position | None = None
    if task.gate == "crank":
        there = next((each for each in places if each.words == task.target), None)
    else:
        ahead = (
            stop.position
            for stop in every
            if stop.position is not None
            and stop.position.words != job.crank
            and any(not job.of(work).is_done for work in stop.work)
        )
        there = next(ahead, None)
    return None if there is None else _bar(job.sheet.engine, here, there, task)


def _bar(engine: Engine, here: Position | None, there: Position, task: Task) -> Message:
    angle = bar_deg(engine, here, there)
    far = "" if angle is None else f"{degrees_words(angle)} "
    return {
        "title": there.words,
        "angle_deg": None if angle is None else float(angle),
        "words": f"bar on {far}in running direction",
        "direction": engine.running_direction,
        "is_now": task.gate == "crank",
    }


def _history(job: JobStanding) -> Iterator[Message]:
    """Results and exceptions, newest first."""
    told: list[tuple[StepStanding, JobRecord]] = []
    for step in job.steps.values():
        told += [(step, each) for each in step.masters]
        for target in step.targets:
            told += [(step, r) for r in target.records if isinstance(r, JobResult | JobException)]
    for step, record in sorted(told, key=lambda each: each[1].at, reverse=True):
        assert isinstance(record, JobResult | JobException)
        yield _told(job, step, record)


def _told(job: JobStanding, step: StepStanding, record: JobResult | JobException) -> Message:
    line = {
        "uid": record.uid,
        "at": time_text(record.at),
        "step": step.planned.step.what,
        "target": record.target,
        "value": "",
        "deviation": None,
        "again": False,
    }
    if isinstance(record, JobException):
        return {**line, "verdict": record.what, "words": f"{record.reason} ({record.by})"}
    outcome = record.verdict.outcome if record.verdict else "not judged"
    if record.master is not None:
        words = f"check on the master {record.master}"
        return {**line, "value": _value(step, record), "verdict": outcome, "words": words}
    target = job.target(record.step, record.target)
    is_doubted = record.uid in target.doubted
    return {
        **line,
        "value": _value(step, record),
        "deviation": _deviation(step, record),
        "verdict": outcome,
        "words": f"{record.phase}, in doubt by the master" if is_doubted else str(record.phase),
        "again": target.latest is not None and target.latest.uid == record.uid,
    }


def _can(job: JobStanding, task: Task) -> Message:
    """Which of the other answers the job would take here."""
    step = job.steps.get(task.step)
    on_target = step is not None and bool(task.target) and task.gate != "crank"
    results = [each for each in (step.targets if step else []) if each.latest is not None]
    has_screw = step is not None and step.planned.step.adjuster is not None
    has_result = on_target and job.target(task.step, task.target).latest is not None
    measured = any(each.results for s in job.steps.values() for each in s.targets)
    return {
        "back": measured,
        "anew": [each.work.target.name for each in results] if has_screw else [],
        "skip": on_target,
        "stand": on_target and (has_result or task.gauge is not None),
    }
