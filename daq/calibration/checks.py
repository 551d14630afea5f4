"""Whether a settled reading may be taken for the point that was asked, or why not.

What is refused here is a slip that would go into the result as an error of the gauge: another
block, another unit, a reversal, a standard past its date, a temperature out of limits.
"""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Literal

from daq.calibration.fields import brief_mm
from daq.calibration.forms import GaugeIdentity
from daq.calibration.plan import PlanHeading
from daq.calibration.points import Point
from daq.calibration.sequence import LEAST_STEPS, WantedPoint
from drivers.reading import MM_PER_INCH, Status

COULD_ERR = 5
"""A gauge is taken to err by no more than so many times its permissible error.

House rule: one that errs by more is broken, and far more often it is another block.
"""

COULD_ERR_STEPS = 10
"""Nor by less than so many display steps, where the permissible error is tight."""

Kind = Literal[
    "another gauge",
    "low battery",
    "gauge status",
    "standard",
    "temperature",
    "zero",
    "unit",
    "direction of count",
    "reversal",
    "not backed off",
    "wrong block",
    "has moved",
    "answer",
]
"""``answer``: not of a reading, but of what a person typed in."""


@dataclass(frozen=True, slots=True)
class Seen:
    """What was seen when a reading settled.

    ``lowest_mm`` and ``highest_mm`` are what was passed since the point before, or since the gauge
    was last refused and went back; None if nobody watched. ``temperature_c`` is of standard and
    gauge now, ``first_temperature_c`` at the first point of the run; None if nobody said.
    """

    value_mm: Decimal
    on: date
    temperature_c: Decimal | None
    first_temperature_c: Decimal | None = None
    lowest_mm: Decimal | None = None
    highest_mm: Decimal | None = None
    status: frozenset[Status] = frozenset()


@dataclass(frozen=True, slots=True)
class Refusal:
    """Why a reading is not taken: what is wrong, and what to do, in words to show.

    ``may_insist`` is true where it is a judgement: the gauge might really be so far off. Then a
    person may take the reading nevertheless, with a reason and a name.
    """

    kind: Kind
    words: str
    may_insist: bool = False

    def __str__(self) -> str:
        return self.words


def could_err_mm(gauge: GaugeIdentity) -> Decimal:
    """How far a gauge is taken to be able to err: more is another block, or another unit."""
    return max(COULD_ERR * gauge.limits.over_range_mm, COULD_ERR_STEPS * gauge.step_mm)


def check(
    wanted: WantedPoint, seen: Seen, gauge: GaugeIdentity, *, insisted: bool = False
) -> Refusal | None:
    """Why a settled reading may not be taken for a point; None if it may.

    Args:
        wanted: the point.
        seen: the reading and what came with it.
        gauge: the gauge that is calibrated.
        insisted: whether a person takes it nevertheless: what is a judgement is passed over, and
            the rest is not.
    """
    return (
        _status(seen, gauge)
        or _standard(wanted, seen)
        or check_temperature(
            wanted.prepared.plan.heading, seen.temperature_c, seen.first_temperature_c
        )
        or _zero(wanted, seen, gauge)
        or _unit(wanted, seen, gauge)
        or _sign(wanted, seen, gauge)
        or (None if insisted else _block(wanted, seen, gauge))
        or _reversal(wanted, seen, gauge)
    )


def check_return(before: Point, seen: Seen, gauge: GaugeIdentity) -> Refusal | None:
    """Why a run may not go on after an interruption; None if it may.

    Args:
        before: the last point that was taken.
        seen: the reading at the same place now.
        gauge: the gauge; it may differ by two display steps, or by its permissible repeatability if
            that is more.
    """
    limit_mm = max(LEAST_STEPS * gauge.step_mm, gauge.limits.repeatability_mm or Decimal(0))
    if abs(seen.value_mm - before.reading_mm) <= limit_mm:
        return None
    return Refusal(
        "has moved",
        f"It read {brief_mm(before.reading_mm)} here before and reads {brief_mm(seen.value_mm)} "
        "now: the zero has moved. Begin the run again.",
    )


def check_temperature(
    heading: PlanHeading, now_c: Decimal | None, first_c: Decimal | None = None
) -> Refusal | None:
    """Why a run may not go on at a temperature; None if it may.

    Args:
        heading: the plan's limits.
        now_c: of gauge and standard; None if nobody has said it.
        first_c: when the run began; None if it begins now.
    """
    if now_c is None:
        return Refusal("temperature", "Nobody has said the temperature. Measure it and type it in.")
    if not heading.coldest <= now_c <= heading.warmest:
        return Refusal(
            "temperature",
            f"It is {now_c} °C, and the plan allows {heading.coldest} to {heading.warmest} °C. "
            "Wait.",
        )
    if first_c is not None and abs(now_c - first_c) > heading.change:
        return Refusal(
            "temperature",
            f"It has changed by {abs(now_c - first_c)} K since the run began, and the plan allows "
            f"{heading.change} K. Wait, and begin the run again.",
        )
    return None


def _status(seen: Seen, gauge: GaugeIdentity) -> Refusal | None:
    if Status.BATTERY_LOW in seen.status:
        return Refusal("low battery", f"{gauge.label} says its battery is low. Put in a new one.")
    spoilt = sorted(each.value for each in seen.status if each.spoils_value)
    if spoilt:
        return Refusal("gauge status", f"{gauge.label} says {', '.join(spoilt)}. Put that right.")
    return None


def _standard(wanted: WantedPoint, seen: Seen) -> Refusal | None:
    for each in (wanted.prepared.standard, wanted.prepared.flat):
        if each is not None and (why := each.why_unusable(seen.on)):
            return Refusal("standard", f"{why}.")
    return None


def _zero(wanted: WantedPoint, seen: Seen, gauge: GaugeIdentity) -> Refusal | None:
    if not wanted.is_zero or abs(seen.value_mm) <= could_err_mm(gauge):
        return None
    return Refusal("zero", f"It reads {brief_mm(seen.value_mm)} here. Set the gauge to zero.")


def _is_near(value_mm: Decimal, wanted: WantedPoint, gauge: GaugeIdentity) -> bool:
    return abs(value_mm - wanted.reference_mm) <= could_err_mm(gauge)


def _unit(wanted: WantedPoint, seen: Seen, gauge: GaugeIdentity) -> Refusal | None:
    value_mm = seen.value_mm
    if _is_near(value_mm, wanted, gauge) or _is_small(wanted, gauge):
        return None
    for shows, read_as, ratio in (
        ("inches", "millimetres", MM_PER_INCH),
        ("millimetres", "inches", 1 / MM_PER_INCH),
    ):
        if _is_near(value_mm * ratio, wanted, gauge):
            return Refusal(
                "unit",
                f"It reads {brief_mm(value_mm)} where {brief_mm(wanted.stop.nominal_mm)} was "
                f"asked, a factor of 25.4. The gauge shows {shows} and is read as {read_as}: "
                "change its unit.",
            )
    return None


def _is_small(wanted: WantedPoint, gauge: GaugeIdentity) -> bool:
    """Whether the travel is too short to tell a wrong unit or sign from an error."""
    return abs(wanted.reference_mm) <= 2 * could_err_mm(gauge)


def _sign(wanted: WantedPoint, seen: Seen, gauge: GaugeIdentity) -> Refusal | None:
    if _is_small(wanted, gauge) or not _is_near(-seen.value_mm, wanted, gauge):
        return None
    return Refusal(
        "direction of count",
        f"It reads {brief_mm(seen.value_mm)} where +{brief_mm(wanted.stop.nominal_mm)} was asked: "
        "the gauge counts the other way round. Change its direction.",
    )


def _block(wanted: WantedPoint, seen: Seen, gauge: GaugeIdentity) -> Refusal | None:
    if _is_near(seen.value_mm, wanted, gauge):
        return None
    asked = f"{wanted.stack.words} ({brief_mm(wanted.stop.nominal_mm)})"
    said = f"It reads {brief_mm(seen.value_mm)} on {asked}"
    others = _others(wanted)
    near_mm = could_err_mm(gauge)
    alike = min(others, key=lambda each: abs(each[0] - seen.value_mm), default=None)
    if alike is not None and abs(alike[0] - seen.value_mm) <= near_mm:
        return Refusal("wrong block", f"{said}. It looks like {alike[1]}.", may_insist=True)
    return Refusal(
        "wrong block",
        f"{said}, further off than the gauge could err ({brief_mm(near_mm)}). Look at the block, "
        "at dirt under it and at the mounting.",
        may_insist=True,
    )


def _others(wanted: WantedPoint) -> list[tuple[Decimal, str]]:
    """What may lie there by mistake, by the travel that it would give, likeliest first."""
    prepared = wanted.prepared
    base_mm = prepared.base.nominal_mm
    return [
        *((travel_mm, stack.words) for travel_mm, stack in prepared.stacks.items()),
        *(
            (wanted.stack.nominal_mm - each.nominal_mm - base_mm, f"it without the block "
             f"{brief_mm(each.nominal_mm)}")
            for each in wanted.stack.pieces
            if len(wanted.stack.pieces) > 1
        ),
        *(
            (each.nominal_mm - base_mm, f"block {brief_mm(each.nominal_mm)}")
            for each in prepared.standard.values
            if prepared.standard.kind == "block set"
        ),
    ]  # fmt: skip


def _reversal(wanted: WantedPoint, seen: Seen, gauge: GaugeIdentity) -> Refusal | None:
    heading, stop = wanted.prepared.plan.heading, wanted.stop
    if heading.approach == "lifted" or wanted.is_zero:
        return None
    allowed_mm = heading.reversal_mm or LEAST_STEPS * gauge.step_mm
    beyond_mm, short_mm = _passed(wanted, seen)
    at = brief_mm(stop.nominal_mm)
    if beyond_mm is not None and beyond_mm > allowed_mm:
        side, back = ("below", "up") if stop.direction == "up" else ("above", "down")
        return Refusal(
            "reversal",
            f"It went {brief_mm(beyond_mm)} past {at} and came back, and {brief_mm(allowed_mm)} is "
            f"allowed. Go well {side} it and come {back} to it again.",
        )
    if stop.series == "repeat" and short_mm is not None and short_mm <= allowed_mm:
        side = "below" if stop.direction == "up" else "above"
        return Refusal(
            "not backed off",
            f"It has not left {at} since the reading before. Go well {side} it, then come back.",
        )
    return None


def _passed(wanted: WantedPoint, seen: Seen) -> tuple[Decimal | None, Decimal | None]:
    """How far it went beyond where it came to rest, and how far short of it it has been."""
    high_mm = None if seen.highest_mm is None else seen.highest_mm - seen.value_mm
    low_mm = None if seen.lowest_mm is None else seen.value_mm - seen.lowest_mm
    return (high_mm, low_mm) if wanted.stop.direction == "up" else (low_mm, high_mm)
