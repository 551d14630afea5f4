"""Whether a gauge of the stated range reaches what a step measures."""

import math
from decimal import Decimal
from typing import Literal

from daq.jobs.sheet.forms import CrankGear, Role
from daq.jobs.sheet.step import Step
from daq.spec import Spec, shown_in

Where = Literal["nominal", "master", "crank_gear"]
"""The key of a step that must be changed."""

_FINE_MM = Decimal("0.0001")


def out_of_range(step: Step, spec: Spec, role: Role) -> tuple[Where, str] | None:
    """What a gauge with the least range of its role cannot reach, and where; None if nothing.

    A comparator (indicator, probe) must travel from the master to the far limit. A depth gauge
    must reach from zero to the master and to the upper limit.

    Args:
        step: the step; its recipe says what the gauge has to do.
        spec: its figures for one variant.
        role: what the gauge must be able to do.
    """
    high_mm = spec.nominal_mm + (spec.upper_mm or 0)
    low_mm = spec.nominal_mm + (spec.lower_mm or 0)
    range_mm = role.range.mm
    who = f'the gauge "{role.role}" need only have {role.range}'
    ask = "ask for a longer range, or check the figure"
    if step.recipe == "dead centre":
        drop_mm = _drop_mm(step.crank_gear)
        if drop_mm > range_mm:
            return "crank_gear", f"the piston drops by {drop_mm:.1f} mm and {who}; {ask}"
        return None
    if step.recipe not in ("length", "points"):
        needed_mm = max(abs(low_mm), abs(high_mm))
        if needed_mm > range_mm:
            return "nominal", f"it may be {_shown(needed_mm, spec)} and {who}; {ask}"
        return None
    if role.is_comparator:
        return _from_master(step, spec, (low_mm, high_mm), range_mm, who)
    if step.master is not None and step.master.mm > range_mm:
        return "master", f"the master ({step.master}) is outside the range: {who}; {ask}"
    if high_mm > range_mm:
        return "nominal", f"the upper limit is at {_shown(high_mm, spec)} and {who}; {ask}"
    return None


def _from_master(
    step: Step, spec: Spec, ends_mm: tuple[Decimal, Decimal], range_mm: Decimal, who: str
) -> tuple[Where, str] | None:
    """How far a comparator must travel, if that is too far."""
    if step.master is None:
        return None  # a missing master is another mistake
    places = (*ends_mm, step.master.mm)
    needed_mm = max(places) - min(places)
    if needed_mm <= range_mm:
        return None
    return (
        "master",
        f"from the master ({step.master}) to the limits it is {_shown(needed_mm, spec)} and {who}; "
        "take a master nearer to the nominal, or ask for a longer range",
    )


def _drop_mm(gear: CrankGear | None) -> float:
    """How far the piston is from its top at the furthest angle; 0 if a figure is not sound."""
    if gear is None or None in (gear.stroke, gear.rod, gear.angles):
        return 0.0
    radius_mm, rod_mm = float(gear.stroke.mm) / 2, float(gear.rod.mm)
    angle = math.radians(float(max(gear.angles)))
    if rod_mm <= radius_mm:
        return 0.0  # no such crank turns, which is another mistake
    height_mm = radius_mm * math.cos(angle) + math.sqrt(
        rod_mm**2 - (radius_mm * math.sin(angle)) ** 2
    )
    return radius_mm + rod_mm - height_mm


def _shown(length_mm: Decimal, spec: Spec) -> str:
    if spec.unit == "in":
        return shown_in(length_mm, spec.unit, _FINE_MM, sign=False)
    return f"{length_mm.normalize():f} mm"
