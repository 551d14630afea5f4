"""Is a length within its limits: in, low, high, or too close to call."""

import enum
import math
from dataclasses import dataclass
from decimal import Decimal

from daq.spec.errors import SpecError
from daq.spec.limits import Spec
from daq.spec.probability import between
from daq.spec.rules import DecisionRule, Guards
from daq.spec.units import EXACT, LONGEST_MM, exact_mm, shown_in


class Outcome(enum.Enum):
    """What is said of a length held against its limits."""

    IN = "in"
    LOW = "low"
    HIGH = "high"
    TOO_CLOSE_TO_CALL = "too close to call"


@dataclass(frozen=True, slots=True)
class Place:
    """Where a length lies against the plain limits, uncertainty left aside.

    It is for the eye while somebody adjusts. It is no verdict and is never kept as one.
    """

    outcome: Outcome
    """``IN``, ``LOW`` or ``HIGH``."""

    deviation_mm: Decimal
    """Value minus nominal."""


@dataclass(frozen=True, slots=True)
class Verdict:
    """What a decision rule makes of one settled length."""

    outcome: Outcome

    deviation_mm: Decimal
    """Value minus nominal: what the hand turns to zero."""

    guard_mm: Decimal | None
    """How far inside the limits the rule accepts; None if it can accept no value at all."""

    p_conform: float | None
    """Probability that the length is within the limits; None without an uncertainty."""

    rule_text: str
    """The rule, in the form ``rule_from`` reads."""

    reason: str
    """Why, in words."""


def place(value_mm: Decimal | float, spec: Spec) -> Place:
    """Where ``value_mm`` lies against the limits of ``spec``: quick, for a live indicator.

    Raises:
        SpecError: the value is not a finite length.
    """
    deviation_mm = EXACT.subtract(exact_mm(value_mm), spec.nominal_mm)
    return Place(_side(deviation_mm, spec) or Outcome.IN, deviation_mm)


def p_conform(value_mm: Decimal | float, u_mm: Decimal | float, spec: Spec) -> float:
    """The probability that the length is within its limits.

    Args:
        value_mm: the measured length, millimetres.
        u_mm: its standard uncertainty (k = 1), millimetres, 0 or more. At 0 the answer is 0 or 1.
        spec: the limits; one may be missing.

    Raises:
        SpecError: the value is not finite, or the uncertainty is not finite or below zero.

    Source: JCGM 106:2012, 7.3 (one limit) and 7.4 (two), normal distribution.
    """
    deviation_mm = EXACT.subtract(exact_mm(value_mm), spec.nominal_mm)
    return _p_conform(deviation_mm, _uncertainty(u_mm), spec)


def decide(
    value_mm: Decimal | float, u_mm: Decimal | float | None, spec: Spec, rule: DecisionRule
) -> Verdict:
    """Whether a length meets its specification, under a decision rule agreed beforehand.

    Args:
        value_mm: the settled length, millimetres; a float is read as ``exact_mm`` does.
        u_mm: its standard uncertainty (k = 1), millimetres, 0 or more; None where there is none,
            which only simple acceptance without a ratio can do with.
        spec: what the length should be.
        rule: how the uncertainty counts.

    Returns:
        *In* on or inside the acceptance limits; *low* or *high* beyond a limit by more than the
        guard; else *too close to call*. Limits are compared exactly, in Decimal.

    Raises:
        SpecError: a number is not finite, u is below zero or missing, or the rule does not suit
            the limits.

    Source: JCGM 106:2012, 8; ISO 14253-1:2017 for the two-sided proof.
    """
    deviation_mm = EXACT.subtract(exact_mm(value_mm), spec.nominal_mm)
    if u_mm is None:
        if rule.needs_u:
            raise SpecError(f"the rule '{rule}' needs the value's uncertainty, and there is none")
        guards, probability = rule.guards(Decimal(0), spec.width_mm), None
    else:
        u_exact_mm = _uncertainty(u_mm)
        guards = rule.guards(u_exact_mm, spec.width_mm)
        probability = _p_conform(deviation_mm, u_exact_mm, spec)
    margin_mm, limit = _margin(deviation_mm, spec)
    if guards.accept_mm is not None and margin_mm >= guards.accept_mm:
        outcome = Outcome.IN
    elif -margin_mm > guards.reject_mm:
        outcome = _side(deviation_mm, spec) or Outcome.TOO_CLOSE_TO_CALL
    else:
        outcome = Outcome.TOO_CLOSE_TO_CALL
    reason = _reason(outcome, margin_mm, limit, guards, spec)
    return Verdict(outcome, deviation_mm, guards.accept_mm, probability, str(rule), reason)


def _uncertainty(u_mm: Decimal | float) -> Decimal:
    # A float's shortest digits are what was meant; its binary tail would only lengthen the guards.
    u_exact_mm = u_mm if isinstance(u_mm, Decimal) else Decimal(repr(float(u_mm)))
    if not u_exact_mm.is_finite() or not 0 <= u_exact_mm <= LONGEST_MM:
        raise SpecError(f"{u_mm} mm is no standard uncertainty; it must be 0 or more, and finite")
    return u_exact_mm


def _side(deviation_mm: Decimal, spec: Spec) -> Outcome | None:
    """Which limit the deviation is beyond, if any."""
    if spec.lower_mm is not None and deviation_mm < spec.lower_mm:
        return Outcome.LOW
    if spec.upper_mm is not None and deviation_mm > spec.upper_mm:
        return Outcome.HIGH
    return None


def _margin(deviation_mm: Decimal, spec: Spec) -> tuple[Decimal, str]:
    """How far inside the nearer limit the deviation lies (negative outside), and which it is."""
    margins: list[tuple[Decimal, str]] = []
    if spec.lower_mm is not None:
        margins.append((EXACT.subtract(deviation_mm, spec.lower_mm), "lower"))
    if spec.upper_mm is not None:
        margins.append((EXACT.subtract(spec.upper_mm, deviation_mm), "upper"))
    return min(margins)


def _p_conform(deviation_mm: Decimal, u_mm: Decimal, spec: Spec) -> float:
    if u_mm == 0:
        return 1.0 if _side(deviation_mm, spec) is None else 0.0

    def z(limit_mm: Decimal) -> float:
        # The difference is exact; only the quotient is rounded.
        return float(EXACT.subtract(limit_mm, deviation_mm) / u_mm)

    z_low = -math.inf if spec.lower_mm is None else z(spec.lower_mm)
    z_high = math.inf if spec.upper_mm is None else z(spec.upper_mm)
    return between(z_low, z_high)


def _reason(outcome: Outcome, margin_mm: Decimal, limit: str, guards: Guards, spec: Spec) -> str:
    def length(mm: Decimal) -> str:
        # A tenth of a micrometre, or a hundred-thousandth of an inch: finer than any gauge here.
        step_mm = Decimal("0.000254") if spec.unit == "in" else Decimal("0.0001")
        return shown_in(abs(mm), spec.unit, step_mm, sign=False)

    side = "outside" if margin_mm < 0 else "inside"
    where = f"{length(margin_mm)} {side} the {limit} limit"
    if margin_mm == 0:
        where = f"exactly on the {limit} limit"
    if outcome is not Outcome.TOO_CLOSE_TO_CALL:
        return where
    if guards.accept_mm is None:
        return f"{where}, and no value can be accepted: {guards.why_none}"
    guard_mm = guards.reject_mm if margin_mm < 0 else guards.accept_mm
    return f"{where}, nearer than the guard band of {length(guard_mm)}"
