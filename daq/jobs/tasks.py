"""What is to be done next in a job: one task, worked out from where it stands."""

from collections.abc import Iterator, Mapping
from typing import Literal

from daq.jobs.adjusting import TurnTold, turn_told
from daq.jobs.gates import after, before, before_all
from daq.jobs.measuring import (
    corrections_of,
    live_spec,
    recipe_of,
    scale_offset_mm,
    settled_values,
)
from daq.jobs.standing import JobStanding, StepStanding, TargetStanding, is_in
from daq.jobs.task import Task
from daq.logbook.capture import Capture
from daq.logbook.job import Gate, Phase


def next_task(job: JobStanding, captures: Mapping[str, Capture]) -> Task | None:
    """The task that comes next; None after the job has ended.

    Args:
        job: where it stands.
        captures: by uid, every capture that the job's points name.
    """
    if job.ended is not None:
        return None
    return next(_tasks(job, captures))


def _tasks(job: JobStanding, captures: Mapping[str, Capture]) -> Iterator[Task]:
    """Everything still to be confirmed or measured, as far as it can be known; the first counts."""
    yield from before_all(job)
    for stage in job.stages:
        for stop in stage.stops:
            for work in stop.work:
                target = job.of(work)
                if not target.is_done:
                    yield from before(job, stop, work)
                    yield from _on_target(job.steps[work.planned.name], target, captures)
        for planned in stage.steps:
            yield from after(job.steps[planned.name], job.sheet.rule)
    yield Task(kind="end", title="The job is done", words="End it; the report can be made.")


def _on_target(
    step: StepStanding, target: TargetStanding, captures: Mapping[str, Capture]
) -> Iterator[Task]:
    latest = target.latest
    if target.points:
        phase = target.points[-1].phase
        assert phase is not None
        yield _measure_task(step, target, phase, captures)
    elif target.as_found is None:
        yield _measure_task(step, target, "as found", captures)
    elif (
        target.is_set_anew
        and step.planned.step.recipe != "length"
        and not target.has_passed("adjusted")
    ):
        told = turn_told(target)
        yield _confirm_on(target, "adjusted", f"Set it anew: {told.words}." if told else "", told)
    elif latest is None or target.is_in_doubt:
        yield _measure_task(step, target, target.phase_again, captures)
    elif not is_in(latest) or latest.phase != "adjusted":
        yield from _set_it(step, target, captures)
    else:
        yield from _check_again(step, target, captures)


def _set_it(
    step: StepStanding, target: TargetStanding, captures: Mapping[str, Capture]
) -> Iterator[Task]:
    """The latest result is not good: turn the screw, or decide where there is none."""
    planned, latest = step.planned, target.latest
    assert latest is not None
    if planned.step.adjuster is None:
        outcome = latest.verdict.outcome if latest.verdict else "not judged"
        yield Task(
            kind="decide",
            step=planned.name,
            target=target.work.target.name,
            title=f"{planned.step.what}, {target.work.target}",
            words=f"{latest.value} mm is {outcome}, and no screw sets it. Measure again, or let it "
            "stand with a reason and a name.",
            more=latest.doubts,
        )
        return
    told = turn_told(target)
    if planned.step.recipe == "length":
        yield _measure_task(step, target, "adjusted", captures, told)
    elif target.has_passed("adjusted"):
        yield _measure_task(step, target, "adjusted", captures)
    else:
        yield _confirm_on(target, "adjusted", f"Turn {told.words}." if told else "", told)


def _check_again(
    step: StepStanding, target: TargetStanding, captures: Mapping[str, Capture]
) -> Iterator[Task]:
    """Within its limits, but still to be locked and worked."""
    sheet = step.planned.step
    if sheet.lock and not target.has_passed("locked"):
        yield _confirm_on(target, "locked", "Tighten the lock nut; hold the screw still.")
    if sheet.exercise and not target.has_passed("worked"):
        yield _confirm_on(target, "worked", f"Work the part through its travel {sheet.exercise} ×.")
    yield _measure_task(step, target, "as left", captures)


def _confirm_on(
    target: TargetStanding, gate: Gate, words: str, told: TurnTold | None = None
) -> Task:
    planned = target.work.planned
    return Task(
        kind="confirm",
        gate=gate,
        step=planned.name,
        target=target.work.target.name,
        title=f"{planned.step.what}, {target.work.target}",
        words=words,
        more=told.notes if told else (),
        told=told,
    )


def _measure_task(
    step: StepStanding,
    target: TargetStanding,
    phase: Phase,
    captures: Mapping[str, Capture],
    told: TurnTold | None = None,
) -> Task:
    planned, on = step.planned, target.work.target
    recipe = recipe_of(planned, on, phase, step.mastered)
    points = [each for each in target.points if each.phase == phase]
    offset_mm = scale_offset_mm(planned, step.mastered)
    wanted = recipe.wants(settled_values(points, captures, offset_mm))
    assert wanted is not None  # points that are enough, or contradict each other, are closed
    corrections = corrections_of(planned, step.gates, step.mastered, step.calibration)
    kind: Literal["measure", "adjust"] = "measure"
    words = wanted.words[:1].upper() + wanted.words[1:] + "."
    if phase == "adjusted" and planned.step.recipe == "length":
        kind = "adjust"
        words = "Turn to zero, then let go."
        if planned.step.lock and len(target.results) > 1:
            words = "Loosen the lock nut, turn to zero, then let go."
    return Task(
        kind=kind,
        step=planned.name,
        target=on.name,
        title=f"{planned.step.what}, {on}",
        words=words,
        more=told.notes if told else (),
        phase=phase,
        role=planned.role.role,
        spec=live_spec(planned, step.mastered, corrections),
        wanted=wanted,
        asks="angle" if planned.step.recipe == "dead centre" else "",
        told=told,
    )
