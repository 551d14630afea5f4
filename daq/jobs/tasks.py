"""What is to be done next in a job: one task, worked out from where it stands."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Literal

from daq.jobs.adjusting import TurnTold, turn_told
from daq.jobs.crank import CAUTIONS
from daq.jobs.mastering import LIFTS
from daq.jobs.measuring import live_spec, recipe_of, scale_offset_mm, settled_values
from daq.jobs.names import degrees_words
from daq.jobs.phase import Position
from daq.jobs.recipes import Wanted
from daq.jobs.sheet import PlannedStep
from daq.jobs.stages import Stop, Work, bar_deg
from daq.jobs.standing import JobStanding, StepStanding, TargetStanding, is_in
from daq.logbook.capture import Capture
from daq.logbook.job import Gate, MasterCheck, Phase
from daq.spec import Spec


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """One thing for the fitter to do.

    ``kind``: ``confirm`` (do it, then say so), ``measure`` (a settled value is captured),
    ``adjust`` (turn until it is within limits, then the settled value is captured), ``decide``
    (the result is outside its limits and no screw sets it: measure again, or let it stand with
    reason and name), ``end`` (nothing is left).

    ``title`` is what it is about, ``words`` what to do, ``more`` what to know besides, cautions
    first. ``role`` is the gauge that is read; empty if none is. ``spec`` are the limits on that
    gauge's own scale, for the live indicator. ``wanted`` is the capture that is asked for,
    ``asks`` what the fitter has to say besides: the angle it was taken at, or the temperatures of
    part and gauge; ``told`` the turn.
    """

    kind: Literal["confirm", "measure", "adjust", "decide", "end"]
    title: str
    words: str
    more: tuple[str, ...] = ()
    step: str = ""
    target: str = ""
    gate: Gate | None = None
    phase: Phase | None = None
    master: MasterCheck | None = None
    role: str = ""
    spec: Spec | None = None
    wanted: Wanted | None = None
    asks: Literal["", "angle", "temperatures"] = ""
    told: TurnTold | None = None


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
    yield from _before_all(job)
    for stage in job.stages:
        for stop in stage.stops:
            for work in stop.work:
                target = job.of(work)
                if not target.is_done:
                    yield from _before(job, stop, work)
                    yield from _on_target(job.steps[work.planned.name], target, captures)
        for planned in stage.steps:
            yield from _after(job.steps[planned.name])
    yield Task(kind="end", title="The job is done", words="End it; the report can be made.")


def _before_all(job: JobStanding) -> Iterator[Task]:
    passed = {each.gate for each in job.gates}
    begun = job.begun
    if "plate" not in passed:
        plate = job.sheet.variant(begun.variant).plate
        yield Task(
            kind="confirm",
            gate="plate",
            title=f"Engine {begun.engine}",
            words=f"Read the engine's plate. It must say: {plate}.",
            more=(f"The figures are for: {begun.variant}.", "If it says anything else, stop here."),
        )
    if "cautions" not in passed:
        yield Task(
            kind="confirm",
            gate="cautions",
            title="Before you begin",
            words="Read these, see to them, then go on.",
            more=(*job.sheet.heading.cautions, *CAUTIONS),
        )


def _before(job: JobStanding, stop: Stop, work: Work) -> Iterator[Task]:
    step = job.steps[work.planned.name]
    if not any(each.gate == "step" for each in step.gates):
        yield _step_task(step)
    if stop.position is not None and job.crank != stop.position.words:
        yield _crank_task(job, stop, stop.position)
    last = step.masters[-1] if step.masters else None
    if last is None or last.master == "after" or not is_in(last):
        yield _master_task(step, "before")


def _step_task(step: StepStanding) -> Task:
    planned = step.planned
    spec, role = planned.spec, planned.role
    figures = f"{planned.step.what}: {_figures(spec)}. From: {spec.source}."
    return Task(
        kind="confirm",
        gate="step",
        step=planned.name,
        title=planned.step.what,
        words=f"Mount the {role.role} gauge, {_manner(planned)}. Then go on.",
        asks="temperatures" if planned.step.expansion is not None else "",
        more=(
            *planned.step.cautions,
            figures,
            *([f"Condition: {spec.condition}."] if spec.condition else ()),
        ),
    )


def _manner(planned: PlannedStep) -> str:
    mounting = planned.step.mounting
    if mounting is None or not mounting.tilt:
        return "square and firm"
    return f"firm and at {mounting.tilt}° to the direction measured"


def _figures(spec: Spec) -> str:
    ends = [f"{end:+f}" for end in (spec.upper_mm, spec.lower_mm) if end is not None]
    return f"{spec.nominal_mm} mm, limits {' and '.join(ends)} mm"


def _crank_task(job: JobStanding, stop: Stop, position: Position) -> Task:
    engine = job.sheet.engine
    every = [s.position for stage in job.stages for s in stage.stops if s.position is not None]
    here = next((p for p in every if p.words == job.crank), None)
    angle = bar_deg(engine, here, position)
    words = f"Bar in running direction to {position}."
    if angle is not None:
        words = f"Bar on {degrees_words(angle)} in running direction: {position}."
    return Task(
        kind="confirm",
        gate="crank",
        step=stop.work[0].planned.name,
        target=position.words,
        title=str(position),
        words=words,
        more=(
            *([f"To see that it is this turn: {stop.tell}."] if stop.tell else ()),
            f"Running direction: {engine.running_direction}. Gone too far? Go back well past it "
            "and come up again.",
        ),
    )


def _master_task(step: StepStanding, check: MasterCheck) -> Task:
    planned, number = step.planned, len(step.master_points) + 1
    master = planned.step.master
    place = f"on the {master} master" if master else "on the part"
    if check == "before":
        words = f"Lift the plunger and let it down {place} ({number} of {LIFTS})."
        more: tuple[str, ...] = ("It must come back to the same reading: a stuck plunger lies.",)
    else:
        words = f"Set the gauge back {place}."
        more = ("It must still read there what it read before the measuring.",)
    of = LIFTS if check == "before" else 1
    return Task(
        kind="measure",
        step=planned.name,
        title=planned.step.what,
        words=words,
        more=more,
        master=check,
        role=planned.role.role,
        wanted=Wanted(words, number, of, position="master" if master else "part"),
    )


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
        spec=live_spec(planned, step.mastered),
        wanted=wanted,
        asks="angle" if planned.step.recipe == "dead centre" else "",
        told=told,
    )


def _after(step: StepStanding) -> Iterator[Task]:
    if step.is_skipped or not step.is_measured:
        return
    if not step.is_closed:
        yield _master_task(step, "after")
    if not step.is_sealed:
        yield Task(
            kind="confirm",
            gate="sealed",
            step=step.planned.name,
            title=step.planned.step.what,
            words=f"Seal it: {step.planned.step.seal}",
        )
