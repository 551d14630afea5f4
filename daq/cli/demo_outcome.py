"""What came of the demo's job, held against what its simulated engine truly measures."""

from dataclasses import dataclass

from daq.cli.demo_engine import truth_mm
from daq.cli.demo_fitter import Fitter
from daq.cli.demo_story import Story, Where
from daq.jobs.keeping import KeptJob
from daq.jobs.standing import JobStanding, StepStanding, TargetStanding, is_in
from daq.logbook.job import JobResult
from simulated_devices.engine import Engine

IN_U = 3.0
"""What was left has to be within so many standard uncertainties of the truth."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """A job that was worked through, or stopped, and what there is to say of it.

    Args:
        story: what was known beforehand.
        kept: the job as the logbook has it.
        job: where it stands.
        engine: what was worked on, as it is now.
        fitter: who worked.
    """

    story: Story
    kept: KeptJob
    job: JobStanding
    engine: Engine
    fitter: Fitter

    @property
    def targets(self) -> list[TargetStanding]:
        """Every target of every step."""
        return [each for step in self.job.steps.values() for each in step.targets]

    def off_truth_mm(self) -> dict[Where, float]:
        """How far each result that was left is from the truth."""
        return {
            _where(each): float(each.as_left.value)
            - truth_mm(self.engine, each.work.planned, each.work.target)
            for each in self.targets
            if each.as_left is not None
        }

    def problems(self) -> list[str]:
        """What is not as it was to be expected, one a line; nothing if all is well."""
        if self.job.ended is None:
            done = sum(each.is_done for each in self.targets)
            return [f"the job was stopped with {done} of {len(self.targets)} done"]
        problems, off_mm = [], self.off_truth_mm()
        for each in self.targets:
            where, left = _where(each), each.as_left
            excused = where in self.story.skips or where in self.story.lets_stand
            if not each.is_done or each.passes == excused:
                problems.append(f"{', '.join(where)}: not left as was to be expected")
            elif left is not None and abs(off_mm[where]) > IN_U * float(left.u):
                problems.append(f"{', '.join(where)}: {off_mm[where]:+.4f} mm from the truth")
        return problems

    def caught(self) -> dict[str, int]:
        """How often each kind of mistake was caught, by what the program did about it."""
        refused, said = self.fitter.refusals, self.fitter.said
        return {
            "keys refused while the reading moved": sum("still moving" in each for each in refused),
            "keys refused because the plunger was not lifted": sum(
                "lift it" in each for each in refused
            ),
            "warnings of turns the wrong way": sum("the wrong way: here" in each for each in said),
            "settings that moved too far when they were locked": sum(map(_slips, self.targets)),
            "results put in doubt by a closing check": sum(
                len(each.doubted) for each in self.targets
            ),
        }


def _where(target: TargetStanding) -> Where:
    return target.work.planned.name, target.work.target.name


def _slips(target: TargetStanding) -> int:
    """How often locking moved a setting further than the sheet allows."""
    limit = target.work.planned.step.lock_shift
    adjusted: JobResult | None = None
    count = 0
    for each in target.results:
        if each.phase == "as left" and adjusted is not None and limit is not None:
            count += abs(each.value - adjusted.value) > limit.mm
        adjusted = each if each.phase == "adjusted" else None
    return count


def step_words(step: StepStanding) -> str:
    """A step that is done: how it was found and how it was left; what was excused, below."""
    found = [each.as_found for each in step.targets if each.as_found is not None]
    left = [each.as_left for each in step.targets if each.as_left is not None]
    lines = [f"{step.planned.step.what}: found {_spread(found)}; left {_spread(left)}"]
    for each in step.targets:
        if (excuse := each.exception) is not None:
            lines.append(f"    {each.work.target} {excuse.what}: {excuse.reason} ({excuse.by})")
    if doubted := sum(len(each.doubted) for each in step.targets):
        lines.append(
            f"    the closing check failed: {doubted} results in doubt, all measured again"
        )
    return "\n".join(lines)


def step_facts(step: StepStanding) -> dict[str, object]:
    """The same for programs."""
    left = [each.as_left for each in step.targets if each.as_left is not None]
    found = [each.as_found for each in step.targets if each.as_found is not None]
    return {
        "step": step.planned.name,
        "targets": len(step.targets),
        "found_in": sum(map(is_in, found)),
        "left_in": sum(map(is_in, left)),
        "excused": sum(each.exception is not None for each in step.targets),
        "doubted": sum(len(each.doubted) for each in step.targets),
    }


def _spread(results: list[JobResult]) -> str:
    """How many of the results are in, and the deviations they lie between."""
    off = sorted(each.deviation for each in results if each.deviation is not None)
    if not off:
        return "nothing"
    ends = f"{off[0]:+.3f}" if len(off) == 1 else f"{off[0]:+.3f} to {off[-1]:+.3f}"
    return f"{sum(map(is_in, results))} of {len(results)} in, {ends} mm"
