"""A calibration plan: which lengths, in which order and from which side, under which conditions.

A plan speaks of travel from the gauge's zero. ``PreparedPlan`` binds it to a standard.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Annotated, Literal

from pydantic import Field

from daq.calibration.errors import PlanError
from daq.calibration.fields import Count, LengthMm, Name, Number, SizeMm, brief_mm
from daq.calibration.forms import ReferenceStandard
from daq.calibration.stacks import MOST_BLOCKS, Stack, stack_or_refuse
from drivers.form import Form

Direction = Literal["up", "down"]
Directions = Literal["up and down", "up"]
Approach = Literal["without reversing", "lifted"]
Series = Literal["up", "down", "repeat"]

USUAL_POINTS = 10
"""Steps over the range below which a calibration is thin. Common practice."""

USUAL_REPEATS = 5
"""Readings of one point from which a repeatability is stated. Common practice."""


class PlanHeading(Form):
    """``[plan]``: the lengths, and the conditions under which they are measured.

    ``points`` are travels from the zero, ascending from 0. ``base`` is what the gauge stands on at
    its zero. With ``approach`` ``lifted`` the plunger is lifted between points, so that there is no
    direction. ``preload`` is how far it is pressed in before the zero.

    ``reversal`` is how far a reading may have passed a point and come back, ``zero_limit`` how far
    the zero may have moved at the end; two display steps each if left out. ``soak`` is how many
    minutes gauge and standard lie together before, ``wait`` how many seconds a stack rests before
    it is read. ``coldest`` and ``warmest`` bound the temperature, in °C, and ``change`` how far it
    may move during a run, in kelvin.

    For the uncertainty: ``u_temperature`` is the standard uncertainty of the temperature and
    ``apart`` bounds how far gauge and standard may differ, both in kelvin; ``tilt`` bounds the
    angle between the gauge's axis and the length, in degrees.
    """

    title: Name
    revision: Name
    range_mm: SizeMm = Field(alias="range")
    points_mm: Annotated[tuple[LengthMm, ...], Field(min_length=3, max_length=60)] = Field(
        alias="points"
    )
    directions: Directions = "up and down"
    approach: Approach = "without reversing"
    base_mm: LengthMm = Field(Decimal(0), alias="base")
    most_blocks: Annotated[int, Field(strict=True, ge=1, le=MOST_BLOCKS)] = 3
    preload_mm: LengthMm = Field(Decimal(0), alias="preload")
    reversal_mm: SizeMm | None = Field(None, alias="reversal")
    zero_limit_mm: SizeMm | None = Field(None, alias="zero_limit")
    soak: Annotated[int, Field(strict=True, ge=0, le=2880)] = 60
    wait: Annotated[int, Field(strict=True, ge=0, le=3600)] = 0
    coldest: Number = Decimal(19)
    warmest: Number = Decimal(21)
    change: Number = Decimal("0.5")
    u_temperature: Annotated[Number, Field(le=5)] = Decimal("0.2")
    apart: Annotated[Number, Field(le=5)] = Decimal("0.2")
    tilt: Annotated[Number, Field(le=5)] = Decimal("0.25")


class PartialPoints(Form):
    """``[partial]``: a piece of the range of length ``over``, with points close together."""

    over_mm: SizeMm = Field(alias="over")
    points_mm: Annotated[tuple[LengthMm, ...], Field(min_length=2, max_length=60)] = Field(
        alias="points"
    )


class Repeats(Form):
    """``[[repeats]]``: a point that is approached ``times`` times from one side."""

    at_mm: LengthMm = Field(alias="at")
    direction: Direction = "up"
    times: Annotated[Count, Field(ge=2)] = USUAL_REPEATS


class PlanFile(Form):
    """A plan as the file has it."""

    plan: PlanHeading
    partial: PartialPoints | None = None
    repeats: Annotated[tuple[Repeats, ...], Field(max_length=20)] = ()


@dataclass(frozen=True, slots=True)
class Stop:
    """One reading that a plan asks for; ``place`` counts from 1 over all of them.

    ``number`` of ``of`` is its place within its series, or which of the repeats it is.
    """

    place: int
    series: Series
    nominal_mm: Decimal
    direction: Direction
    number: int
    of: int


@dataclass(frozen=True, slots=True)
class Plan:
    """A plan that is sound.

    ``name`` is the file's name, ``fingerprint`` the SHA-256 of its bytes in hex, ``text`` all of
    it, so that a record can hold what it was.
    """

    name: str
    fingerprint: str
    heading: PlanHeading
    partial: PartialPoints | None
    repeats: tuple[Repeats, ...]
    text: str

    @property
    def lengths_mm(self) -> tuple[Decimal, ...]:
        """Every travel that is measured, ascending: the points and those of the partial range."""
        partial = self.partial.points_mm if self.partial is not None else ()
        return tuple(sorted({*self.heading.points_mm, *partial}))

    @property
    def stops(self) -> tuple[Stop, ...]:
        """Every reading in its order: up, down without reversing, then the repeats."""
        return tuple(Stop(place, *facts) for place, facts in enumerate(self._in_order(), start=1))

    def _in_order(self) -> Iterator[tuple[Series, Decimal, Direction, int, int]]:
        lengths, of = self.lengths_mm, len(self.lengths_mm)
        for number, nominal_mm in enumerate(lengths, start=1):
            yield "up", nominal_mm, "up", number, of
        if self.heading.directions == "up and down":
            for number, nominal_mm in enumerate(reversed(lengths), start=1):
                yield "down", nominal_mm, "down", number, of
        for each in self.repeats:
            for number in range(1, each.times + 1):
                yield "repeat", each.at_mm, each.direction, number, each.times

    @property
    def remarks(self) -> tuple[str, ...]:
        """What is no mistake and yet worth a word."""
        return tuple(self._remarks())

    def _remarks(self) -> Iterator[str]:
        steps = len(self.heading.points_mm) - 1
        if steps < USUAL_POINTS:
            yield f"There are {steps} steps over the range; {USUAL_POINTS} are usual."
        if self.partial is None:
            yield "There is no [partial], so errors between the points stay unseen."
        if not self.repeats:
            yield "There are no [[repeats]], so no repeatability can be stated."
        for each in self.repeats:
            if each.times < USUAL_REPEATS:
                yield (
                    f"{brief_mm(each.at_mm)} is repeated {each.times} times; {USUAL_REPEATS} are "
                    "usual."
                )
        if self.heading.directions == "up":
            yield "It goes up only, so no hysteresis can be stated."


@dataclass(frozen=True, slots=True)
class PreparedPlan:
    """A plan with the standard that it is measured against; ``stacks`` are by travel.

    ``flat`` is what the gauge is zeroed on, if that has a certificate of its own.
    """

    plan: Plan
    standard: ReferenceStandard
    base: Stack
    stacks: dict[Decimal, Stack]
    flat: ReferenceStandard | None = None

    def reference_mm(self, nominal_mm: Decimal) -> tuple[Decimal, Decimal]:
        """The travel by the standard's certificate, and its standard uncertainty (k = 1)."""
        return self.stacks[nominal_mm].travel_from(self.base)


def prepared(
    plan: Plan, standard: ReferenceStandard, on: date, flat: ReferenceStandard | None = None
) -> PreparedPlan:
    """A plan with a standard that can make up every length of it.

    Args:
        plan: the plan.
        standard: the blocks or the bench.
        on: the day on which it is to be used.
        flat: what the gauge is zeroed on, where the base is 0; its flatness then counts.

    Raises:
        PlanError: a standard may not be used on that day, or lengths cannot be made up; all told.
    """
    problems = [why for each in (standard, flat) if each and (why := each.why_unusable(on))]
    heading = plan.heading
    stacks: dict[Decimal, Stack] = {}
    for travel_mm in plan.lengths_mm:
        try:
            stacks[travel_mm] = stack_or_refuse(
                heading.base_mm + travel_mm, standard, heading.most_blocks
            )
        except PlanError as error:
            problems += error.problems
    if flat is not None and heading.base_mm != 0:
        problems.append(f"{plan.name} has a base of {brief_mm(heading.base_mm)}, so take no flat")
    elif flat is not None and flat.kind != "flat":
        problems.append(f"{flat.id} is a {flat.kind}, not a flat; zero the gauge on a flat")
    if problems:
        raise PlanError(*problems)
    base = stacks[Decimal(0)]
    if flat is not None:
        base = Stack(flat.id, flat.values, "the flat")
        stacks[Decimal(0)] = base
    return PreparedPlan(plan, standard, base, stacks, flat)
