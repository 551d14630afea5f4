"""One step as a report shows it: its figures, its targets, limits across, master checks."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from daq.jobs.across import Finding, across_findings
from daq.jobs.sheet import PlannedStep, Step
from daq.jobs.standing import StepStanding, is_in
from daq.logbook.job import JobBegun, JobResult
from daq.report.amounts import Scale, scale_for
from daq.report.lines import AcrossLine, MasterLine
from daq.report.log_facts import LogFacts
from daq.report.model import StepReport
from daq.report.of_target import TargetView, measured
from daq.spec import DecisionRule


@dataclass(frozen=True, slots=True)
class StepView:
    """A step with all that is needed to speak of it."""

    step: StepStanding
    facts: LogFacts
    rule: DecisionRule
    scale: Scale
    targets: tuple[TargetView, ...]
    findings: tuple[Finding, ...]

    @property
    def planned(self) -> PlannedStep:
        """The step with the figures of the variant."""
        return self.step.planned

    @property
    def name(self) -> str:
        """What other steps call it."""
        return self.planned.name

    def master_problem(self) -> str:
        """What is to be said against the gauge's checks on its master; empty if nothing."""
        if not self.step.masters:
            unchecked = self.planned.step.master and any(x.target.results for x in self.targets)
            return "the gauge was not checked on its setting master" if unchecked else ""
        last = self.step.masters[-1]
        if is_in(last):
            return ""
        outcome = last.verdict.outcome if last.verdict else "no verdict"
        away = "" if last.deviation is None else f" ({self.scale.words(last.deviation, sign=True)})"
        return f"{last.what} of the gauge {last.master} measuring: {outcome}{away}"

    def across_words(self) -> list[str]:
        """Every finding as a sentence's end, in order."""
        said = []
        for each in self.findings:
            value, limit = self.scale.words(each.value_mm), self.scale.words(each.limit_mm)
            of = {"neighbour step": " and ".join, "within": "".join}.get(each.name)
            on = f" ({of(self._words_of(each.targets))})" if of else ""
            said.append(f"{each.name} {value}{on}, allowed {limit}: {each.outcome}")
        return said

    def _words_of(self, names: Sequence[str]) -> list[str]:
        words = {each.target.work.target.name: each.target.work.target for each in self.targets}
        return [words[name].words for name in names]

    def report(self, begun: JobBegun) -> StepReport:
        """The step in the model."""
        step, spec = self.planned.step, self.planned.spec
        labels = [each.label for each in begun.gauges if each.role == step.gauge]
        return StepReport(
            name=step.name,
            what=step.what,
            recipe=step.recipe,
            condition=spec.condition,
            nominal=str(step.nominal_for(begun.variant)),
            limits=str(step.limits_for(begun.variant)),
            unit=spec.unit,
            nominal_mm=spec.nominal_mm,
            lower_mm=spec.lower_mm,
            upper_mm=spec.upper_mm,
            source=spec.source,
            gauge_role=step.gauge,
            gauge_label=", ".join(labels),
            crank=str(step.crank),
            procedure=tuple(_procedure(step)),
            targets=tuple(each.report() for each in self.targets),
            across=tuple(self._across(each) for each in self.findings),
            masters=tuple(self._master(each) for each in self.step.masters),
        )

    def _across(self, finding: Finding) -> AcrossLine:
        u_mm = finding.u_mm
        return AcrossLine(
            name=finding.name,
            value=self.scale.length(finding.value_mm),
            expanded=None if u_mm is None else self.scale.expanded(u_mm, "mm"),
            limit=self.scale.length(finding.limit_mm),
            verdict=finding.outcome,
            targets=tuple(self._words_of(finding.targets)),
            missing=tuple(self._words_of(finding.missing)),
        )

    def _master(self, result: JobResult) -> MasterLine:
        short = measured(result, self.facts, self.scale)
        return MasterLine(
            record=self.facts.numbers[result.uid],
            when=result.master or "",
            what=result.what,
            value=short.value,
            expanded=short.expanded,
            reference_mm=result.spec.nominal_mm if result.spec else None,
            deviation=short.deviation,
            verdict=short.verdict,
            captures=short.captures,
            operator=short.operator,
            at=short.at,
        )


def step_view(step: StepStanding, facts: LogFacts, rule: DecisionRule) -> StepView:
    """A step with its scale, its targets and its limits across."""
    results = [each for target in step.targets for each in target.results]
    us_mm = [each.u for each in results or step.masters if each.unit == "mm"]
    scale = scale_for(step.planned.spec.unit, us_mm)
    targets = tuple(TargetView(each, facts, rule, scale) for each in step.targets)
    return StepView(step, facts, rule, scale, targets, across_findings(step, rule))


def _procedure(step: Step) -> Iterator[str]:
    """What the sheet asks beyond one settled value, a phrase each."""
    if step.points:
        yield f"measured at: {', '.join(step.points)}"
    if step.times > 1:
        yield f"measured {step.times} times"
    if step.exercise:
        yield f"worked {step.exercise} times before the check that counts"
    if step.lock:
        limit = f"; locking may move it by {step.lock_shift}" if step.lock_shift else ""
        yield f"measured again after locking{limit}"
    if step.master:
        limit = f"; its closing check may have moved {step.master_limit}" * bool(step.master_limit)
        yield f"setting master {step.master}{limit}"
    if step.seal:
        yield f"seal: {step.seal.rstrip('.')}"
