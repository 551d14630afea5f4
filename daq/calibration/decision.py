"""The decision on one characteristic of a gauge: its value, its permissible limits, a stated rule.

The rules are those of `daq.spec.rules`; here they get the words of a calibration certificate, the
coverage factor of the budget, and a bound on U.
"""

import enum
from dataclasses import dataclass, replace
from decimal import Decimal

from pydantic import ValidationError

from daq.calibration.errors import CalibrationError
from daq.spec.errors import SpecError
from daq.spec.limits import Spec
from daq.spec.rules import ConformanceProbability, DecisionRule, GuardBand, SimpleAcceptance
from daq.spec.units import exact_mm
from daq.spec.verdict import Outcome, Verdict, decide, p_conform, place


class Word(enum.Enum):
    """What the certificate says of a characteristic.

    Source: ILAC-G8:09/2019, 4.2: binary and non-binary statements with a guard band.
    """

    PASS = "pass"
    CONDITIONAL_PASS = "conditional pass"
    CONDITIONAL_FAIL = "conditional fail"
    FAIL = "fail"
    NOT_JUDGED = "not judged"


MEANINGS = {
    Word.PASS: "within the limits, by at least the guard band",
    Word.CONDITIONAL_PASS: "within the limits, but by less than the guard band",
    Word.CONDITIONAL_FAIL: "outside the limits, but by no more than the guard band",
    Word.FAIL: "outside the limits, by more than the guard band",
    Word.NOT_JUDGED: "the uncertainty is too large for these limits under this rule",
}
"""What each word means, for the certificate."""


@dataclass(frozen=True, slots=True)
class Decision:
    """What a rule makes of one characteristic.

    expanded_mm: U = k·u that was used. guard_mm: how far inside the limits a pass must lie; None
    if no value can pass. acceptance_zone: whether any can. p_conform: probability that the true
    value is within the limits. rule_text: the rule, as ``rule_from`` reads it. bound_mm: the most
    that U was allowed to be, or None.
    """

    word: Word
    value_mm: Decimal
    u_mm: Decimal
    k: Decimal
    expanded_mm: Decimal
    guard_mm: Decimal | None
    acceptance_zone: bool
    p_conform: float
    rule_text: str
    reason: str
    bound_mm: Decimal | None = None

    @property
    def consumer_risk(self) -> float:
        """The probability that it does not conform: what a pass would risk."""
        return 1.0 - self.p_conform

    @property
    def producer_risk(self) -> float:
        """The probability that it conforms: what a fail would risk."""
        return self.p_conform


def characteristic(
    name: str,
    *,
    lower_mm: Decimal | None = None,
    upper_mm: Decimal | None = None,
    source: str,
) -> Spec:
    """Limits of a characteristic, such as a permissible error, about nominal 0.

    A quantity that cannot be below zero, such as a hysteresis, has an upper limit only.

    Raises:
        CalibrationError: no limit, contradicting ones, or no name or source.
    """
    try:
        return Spec(
            name=name, nominal_mm=Decimal(0), lower_mm=lower_mm, upper_mm=upper_mm, source=source
        )
    except ValidationError as error:
        problems = "; ".join(each["msg"].removeprefix("Value error, ") for each in error.errors())
        raise CalibrationError(
            f"the characteristic '{name}' cannot be judged: {problems}"
        ) from error


def judge(
    value_mm: Decimal | float,
    u_mm: Decimal | float,
    spec: Spec,
    rule: DecisionRule,
    *,
    k: Decimal | float | None = None,
    largest_expanded_mm: Decimal | None = None,
    magnitude: bool = False,
) -> Decision:
    """Decide on one characteristic.

    Args:
        value_mm: its value.
        u_mm: standard uncertainty (k = 1), above 0: a calibration without one judges nothing.
        spec: its limits.
        rule: how the uncertainty counts.
        k: the budget's coverage factor, so that U is the budget's own; without it the rule's k.
            A conformance probability does not use it but for the bound.
        largest_expanded_mm: the most that U may be, whatever the rule. With simple acceptance this
            bounds the shared risk; for a limit on one side only it is the one bound there can be.
        magnitude: whether the value can never be below zero, as a span or a hysteresis. A guard
            band wider than its upper limit then leaves no acceptance zone either.

    Returns:
        The word and its reason. Where U is beyond its bound, or the limits leave no acceptance
        zone, the word is *not judged*; only a value outside by more than the guard still fails.

    Raises:
        CalibrationError: a figure is not finite or makes no sense, k is below 1 or above 5, or
            the rule does not suit the limits; or a magnitude is below zero, or has a lower limit.

    Source: JCGM 106:2012, 8; ILAC-G8:09/2019 for the words.
    """
    try:
        used = _with_k(rule, k)
        # Six figures of k: it is a factor to state, and 2.9207816224 adds nothing.
        factor = _factor(used, k)
        verdict = decide(value_mm, u_mm, spec, used)
        probability = p_conform(value_mm, u_mm, spec)
    except (SpecError, ValidationError) as error:
        raise CalibrationError(_said_by(error, spec)) from error
    u = u_mm if isinstance(u_mm, Decimal) else Decimal(repr(float(u_mm)))
    if u <= 0:
        raise CalibrationError(f"'{spec.name}' has no uncertainty; nothing is judged without one")
    expanded_mm = factor * u
    if magnitude:
        _require_magnitude(value_mm, spec)
        verdict = _above_zero(verdict, spec)
    word, reason = _word(value_mm, verdict, spec)
    if largest_expanded_mm is not None and expanded_mm > largest_expanded_mm:
        reason = (
            f"{verdict.reason}; U is {expanded_mm:.4g} mm (k = {factor:f}) "
            f"and may be at most {largest_expanded_mm:f} mm"
        )
        # Without a guard of its own, simple acceptance would fail what U may well have put out.
        beyond = _outside_mm(value_mm, spec) > expanded_mm
        word = Word.FAIL if word is Word.FAIL and beyond else Word.NOT_JUDGED
    zone = verdict.guard_mm is not None
    return Decision(
        word=word,
        value_mm=exact_mm(value_mm),
        u_mm=u,
        k=factor,
        expanded_mm=expanded_mm,
        guard_mm=verdict.guard_mm,
        acceptance_zone=zone,
        p_conform=probability,
        rule_text=verdict.rule_text,
        reason=reason,
        bound_mm=largest_expanded_mm,
    )


def _word(value_mm: Decimal | float, verdict: Verdict, spec: Spec) -> tuple[Word, str]:
    if verdict.outcome is Outcome.IN:
        return Word.PASS, verdict.reason
    if verdict.outcome is not Outcome.TOO_CLOSE_TO_CALL:
        without = "" if verdict.guard_mm is not None else "; the rule leaves no acceptance zone"
        return Word.FAIL, verdict.reason + without
    if verdict.guard_mm is None:
        return Word.NOT_JUDGED, f"no acceptance zone: {verdict.reason}"
    within = place(value_mm, spec).outcome is Outcome.IN
    return (Word.CONDITIONAL_PASS if within else Word.CONDITIONAL_FAIL), verdict.reason


def _require_magnitude(value_mm: Decimal | float, spec: Spec) -> None:
    if spec.lower_mm is not None or spec.nominal_mm != 0:
        raise CalibrationError(f"'{spec.name}' is a magnitude: give an upper limit about 0 only")
    if exact_mm(value_mm) < 0:
        raise CalibrationError(f"'{spec.name}' is {value_mm} mm, and can never be below zero")


def _above_zero(verdict: Verdict, spec: Spec) -> Verdict:
    """The verdict on a magnitude: no acceptance zone if the guard takes all above zero."""
    guard_mm, upper_mm = verdict.guard_mm, spec.upper_mm
    if guard_mm is None or upper_mm is None or guard_mm <= upper_mm:
        return verdict
    if verdict.outcome is not Outcome.TOO_CLOSE_TO_CALL:
        return replace(verdict, guard_mm=None)
    reason = (
        f"{verdict.reason}, and no value can be accepted: the guard band of {guard_mm:.4g} mm "
        f"leaves nothing above 0 within {upper_mm:f} mm"
    )
    return replace(verdict, guard_mm=None, reason=reason)


def _with_k(rule: DecisionRule, k: Decimal | float | None) -> DecisionRule:
    """The rule with the budget's coverage factor in the place of its own."""
    if k is None or isinstance(rule, ConformanceProbability) or not rule.needs_u:
        return rule
    return type(rule).model_validate({**rule.model_dump(), "k": _six_figures(k)})


def _factor(rule: DecisionRule, k: Decimal | float | None) -> Decimal:
    if k is not None:
        factor = _six_figures(k)
        if not 1 <= factor <= 5:
            raise CalibrationError(
                f"k = {factor} is no coverage factor to judge with; it is 1 to 5"
            )
        return factor
    return rule.k if isinstance(rule, SimpleAcceptance | GuardBand) else Decimal(2)


def _six_figures(k: Decimal | float) -> Decimal:
    exact = k if isinstance(k, Decimal) else Decimal(repr(float(k)))
    return Decimal(f"{exact:.6g}") if exact.is_finite() else exact


def _outside_mm(value_mm: Decimal | float, spec: Spec) -> Decimal:
    """How far beyond a limit the value lies; below zero if inside both."""
    deviation = exact_mm(value_mm) - spec.nominal_mm
    beyond: list[Decimal] = []
    if spec.lower_mm is not None:
        beyond.append(spec.lower_mm - deviation)
    if spec.upper_mm is not None:
        beyond.append(deviation - spec.upper_mm)
    return max(beyond)


def _said_by(error: SpecError | ValidationError, spec: Spec) -> str:
    if isinstance(error, SpecError):
        return f"'{spec.name}' cannot be judged: {error}"
    return (
        f"'{spec.name}' cannot be judged: the rule takes a coverage factor from 1 to 5, and the "
        "budget's is beyond; with so few degrees of freedom take more readings"
    )
