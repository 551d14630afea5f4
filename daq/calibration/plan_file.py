"""A calibration plan from a TOML file: read whole, or refused with every mistake at its line."""

import hashlib
from decimal import Decimal
from itertools import pairwise

from daq.calibration.errors import PlanError
from daq.calibration.fields import brief_mm
from daq.calibration.plan import PartialPoints, Plan, PlanFile, PlanHeading, Repeats
from daq.calibration.toml_file import Path, Problems, form_from

LEAST_SHARE = Decimal("0.9")
"""A plan must reach so much of the range to say anything of the whole."""


def plan_from_bytes(raw: bytes, name: str) -> Plan:
    """The plan in a file's bytes.

    Args:
        raw: the file's content; UTF-8.
        name: the file's name, for the messages.

    Raises:
        PlanError: with every mistake at once, each as ``file:line: field: what is wrong; what
            would be right``.
    """
    file = form_from(raw, name, PlanFile, _problems_between, PlanError)
    return Plan(
        name=name,
        fingerprint=hashlib.sha256(raw).hexdigest(),
        heading=file.plan,
        partial=file.partial,
        repeats=file.repeats,
        text=raw.decode("utf-8-sig"),
    )


def _problems_between(file: PlanFile) -> Problems:
    """What is wrong between the figures; a table that is not sound is None."""
    plan: PlanHeading | None = file.plan
    if plan is not None:
        yield from _heading_problems(plan)
    if file.partial is not None:
        yield from _partial_problems(file.partial, plan)
    for number, each in enumerate(file.repeats):
        if each is not None and plan is not None:
            yield from _repeat_problems(("repeats", number), each, plan)
            if each in file.repeats[:number]:
                yield ("repeats", number), "the same stands twice; write more times instead"


def _heading_problems(plan: PlanHeading) -> Problems:
    yield from _order_problems(("plan", "points"), plan.points_mm, plan.range_mm)
    first_mm, last_mm = plan.points_mm[0], plan.points_mm[-1]
    if first_mm != 0:
        yield (
            ("plan", "points", 0),
            f"the first point is the zero, not {brief_mm(first_mm)}; put " + '"0 mm" before it',
        )
    if last_mm < LEAST_SHARE * plan.range_mm:
        yield (
            ("plan", "points"),
            f"they end at {brief_mm(last_mm)} of {brief_mm(plan.range_mm)}; add points up to the "
            "end of the range",
        )
    if plan.approach == "lifted" and plan.directions != "up":
        yield (
            ("plan", "approach"),
            "a lifted plunger comes from the same side on the way up and down; add directions = "
            '"up", or write approach = "without reversing"',
        )
    if not plan.coldest < plan.warmest:
        yield (
            ("plan", "coldest"),
            f"{plan.coldest} °C is not below the warmest, {plan.warmest} °C; check both",
        )
    elif not plan.coldest <= 20 <= plan.warmest:
        yield (
            ("plan", "coldest"),
            f"lengths are stated at 20 °C, which is not from {plan.coldest} to {plan.warmest}; "
            "check both",
        )


def _partial_problems(partial: PartialPoints, plan: PlanHeading | None) -> Problems:
    at: Path = ("partial", "points")
    yield from _order_problems(at, partial.points_mm, plan.range_mm if plan is not None else None)
    length_mm = partial.points_mm[-1] - partial.points_mm[0]
    if length_mm > partial.over_mm:
        yield (
            at,
            f"they lie {brief_mm(length_mm)} apart from first to last, and the piece is "
            f"{brief_mm(partial.over_mm)} long; bring them together, or write a longer one",
        )
    if plan is not None and partial.over_mm >= plan.range_mm:
        yield (
            ("partial", "over"),
            f"{brief_mm(partial.over_mm)} is no part of a range of {brief_mm(plan.range_mm)}; "
            "write a shorter one",
        )


def _order_problems(at: Path, points: tuple[Decimal, ...], range_mm: Decimal | None) -> Problems:
    for place, (before_mm, point_mm) in enumerate(pairwise(points), start=1):
        if point_mm == before_mm:
            yield (*at, place), f"{brief_mm(point_mm)} stands twice; take one out"
        elif point_mm < before_mm:
            yield (
                (*at, place),
                f"{brief_mm(point_mm)} comes after {brief_mm(before_mm)}, which would reverse; "
                "write them ascending",
            )
    for place, point_mm in enumerate(points):
        if range_mm is not None and point_mm > range_mm:
            yield (
                (*at, place),
                f"{brief_mm(point_mm)} is beyond the range of {brief_mm(range_mm)}; check both",
            )


def _repeat_problems(at: Path, repeats: Repeats, plan: PlanHeading) -> Problems:
    if repeats.at_mm not in plan.points_mm:
        near = min(plan.points_mm, key=lambda each: (abs(each - repeats.at_mm), each))
        yield (
            (*at, "at"),
            f"{brief_mm(repeats.at_mm)} is none of the points; the nearest is {brief_mm(near)}",
        )
    if repeats.direction == "down" and plan.directions == "up":
        yield (
            (*at, "direction"),
            'the plan goes up only; write "up", or directions = "up and down" in [plan]',
        )
