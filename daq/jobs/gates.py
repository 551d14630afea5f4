"""What is asked around the measuring: plate, cautions, gauge, crank, master, across, seals."""

from collections.abc import Iterator
from decimal import Decimal

from daq.jobs.across import Finding, across_findings
from daq.jobs.calibrated import gauge_tasks, what_to_know
from daq.jobs.crank import CAUTIONS
from daq.jobs.mastering import LIFTS
from daq.jobs.names import degrees_words
from daq.jobs.phase import Position
from daq.jobs.recipes import Wanted
from daq.jobs.sheet import PlannedStep
from daq.jobs.stages import Stop, Work, bar_deg
from daq.jobs.standing import JobStanding, StepStanding, is_in
from daq.jobs.task import Task
from daq.logbook.job import MasterCheck
from daq.spec import DecisionRule, Spec, shown_in


def before_all(job: JobStanding) -> Iterator[Task]:
    """What is confirmed before anything is measured."""
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


def before(job: JobStanding, stop: Stop, work: Work) -> Iterator[Task]:
    """What has to be so before a target is measured: gauge, crank, free plunger."""
    step = job.steps[work.planned.name]
    yield from gauge_tasks(job, work)
    if not any(each.gate == "step" for each in step.gates):
        yield _step_task(job, step)
    if stop.position is not None and job.crank != stop.position.words:
        yield _crank_task(job, stop, stop.position)
    last = step.masters[-1] if step.masters else None
    if last is None or last.master == "after" or not is_in(last):
        yield _master_task(step, "before")


def _step_task(job: JobStanding, step: StepStanding) -> Task:
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
            *what_to_know(job, step),
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


def after(step: StepStanding, rule: DecisionRule) -> Iterator[Task]:
    """What is left of a step when its last target is done: limits across, master, seal."""
    if step.is_skipped or not step.is_measured:
        return
    wide = [each for each in across_findings(step, rule) if not each.holds]
    if wide and not _is_accepted(step):
        yield _across_task(step, wide)
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


def _across_task(step: StepStanding, wide: list[Finding]) -> Task:
    return Task(
        kind="confirm",
        gate="across",
        step=step.planned.name,
        title=step.planned.step.what,
        words=_what_to_do(step),
        more=tuple(
            f"{each.name.capitalize()} of {', '.join(each.targets)}: "
            f"{_mm(step, each.value_mm)}, {_mm(step, each.limit_mm)} allowed: {each.outcome}."
            for each in wide
        ),
    )


def _what_to_do(step: StepStanding) -> str:
    if step.planned.step.adjuster is None:
        return "They do not go together. Go on: it will stand in the report."
    return f"They do not go together. Press a to set {furthest(step)} anew, or go on as they are."


def furthest(step: StepStanding) -> str:
    """The target that was left furthest from its aim, by name; empty if none was."""
    aim_mm = step.planned.spec.aim_mm
    left = {
        each.work.target.name: abs(result.deviation - aim_mm)
        for each in step.targets
        if (result := each.as_left) is not None and result.deviation is not None
    }
    return max(left, key=lambda name: left[name], default="")


def _mm(step: StepStanding, size_mm: Decimal) -> str:
    planned = step.planned
    return shown_in(size_mm, planned.spec.unit, planned.role.resolution.mm / 10, sign=False)


def _is_accepted(step: StepStanding) -> bool:
    """Whether somebody has gone on with these results as they are."""
    said = [each.at for each in step.gates if each.gate == "across"]
    latest = [each.latest.at for each in step.targets if each.latest is not None]
    return bool(said) and said[-1] >= max(latest)
