"""The free plunger and the setting master: is the gauge where it was, and does it come back?

Before a step the plunger is let down twice and must come back to the same reading; after it, the
gauge must still read on its master what it read before.
"""

from collections.abc import Mapping
from decimal import Decimal
from typing import Any, Literal

from daq.jobs.standing import StepStanding
from daq.logbook.capture import Capture, CapturedSpec, CapturedVerdict
from daq.logbook.job import JobComponent, JobPoint, JobResult, MasterCheck

LIFTS = 2
"""How often the free plunger is let down before a gauge is trusted."""

_NANOMETRE = Decimal("0.000001")


def master_result(
    step: StepStanding,
    check: MasterCheck,
    point: JobPoint,
    captures: Mapping[str, Capture],
    stamp: Mapping[str, Any],
) -> list[JobResult]:
    """The result of a check, if ``point`` was the last one that it needs; else nothing.

    Args:
        step: as it stood before the point.
        check: which one.
        point: the newest.
        captures: by uid, those that the points name.
        stamp: what every record of the job begins with.
    """
    points = [*step.master_points, point]
    if check == "before" and len(points) < LIFTS:
        return []
    readings = [captures[each.capture] for each in points]
    limit_mm = master_limit_mm(step)
    mean_mm = sum((each.value_mm for each in readings), Decimal(0)) / len(readings)
    value_mm = mean_mm.quantize(_NANOMETRE)
    reference_mm = readings[0].value_mm
    if check == "after" and step.mastered is not None:
        reference_mm = step.mastered.value
    off_mm = readings[-1].value_mm - reference_mm
    u_mm = max(each.u_mm for each in readings)
    outcome: Literal["in", "low", "high"] = "in"
    if abs(off_mm) > limit_mm:
        outcome = "high" if off_mm > 0 else "low"
    what = "return of the free plunger" if check == "before" else "closing check"
    return [
        JobResult(
            **stamp,
            step=step.planned.name,
            target="",
            phase=None,
            master=check,
            what=what,
            value=value_mm,
            u=u_mm,
            unit="mm",
            spec=CapturedSpec(
                name=what,
                nominal_mm=reference_mm,
                lower_mm=-limit_mm,
                upper_mm=limit_mm,
                unit="mm",
                source="the gauge's own reading before",
            ),
            deviation=off_mm,
            verdict=CapturedVerdict(outcome=outcome, rule="simple", guard_mm=Decimal(0)),
            captures=tuple(each.uid for each in readings),
            components=(
                JobComponent(name="settled value", u=u_mm, unit="mm", sensitivity=Decimal(1)),
            ),
            parts=(),
            corrections=(),
            remarks=(),
            doubts=(),
        )
    ]


def master_limit_mm(step: StepStanding) -> Decimal:
    """How far a gauge may miss what it read before; the sheet says, or twice the role's u.

    Never less than two display steps, which nobody can tell from none.
    """
    planned = step.planned
    given = planned.step.master_limit
    wanted_mm = given.mm if given is not None else 2 * planned.role.u.mm
    return max(wanted_mm, 2 * planned.role.resolution.mm)
