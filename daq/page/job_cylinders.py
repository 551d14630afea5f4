"""What a job comes to for each target and each cylinder of an engine, in one word. Pure."""

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from daq.jobs.engine import Engine
from daq.jobs.names import degrees_words
from daq.jobs.phase import Position
from daq.jobs.standing import JobStanding, StepStanding, TargetStanding, is_in
from daq.jobs.task import Task

TargetState = Literal["to do", "now", "in", "out", "skipped", "stands"]
"""``in``: left within its limits. ``out``: its newest result is not. ``stands``: somebody answers
for a result that is not within its limits, or is in doubt."""

_FIRST: tuple[TargetState, ...] = ("now", "out", "to do", "stands", "skipped", "in")
"""Which word a cylinder has whose targets differ: what calls for a hand goes first."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Cylinder:
    """One cylinder as a drawing shows it.

    ``done`` of ``of`` of its targets are done, in the round of the crank that the job is in; none
    of ``of`` if nothing is done on it there. ``crank`` is where its piston is by the crank, in
    words, ``phase_deg`` the same in degrees past its firing top dead centre; empty and None where
    nobody has said where the crank stands.
    """

    state: TargetState | None = None
    done: int = 0
    of: int = 0
    crank: str = ""
    phase_deg: float | None = None


def state_of(target: TargetStanding, task: Task | None) -> TargetState:
    """The word for one target.

    Args:
        target: where it stands.
        task: what is done now, if anything is.
    """
    planned, on = target.work.planned, target.work.target
    if task is not None and (task.step, task.target) == (planned.name, on.name):
        return "now"
    if target.exception is not None:
        return "skipped" if target.exception.what == "skipped" else "stands"
    if target.as_left is not None:
        return "in"
    latest = target.latest
    if latest is not None and not target.since_is_work and not is_in(latest):
        return "out"
    return "to do"


def cylinders_of(job: JobStanding, task: Task | None) -> dict[str, Cylinder]:
    """Every cylinder of the engine, by name.

    Args:
        job: where the job stands.
        task: what is done now, if anything is.
    """
    engine = job.sheet.engine
    targets = list(_round(job, task))
    crank = _crank(job)
    return {name: _cylinder(engine, name, targets, task, crank) for name in engine.names}


def _round(job: JobStanding, task: Task | None) -> Iterable[TargetStanding]:
    """The targets that the drawing is about: of the steps that share the present round."""
    steps: Iterable[StepStanding] = job.steps.values()
    if task is not None and task.step:
        names = next(
            {each.name for each in stage.steps}
            for stage in job.stages
            if task.step in [each.name for each in stage.steps]
        )
        now = [each for each in steps if each.planned.name in names]
        if any(target.work.target.cylinder for step in now for target in step.targets):
            steps = now
    return [target for step in steps for target in step.targets]


def _crank(job: JobStanding) -> Position | None:
    """Where the crank stands; None if nobody has said, or if it was barred on freely since."""
    every = [stop.position for stage in job.stages for stop in stage.stops]
    return next((each for each in every if each is not None and each.words == job.crank), None)


def _cylinder(
    engine: Engine,
    name: str,
    targets: Iterable[TargetStanding],
    task: Task | None,
    crank: Position | None,
) -> Cylinder:
    own = [each for each in targets if each.work.target.cylinder == name]
    states = [state_of(each, task) for each in own]
    phase = None if crank is None else engine.phases.phase_deg(name, crank.crank_deg)
    return Cylinder(
        state=next((each for each in _FIRST if each in states), None),
        done=sum(each.is_done for each in own),
        of=len(own),
        crank="" if phase is None else phase_words(phase, engine),
        phase_deg=None if phase is None else float(phase),
    )


def phase_words(phase_deg: Fraction, engine: Engine) -> str:
    """Where a cylinder is in its cycle: ``firing TDC``, ``overlap TDC``, ``120° past firing``."""
    if phase_deg == 0:
        return "TDC" if engine.stroke == "two" else "firing TDC"
    if phase_deg == 360:
        return "overlap TDC"
    past = "TDC" if engine.stroke == "two" else "firing"
    return f"{degrees_words(phase_deg)} past {past}"
