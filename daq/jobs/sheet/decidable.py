"""Limits that are tighter than the gauge can decide: no reading would ever prove them kept.

Shown before the job, it is a mistake on the sheet. Met during the job, it is a day lost.
"""

from decimal import ROUND_CEILING, Context, Decimal

from daq.jobs.sheet.forms import Role
from daq.jobs.sheet.step import Recipe
from daq.spec import DecisionRule, SimpleAcceptance, Spec, SpecError

LEAST_STEPS = 5
"""Limits must be at least so many display steps apart. Common practice; ten are better."""

DIFFERENCES: tuple[Recipe, ...] = ("play", "run-out", "deflection")
"""Recipes whose result is the difference of two readings: its u is √2 times that of one."""

NEVER_BELOW_ZERO: tuple[Recipe, ...] = ("play", "run-out", "deflection")
"""Recipes whose result is a size: zero bounds it where no limit above zero does."""

_UPWARDS = Context(prec=12, rounding=ROUND_CEILING)


def result_u_mm(role: Role, recipe: Recipe) -> Decimal:
    """The standard uncertainty of a result with the coarsest gauge that will do, millimetres."""
    if recipe not in DIFFERENCES:
        return role.u.mm
    return _UPWARDS.multiply(_UPWARDS.sqrt(Decimal(2)), role.u.mm)


def why_undecidable(spec: Spec, role: Role, recipe: Recipe, rule: DecisionRule) -> str:
    """Why no value within the limits could be accepted; empty if one could.

    Args:
        spec: the limits.
        role: what the gauge must be able to do; the coarsest that will do is looked at.
        recipe: how the result is made.
        rule: how the uncertainty counts.
    """
    width_mm = spec.width_mm
    above_zero = spec.lower_mm is not None and spec.nominal_mm + spec.lower_mm > 0
    if spec.upper_mm is not None and recipe in NEVER_BELOW_ZERO and not above_zero:
        return _why_not_within(spec.nominal_mm + spec.upper_mm, None, role, recipe, rule)
    if width_mm is None:
        return _why_not_by_rule(None, result_u_mm(role, recipe), rule)[1]
    return _why_not_within(width_mm, width_mm, role, recipe, rule)


def why_undecidable_across(limit_mm: Decimal, role: Role, rule: DecisionRule) -> str:
    """The same for a limit on how far results may differ: the difference of two results.

    Args:
        limit_mm: the largest difference allowed, millimetres.
        role: what the gauge must be able to do.
        rule: how the uncertainty counts.
    """
    return _why_not_within(limit_mm, limit_mm, role, "play", rule)


def _why_not_within(
    room_mm: Decimal, width_mm: Decimal | None, role: Role, recipe: Recipe, rule: DecisionRule
) -> str:
    """Why no value can be accepted in a room with an end at each side.

    Args:
        room_mm: from end to end.
        width_mm: the same if both ends are limits; None if one of them is zero by nature.
        role: what the gauge must be able to do.
        recipe: how the result is made.
        rule: how the uncertainty counts.
    """
    step_mm, u_mm = role.resolution.mm, result_u_mm(role, recipe)
    if room_mm <= 0:
        return "nothing is left between zero and the upper limit"
    if room_mm < LEAST_STEPS * step_mm:
        return (
            f"{_mm(room_mm)} is {_steps(room_mm, step_mm)} of {_mm(step_mm)}; it takes at least "
            f"{LEAST_STEPS}"
        )
    guard_mm, why = _why_not_by_rule(width_mm, u_mm, rule)
    if why:
        return why
    left_mm = room_mm - guard_mm * (1 if width_mm is None else 2)
    if left_mm < step_mm:
        return f"the guard band of {_mm(guard_mm)} leaves less than a display step to be in"
    if 4 * u_mm > room_mm and isinstance(rule, SimpleAcceptance):
        return (
            f"the uncertainty interval ±U is {_mm(4 * u_mm)} wide (U = 2u, u = {_mm(u_mm)}) and "
            f"they are {_mm(room_mm)} apart"
        )
    return ""


def _why_not_by_rule(
    width_mm: Decimal | None, u_mm: Decimal, rule: DecisionRule
) -> tuple[Decimal, str]:
    """The rule's guard band, and why it accepts nothing; empty if it accepts something."""
    try:
        guards = rule.guards(u_mm, width_mm)
    except SpecError as error:
        return Decimal(0), str(error)
    if guards.accept_mm is None:
        return Decimal(0), guards.why_none
    return guards.accept_mm, ""


def _steps(size_mm: Decimal, step_mm: Decimal) -> str:
    number = (size_mm / step_mm).quantize(Decimal("0.1")).normalize()
    return f"{number:f} display {'step' if number == 1 else 'steps'}"


def _mm(size_mm: Decimal) -> str:
    return f"{Decimal(f'{size_mm:.3g}').normalize():f} mm"
