"""What is worked out again when a report is made: does a record say what its own figures say?"""

from collections.abc import Iterator
from decimal import Decimal

from daq.logbook.job import JobResult
from daq.report.log_facts import LogFacts
from daq.spec import DecisionRule, Spec, SpecError, decide

_ROUNDED_MM = Decimal("0.000002")
"""Results are recorded to a millionth; a verdict made before rounding may be so far off."""


def disagreements(result: JobResult, spec: Spec, rule: DecisionRule) -> Iterator[str]:
    """Where a result contradicts the sheet or itself, in words; nothing if it does not.

    Args:
        result: of a target, not of a master check.
        spec: what the sheet says the length should be.
        rule: the sheet's decision rule.
    """
    if result.spec is None or result.verdict is None:
        yield "the record holds no verdict against the sheet's figures"
        return
    said = (result.spec.nominal_mm, result.spec.lower_mm, result.spec.upper_mm)
    if said != (spec.nominal_mm, spec.lower_mm, spec.upper_mm):
        yield "it was judged by other figures than the sheet has"
        return
    if result.unit != "mm":
        yield f"it is in {result.unit}, and the sheet's figures are lengths"
        return
    if result.deviation is None or (
        abs(result.value - spec.nominal_mm - result.deviation) > _ROUNDED_MM
    ):
        yield "the deviation on record is not value less nominal"
    if result.verdict.outcome not in _verdicts(result, spec, rule):
        yield f"worked out again by the rule {rule}, the verdict is not {result.verdict.outcome!r}"


def _verdicts(result: JobResult, spec: Spec, rule: DecisionRule) -> set[str]:
    """The verdicts there are within rounding of the recorded value."""
    try:
        return {
            decide(result.value + nudge, result.u, spec, rule).outcome.value
            for nudge in (-_ROUNDED_MM, Decimal(0), _ROUNDED_MM)
        }
    except SpecError:
        return set()


def withdrawals(result: JobResult, facts: LogFacts) -> Iterator[str]:
    """What was taken back of a result: its own record, or a capture it was made of."""
    for number, note in facts.notes:
        if note.purpose == "withdrawal" and note.about in (result.uid, *result.captures):
            what = "the result" if note.about == result.uid else "a capture"
            about = facts.numbers[note.about]
            words = f": {note.text}" if note.text else ""
            yield f"{what} (record {about}) was taken back by record {number}{words}"
