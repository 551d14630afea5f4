"""One target of a step as a report shows it, and what is to be said against it."""

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal

from daq.jobs.sheet import Step
from daq.jobs.standing import TargetStanding, is_in
from daq.logbook.job import JobGate, JobResult
from daq.report.amounts import Scale
from daq.report.checks import disagreements, withdrawals
from daq.report.lines import Component, CorrectionLine, Measured, PartLine, ResultLine
from daq.report.log_facts import LogFacts
from daq.report.model import State, TargetReport
from daq.spec import DecisionRule

_BY_MASTER = "the closing check on the master has moved too far since this was measured"


@dataclass(frozen=True, slots=True)
class TargetView:
    """A target with all that is needed to speak of it."""

    target: TargetStanding
    facts: LogFacts
    rule: DecisionRule
    scale: Scale

    @property
    def step(self) -> Step:
        """The step on the sheet."""
        return self.target.work.planned.step

    @property
    def where(self) -> dict[str, str]:
        """Step and target, as every list names them."""
        return {"step": self.step.name, "target": self.target.work.target.words}

    @property
    def counts(self) -> JobResult | None:
        """The result that is spoken of: what was left, else the newest."""
        return self.target.as_left or self.target.latest

    @property
    def state(self) -> State:
        """What this target comes to."""
        target, exception = self.target, self.target.exception
        if exception is not None:
            return "skipped" if exception.what == "skipped" else "overruled"
        latest = target.latest
        if latest is None or target.since_is_work:
            return "not done"
        if target.is_in_doubt or any(self.spoilt(latest)):
            return "in doubt"
        if target.passes:
            return "passed"
        return "not passed" if not is_in(latest) or self.moved_too_far(latest) else "not done"

    def spoilt(self, result: JobResult) -> Iterator[str]:
        """Why a result cannot be relied on, apart from the master and its own doubts."""
        yield from withdrawals(result, self.facts)
        yield from disagreements(result, self.target.work.planned.spec, self.rule)

    def moved_too_far(self, result: JobResult) -> bool:
        """Whether locking moved it by more than the sheet allows."""
        shift, limit = self.target.shift(result), self.step.lock_shift
        return shift is not None and limit is not None and abs(shift) > float(limit.mm)

    def doubts(self, result: JobResult) -> tuple[str, ...]:
        """Every reason for which a result does not count."""
        by_master = (_BY_MASTER,) if result.uid in self.target.doubted else ()
        return (*by_master, *self.spoilt(result))

    def doubts_of_found(self) -> tuple[str, ...]:
        """Every reason for which what was found does not count, where something else was left."""
        found = self.target.as_found
        if found is None or found is self.counts:
            return ()
        return tuple(f"as found: {each}" for each in self.doubts(found))

    def why_not(self) -> str:
        """Why what counts has not passed; empty if nothing was measured or it is in."""
        result = self.counts
        if result is None or self.target.since_is_work:
            return ""
        if not is_in(result):
            outcome = result.verdict.outcome if result.verdict else "no verdict"
            if result.deviation is None:
                return outcome
            away = self.scale.amount(result.deviation, result.unit, sign=True)
            return f"{outcome}: {away.shown} {away.shown_unit} from nominal, {self._limits}"
        if self.moved_too_far(result):
            shift = self.scale.length(self._shift(result), sign=True)
            limit = self.step.lock_shift
            return f"locking moved it by {shift.shown} {shift.shown_unit}; allowed are {limit}"
        return ""

    @property
    def _limits(self) -> str:
        spec = self.target.work.planned.spec
        ends = [
            f"{word} {self.scale.words(end, sign=True)}"
            for word, end in (("lower limit", spec.lower_mm), ("upper limit", spec.upper_mm))
            if end is not None
        ]
        return ", ".join(ends)

    def _shift(self, result: JobResult) -> Decimal:
        before = [each for each in self.target.results if each.phase == "adjusted"]
        return result.value - before[-1].value

    def report(self) -> TargetReport:
        """The target in the model."""
        target = self.target
        found, left, latest = target.as_found, target.as_left, target.latest
        shift = None
        if left is not None and target.shift(left) is not None:
            shift = self.scale.amount(self._shift(left), left.unit, sign=True)
        turned = [
            each for each in target.records if isinstance(each, JobGate) and each.gate == "adjusted"
        ]
        # A screw that was turned while watching leaves no confirmed turn, only what it was set to.
        set_to = [each for each in target.results if each.phase == "adjusted"]
        return TargetReport(
            name=target.work.target.name,
            words=target.work.target.words,
            state=self.state,
            as_found=None if found is None else self._measured(found),
            as_left=None if left is None else self._measured(left),
            latest=self._measured(latest) if left is None and latest is not None else None,
            adjustments=max(len(turned), len(set_to)),
            locking_shift=shift,
            results=tuple(self._line(each) for each in target.results),
        )

    def _measured(self, result: JobResult) -> Measured:
        return measured(result, self.facts, self.scale)

    def _line(self, result: JobResult) -> ResultLine:
        verdict = result.verdict
        return ResultLine(
            record=self.facts.numbers[result.uid],
            phase=result.phase or "",
            what=result.what,
            value=result.value,
            u=result.u,
            unit=result.unit,
            deviation=result.deviation,
            guard_mm=verdict.guard_mm if verdict else None,
            verdict=verdict.outcome if verdict else "none",
            rule=verdict.rule if verdict else "",
            captures=numbers_of(result, self.facts),
            operator=result.operator,
            at=result.at,
            components=tuple(
                Component(name=each.name, u=each.u, unit=each.unit, sensitivity=each.sensitivity)
                for each in result.components
            ),
            parts=tuple(
                PartLine(name=each.name, of=each.of, value=each.value, unit=each.unit, u=each.u)
                for each in result.parts
            ),
            corrections=tuple(
                CorrectionLine(name=each.name, amount=each.amount, unit=each.unit, why=each.why)
                for each in result.corrections
            ),
            remarks=result.remarks,
            doubts=(*self.doubts(result), *result.doubts),
        )


def measured(result: JobResult, facts: LogFacts, scale: Scale) -> Measured:
    """A result in short."""
    away = result.deviation
    return Measured(
        record=facts.numbers[result.uid],
        value=scale.amount(result.value, result.unit),
        expanded=scale.expanded(result.u, result.unit),
        deviation=None if away is None else scale.amount(away, result.unit, sign=True),
        verdict=result.verdict.outcome if result.verdict else "none",
        captures=numbers_of(result, facts),
        operator=result.operator,
        at=result.at,
    )


def numbers_of(result: JobResult, facts: LogFacts) -> tuple[int, ...]:
    """The numbers of the captures that a result was made of."""
    return tuple(facts.numbers[uid] for uid in result.captures)
