"""What a fitter's answer to a task becomes: records to append, all of them or none.

A result is worked out and recorded together with the last point that it needs, so no interruption
can come between them.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any, Literal

from daq.jobs.calibrated import why_out_of_range
from daq.jobs.mastering import master_result
from daq.jobs.measuring import corrections_of, recipe_of, result_of, scale_offset_mm, settled_values
from daq.jobs.recipes import Refusal, Result
from daq.jobs.standing import JobStanding, StepStanding, TargetStanding
from daq.jobs.task import Task
from daq.logbook.capture import Capture, CapturedSpec, CapturedVerdict
from daq.logbook.fields import new_uid
from daq.logbook.job import (
    JobComponent,
    JobCorrection,
    JobEnded,
    JobException,
    JobGate,
    JobGaugeUsed,
    JobPart,
    JobPoint,
    JobResult,
    Phase,
)
from daq.spec import Spec, decide

MILLIONTH = Decimal("0.000001")


@dataclass(frozen=True, slots=True)
class Stamp:
    """Who answers, and when (aware)."""

    operator: str
    at: datetime

    def on(self, job: JobStanding) -> dict[str, Any]:
        """What every record of a job begins with."""
        return {"uid": new_uid(), "at": self.at, "operator": self.operator, "job": job.begun.uid}


def confirmed(
    job: JobStanding,
    task: Task,
    stamp: Stamp,
    part_c: Decimal | None = None,
    gauge_c: Decimal | None = None,
) -> JobGate:
    """The fitter has done what a ``confirm`` task asks.

    Args:
        part_c: temperature of the part, °C, where the task asks for it.
        gauge_c: temperature of the gauge or of its master.
    """
    assert task.gate is not None
    return JobGate(
        **stamp.on(job),
        gate=task.gate,
        step=task.step,
        target=task.target,
        asked=task.words,
        asked_turns=task.told.turns if task.told and task.gate == "adjusted" else None,
        part_c=part_c,
        gauge_c=gauge_c,
    )


def excepted(
    job: JobStanding,
    step: str,
    target: str,
    what: Literal["skipped", "overruled", "again", "anew"],
    reason: str,
    stamp: Stamp,
    by: str = "",
) -> JobException:
    """A target is skipped, its result overruled, or it is to be measured or set again.

    Args:
        by: who answers for it; the operator if nobody else is named.
    """
    return JobException(
        **stamp.on(job), step=step, target=target, what=what, reason=reason, by=by or stamp.operator
    )


def gauge_used(
    job: JobStanding, task: Task, reason: str, stamp: Stamp, by: str = ""
) -> JobGaugeUsed:
    """A gauge is used though its calibration does not allow it, where a task asks for that.

    Args:
        by: who answers for it; the operator if nobody else is named.
    """
    assert task.gauge is not None
    return JobGaugeUsed(
        **stamp.on(job),
        role=task.gauge.role,
        calibration=task.gauge.uid,
        standing=task.gauge.standing,
        asked=task.words,
        reason=reason,
        by=by or stamp.operator,
    )


def ended(
    job: JobStanding, how: Literal["complete", "broken off"], reason: str, stamp: Stamp
) -> JobEnded:
    """The job is over."""
    return JobEnded(**stamp.on(job), how=how, reason=reason)


Answer = JobPoint | JobResult | JobException


def captured(
    job: JobStanding,
    task: Task,
    capture: Capture,
    captures: Mapping[str, Capture],
    stamp: Stamp,
    angle_deg: Decimal | None = None,
) -> list[Answer]:
    """A value was captured for a ``measure`` or ``adjust`` task.

    Args:
        capture: the value, kept or about to be kept in the same transaction.
        captures: by uid, those that the job's earlier points name.
        angle_deg: where it was taken, where the task asks for that.

    Returns:
        The point; with the result, if it was the last one needed; or with the note that it is to be
        measured again, if the points contradict each other or the gauge may not be used there.
    """
    assert task.wanted is not None
    wanted = task.wanted
    angle = angle_deg
    if angle is None and wanted.angle_deg is not None:
        angle = Decimal(repr(round(wanted.angle_deg, 6)))
    point = JobPoint(
        **stamp.on(job),
        step=task.step,
        target=task.target,
        phase=task.phase,
        master=task.master,
        capture=capture.uid,
        position=wanted.position,
        angle_deg=angle,
        group=wanted.group,
        words=task.words,
    )
    known = {**captures, capture.uid: capture}
    step = job.steps[task.step]
    if task.master is not None:
        return [point, *master_result(step, task.master, point, known, stamp.on(job))]
    return [point, *_target_result(job, step, task, point, known, stamp)]


def _target_result(
    job: JobStanding,
    step: StepStanding,
    task: Task,
    point: JobPoint,
    captures: Mapping[str, Capture],
    stamp: Stamp,
) -> list[JobResult | JobException]:
    target = job.target(task.step, task.target)
    phase = task.phase
    assert phase is not None
    points = [*(each for each in target.points if each.phase == phase), point]
    planned = step.planned
    recipe = recipe_of(planned, target.work.target, phase, step.mastered)
    offset_mm = scale_offset_mm(planned, step.mastered)
    values = settled_values(points, captures, offset_mm)
    if why := why_out_of_range(step, False, captures[point.capture].value_mm):
        return [excepted(job, task.step, task.target, "again", why, stamp)]
    if recipe.wants(values) is not None:
        return []
    corrections = corrections_of(planned, step.gates, step.mastered, step.calibration)
    found = result_of(planned, recipe, values, corrections)
    if isinstance(found, Refusal):
        return [excepted(job, task.step, task.target, "again", str(found), stamp)]
    return [_result(job, target, phase, found, offset_mm, stamp)]


def _result(
    job: JobStanding,
    target: TargetStanding,
    phase: Phase,
    found: Result,
    offset_mm: Decimal,
    stamp: Stamp,
) -> JobResult:
    planned = target.work.planned
    value, u = found.recorded
    verdict = decide(value, u, planned.spec, job.sheet.rule)
    corrections = [
        JobCorrection(name=each.name, amount=_exact(each.amount), unit=each.unit, why=each.why)
        for each in found.corrections
    ]
    if offset_mm:
        why = f"the reading on the {planned.step.master} setting master is given its length"
        corrections.insert(0, JobCorrection(name="mastering", amount=offset_mm, unit="mm", why=why))
    return JobResult(
        **stamp.on(job),
        step=planned.name,
        target=target.work.target.name,
        phase=phase,
        master=None,
        what=found.what,
        value=value,
        u=u,
        unit=found.unit,
        spec=_captured_spec(planned.spec),
        deviation=verdict.deviation_mm,
        verdict=CapturedVerdict(
            outcome=verdict.outcome.value, rule=verdict.rule_text, guard_mm=verdict.guard_mm
        ),
        captures=found.of,
        components=tuple(
            JobComponent(
                name=each.name,
                u=_exact(each.u),
                unit=each.unit,
                sensitivity=_exact(each.sensitivity),
            )
            for each in found.components
        ),
        parts=tuple(
            JobPart(
                name=each.name,
                of=each.of,
                value=_exact(each.value),
                unit=each.unit,
                u=None if each.u is None else _exact(each.u),
            )
            for each in found.parts
        ),
        corrections=tuple(corrections),
        remarks=found.remarks,
        doubts=found.doubts,
    )


def _captured_spec(spec: Spec) -> CapturedSpec:
    return CapturedSpec(
        name=spec.name,
        nominal_mm=spec.nominal_mm,
        lower_mm=spec.lower_mm,
        upper_mm=spec.upper_mm,
        unit=spec.unit,
        source=spec.source,
    )


def _exact(value: float) -> Decimal:
    return Decimal(repr(float(value))).quantize(MILLIONTH)
