"""Limits on several results of one step together: spread, step to the neighbour, range within.

What counts is what was left. A target that was skipped or is not done yet takes no part, and a
finding names those that are missing.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Context, Decimal
from typing import Literal

from daq.jobs.sheet import neighbours
from daq.jobs.standing import StepStanding, TargetStanding
from daq.logbook.job import JobResult
from daq.spec import DecisionRule, SimpleAcceptance

FindingName = Literal["spread", "neighbour step", "within"]
AcrossOutcome = Literal["holds", "too large", "too close to call"]

_RANGE_WITHIN = "range within"
"""What ``daq.jobs.recipes.Field`` calls the range over the points of one target."""

_ROUNDING = Context(prec=28)


@dataclass(frozen=True, slots=True)
class Finding:
    """One limit across, held against what was left.

    value_mm, limit_mm: exact. u_mm: standard uncertainty of the value (k = 1), None if none is
    stated. targets: the names that the value is from: all that took part in a spread, the two
    neighbours that differ most, the one whose points were compared. missing: what has no result
    that counts, so that the finding is not about all of them.
    """

    name: FindingName
    value_mm: Decimal
    u_mm: Decimal | None
    limit_mm: Decimal
    outcome: AcrossOutcome
    targets: tuple[str, ...]
    missing: tuple[str, ...] = ()

    @property
    def holds(self) -> bool:
        """Whether the value is within its limit by the decision rule."""
        return self.outcome == "holds"


_SIMPLE = SimpleAcceptance()


def across_findings(step: StepStanding, rule: DecisionRule = _SIMPLE) -> tuple[Finding, ...]:
    """Every limit across of a step, as far as there is something to hold against it.

    A spread takes at least two targets, a step to the neighbour two that stand side by side.
    The uncertainty of a difference is that of its two ends, taken as independent: what they share,
    such as the mastering, would cancel, so it is rather too large.

    Args:
        step: how the step stands; a result that is not in millimetres takes no part.
        rule: how the uncertainty counts.
    """
    return tuple(_findings(step, rule))


def _findings(step: StepStanding, rule: DecisionRule) -> Iterator[Finding]:
    across = step.planned.step.across
    if across is None:
        return
    left = {
        each.work.target.name: result
        for each in step.targets
        if (result := _counts(each)) is not None
    }
    missing = tuple(
        each.work.target.name for each in step.targets if each.work.target.name not in left
    )
    if across.spread is not None and len(left) > 1:
        low, high = (pick(left, key=lambda name: left[name].value) for pick in (min, max))
        yield _difference("spread", left, (low, high), across.spread.mm, rule, missing)
    if across.neighbour_step is not None:
        pairs = [
            (one.name, other.name)
            for one, other in neighbours([each.work.target for each in step.targets])
            if one.name in left and other.name in left
        ]
        if pairs:
            widest = max(pairs, key=lambda pair: abs(left[pair[0]].value - left[pair[1]].value))
            limit_mm = across.neighbour_step.mm
            yield _difference("neighbour step", left, widest, limit_mm, rule, missing)
    if across.within is not None:
        for name, result in left.items():
            for part in result.parts:
                if part.name == _RANGE_WITHIN and part.unit == "mm":
                    outcome = _outcome(part.value, part.u, across.within.mm, rule)
                    yield Finding("within", part.value, part.u, across.within.mm, outcome, (name,))


def _counts(target: TargetStanding) -> JobResult | None:
    """What was left of a target, if it was measured at all."""
    exception, left = target.exception, target.as_left
    skipped = exception is not None and exception.what == "skipped"
    return None if skipped or left is None or left.unit != "mm" else left


def _difference(
    name: FindingName,
    left: dict[str, JobResult],
    ends: tuple[str, str],
    limit_mm: Decimal,
    rule: DecisionRule,
    missing: tuple[str, ...],
) -> Finding:
    one, other = (left[end] for end in ends)
    value_mm = abs(one.value - other.value)
    u_mm = _ROUNDING.sqrt(one.u**2 + other.u**2).quantize(Decimal("0.000001"))
    outcome = _outcome(value_mm, u_mm, limit_mm, rule)
    targets = tuple(left) if name == "spread" else ends
    return Finding(name, value_mm, u_mm, limit_mm, outcome, targets, missing)


def _outcome(
    value_mm: Decimal, u_mm: Decimal | None, limit_mm: Decimal, rule: DecisionRule
) -> AcrossOutcome:
    """The rule applied to a size that may not be larger than its limit."""
    if u_mm is None and rule.needs_u:
        return "too close to call"
    guards = rule.guards(u_mm or Decimal(0), limit_mm)
    if guards.accept_mm is not None and value_mm <= limit_mm - guards.accept_mm:
        return "holds"
    return "too large" if value_mm - limit_mm > guards.reject_mm else "too close to call"
