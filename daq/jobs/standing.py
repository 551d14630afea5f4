"""Where a job stands, worked out from its records and nothing else.

The first result of a target that no closing check has put in doubt, of those before anybody touched
it, is its as-found value for ever. What counts as left is the latest
result that needed nothing more: a result within its limits that nobody touched after, or the one
after locking. A closing master check that has moved too far puts everything since the last good
one in doubt.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import TypeVar

from daq.jobs.sheet import PlannedStep, Sheet, Target
from daq.jobs.stages import Stage, Work, stages_of
from daq.logbook.job import (
    Gate,
    JobBegun,
    JobCalibration,
    JobEnded,
    JobException,
    JobGate,
    JobGaugeUsed,
    JobPoint,
    JobRecord,
    JobResult,
    Phase,
)

Record = TypeVar("Record", JobGate, JobPoint, JobResult, JobException)


@dataclass(slots=True)
class TargetStanding:
    """One target of one step: everything recorded of it, oldest first, and what that comes to."""

    work: Work
    records: list[JobGate | JobPoint | JobResult | JobException] = field(default_factory=list)
    doubted: set[str] = field(default_factory=set)
    """Results, by uid, that a closing master check has put in doubt."""

    @property
    def results(self) -> list[JobResult]:
        """Every result."""
        return [each for each in self.records if isinstance(each, JobResult)]

    @property
    def as_found(self) -> JobResult | None:
        """What was found: the first result, or one measured untouched after that was in doubt."""
        found = [each for each in self.results if each.phase == "as found"]
        sure = [each for each in found if each.uid not in self.doubted]
        return next(iter([*sure, *found]), None)

    @property
    def latest(self) -> JobResult | None:
        """The newest result; None too after it was said to be measured again."""
        for each in reversed(self.records):
            if _begins_again(each):
                return None
            if isinstance(each, JobResult):
                return each
        return None

    @property
    def phase_again(self) -> Phase:
        """What a measurement that is done once more counts as."""
        if self.as_found is None:
            return "as found"
        if self.is_set_anew:
            return "adjusted"
        if self.is_in_doubt and all(each.phase == "as found" for each in self.results):
            return "as found"
        phases = [each.phase for each in self.records if isinstance(each, JobPoint | JobResult)]
        return "adjusted" if phases[-1] == "adjusted" else "as left"

    @property
    def is_set_anew(self) -> bool:
        """Whether it is being set once more though its newest result was within its limits."""
        begun = [each for each in self.records if isinstance(each, JobException)]
        return self.latest is None and bool(begun) and begun[-1].what == "anew"

    @property
    def exception(self) -> JobException | None:
        """A skip or an overruling that nothing has come after."""
        last = self.records[-1] if self.records else None
        return last if isinstance(last, JobException) and not _begins_again(last) else None

    @property
    def since(self) -> list[JobGate | JobPoint | JobResult | JobException]:
        """What came after the newest result, or after it was said to be measured again."""
        for number in reversed(range(len(self.records))):
            each = self.records[number]
            if isinstance(each, JobResult) or _begins_again(each):
                return self.records[number + 1 :]
        return list(self.records)

    def has_passed(self, gate: Gate) -> bool:
        """Whether this was confirmed since the newest result."""
        return any(isinstance(each, JobGate) and each.gate == gate for each in self.since)

    @property
    def points(self) -> list[JobPoint]:
        """The points of a measurement that has no result yet."""
        return [each for each in self.since if isinstance(each, JobPoint)]

    @property
    def is_in_doubt(self) -> bool:
        """Whether the newest result stands in doubt by a master check."""
        return self.latest is not None and self.latest.uid in self.doubted

    @property
    def as_left(self) -> JobResult | None:
        """The result that counts, None while there is none."""
        latest = self.latest
        if latest is None or self.since_is_work:
            return None
        if self.exception is not None:
            return latest
        return latest if self._is_final(latest) and not self.is_in_doubt else None

    @property
    def since_is_work(self) -> bool:
        """Whether somebody has worked on it, or begun to measure it, since the newest result."""
        return any(isinstance(each, JobGate | JobPoint) for each in self.since)

    @property
    def is_done(self) -> bool:
        """Whether there is nothing more to do here."""
        return self.exception is not None or self.as_left is not None

    @property
    def passes(self) -> bool:
        """Whether it was left within its limits, without anybody overruling."""
        left = self.as_left
        return self.exception is None and left is not None and is_in(left)

    @property
    def needs_checking_again(self) -> bool:
        """Whether an adjusted value has yet to be locked or worked and measured again."""
        step = self.work.planned.step
        return step.lock or step.exercise > 0

    def shift(self, result: JobResult) -> float | None:
        """How far locking moved the value, in the result's unit; None if it was not adjusted."""
        before = [each for each in self.results if each.phase == "adjusted"]
        if result.phase != "as left" or not before:
            return None
        return float(result.value - before[-1].value)

    def _is_final(self, result: JobResult) -> bool:
        if not is_in(result):
            return False
        if result.phase == "adjusted":
            return not self.needs_checking_again
        shift, limit = self.shift(result), self.work.planned.step.lock_shift
        return shift is None or limit is None or abs(shift) <= float(limit.mm)


def _begins_again(record: object) -> bool:
    """Whether a target is measured or set once more from here."""
    return isinstance(record, JobException) and record.what in ("again", "anew")


def is_in(result: JobResult) -> bool:
    """Whether the decision rule says that the result is within its limits."""
    return result.verdict is not None and result.verdict.outcome == "in"


@dataclass(slots=True)
class StepStanding:
    """One step: its targets in the order of the sheet, its gates and its master checks."""

    planned: PlannedStep
    targets: list[TargetStanding]
    gates: list[JobGate] = field(default_factory=list)
    masters: list[JobResult] = field(default_factory=list)
    master_points: list[JobPoint] = field(default_factory=list)
    """Points on the master that have made no result yet."""
    calibration: JobCalibration | None = None
    """What is known of its gauge's calibration; None where no register is kept."""

    @property
    def mastered(self) -> JobResult | None:
        """The check before that is in force: good, and not closed yet."""
        last = self.masters[-1] if self.masters else None
        return last if last is not None and last.master == "before" and is_in(last) else None

    @property
    def is_measured(self) -> bool:
        """Whether every target is done."""
        return all(each.is_done for each in self.targets)

    @property
    def is_closed(self) -> bool:
        """Whether the master was checked after the last measurement, where there is one."""
        if self.planned.step.master is None or not self.masters:
            return self.is_measured
        return self.masters[-1].master == "after"

    @property
    def is_sealed(self) -> bool:
        """Whether it was sealed, where the sheet asks for it."""
        sealed = any(each.gate == "sealed" for each in self.gates)
        return sealed or self.planned.step.seal is None or self.is_skipped

    @property
    def is_skipped(self) -> bool:
        """Whether every target was skipped."""
        found = [each.exception for each in self.targets]
        return all(each is not None and each.what == "skipped" for each in found)

    @property
    def is_done(self) -> bool:
        """Whether there is nothing more to do in this step."""
        return self.is_measured and self.is_closed and self.is_sealed


@dataclass(slots=True)
class JobStanding:
    """The whole job."""

    begun: JobBegun
    sheet: Sheet
    stages: tuple[Stage, ...]
    steps: dict[str, StepStanding]
    gates: list[JobGate] = field(default_factory=list)
    exceptions: list[JobException] = field(default_factory=list)
    calibrations: dict[str, JobCalibration] = field(default_factory=dict)
    """By role, what is known of the gauge's calibration."""
    gauges_used: list[JobGaugeUsed] = field(default_factory=list)
    ended: JobEnded | None = None

    @property
    def crank(self) -> str:
        """Where the crank was last said to stand, in words; empty if nobody has said."""
        every = [each for each in self.gates if each.gate == "crank"]
        return every[-1].target if every else ""

    def of(self, work: Work) -> TargetStanding:
        """How one step on one target stands."""
        return self.target(work.planned.name, work.target.name)

    def target(self, step: str, target: str) -> TargetStanding:
        """How one target stands.

        Raises:
            KeyError: the sheet has no such step or target.
        """
        for each in self.steps[step].targets:
            if each.work.target.name == target:
                return each
        raise KeyError(target)

    def allowance(self, known: JobCalibration) -> JobGaugeUsed | None:
        """What somebody has answered for, if a gauge is used although it may not be."""
        said = [each for each in self.gauges_used if each.calibration == known.uid]
        return said[-1] if said else None

    @property
    def is_complete(self) -> bool:
        """Whether nothing is left to do."""
        return all(each.is_done for each in self.steps.values())


def standing(
    sheet: Sheet, begun: JobBegun, records: Iterable[JobRecord], stages: Sequence[Stage] = ()
) -> JobStanding:
    """Where the job stands after these records.

    Args:
        sheet: the sheet that the job was begun with.
        begun: the job's first record.
        records: the job's later records, oldest first; those of other jobs are passed over.
        stages: the order of the work, if it is known already.
    """
    order = tuple(stages) or stages_of(sheet, begun.variant)
    steps = {
        planned.name: StepStanding(
            planned, [TargetStanding(Work(planned, target)) for target in planned.targets]
        )
        for stage in order
        for planned in stage.steps
    }
    job = JobStanding(begun, sheet, order, steps)
    for record in records:
        if not isinstance(record, JobBegun) and record.job == begun.uid:
            _take(job, record)
    return job


def _take(job: JobStanding, record: JobRecord) -> None:
    match record:
        case JobEnded():
            job.ended = record
        case JobGaugeUsed():
            job.gauges_used.append(record)
        case JobCalibration():
            job.calibrations[record.role] = record
            for step in job.steps.values():
                if step.planned.role.role == record.role:
                    step.calibration = record
        case JobGate():
            job.gates.append(record)
            if record.step in job.steps:
                job.steps[record.step].gates.append(record)
                if record.gate != "crank" and (target := _find(job, record.step, record.target)):
                    target.records.append(record)
        case JobPoint(master=None) | JobResult(master=None) | JobException():
            if isinstance(record, JobException):
                job.exceptions.append(record)
            if target := _find(job, record.step, record.target):
                target.records.append(record)
        case JobPoint():
            if record.step in job.steps:
                job.steps[record.step].master_points.append(record)
        case JobResult():
            if record.step in job.steps:
                _take_master(job.steps[record.step], record)
        case JobBegun():
            pass


def _find(job: JobStanding, step: str, target: str) -> TargetStanding | None:
    targets: list[Target] = [each.work.target for each in job.steps[step].targets]
    names = [each.name for each in targets]
    return job.steps[step].targets[names.index(target)] if target in names else None


def _take_master(step: StepStanding, result: JobResult) -> None:
    """A bad closing check puts in doubt what was measured since the gauge was last good."""
    opened = step.mastered
    step.masters.append(result)
    step.master_points.clear()
    if result.master != "after" or is_in(result) or opened is None:
        return
    for target in step.targets:
        target.doubted |= {each.uid for each in target.results if each.at >= opened.at}
