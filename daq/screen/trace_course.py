"""What the picture of a trace shows, in the unit that it is drawn in, and how high the plot is."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import NamedTuple, get_args

import numpy as np

from daq.measure.events import AtRest
from daq.measure.session import Session
from daq.screen.trace_scale import (
    Array,
    Places,
    length_digits,
    padded_range,
    reach,
    span_words,
    stretches,
    value_digits,
)
from daq.screen.view import Motion
from daq.spec import LengthUnit, Outcome, Spec
from drivers.reading import Reading, Unit

MOTIONS: tuple[Motion, ...] = get_args(Motion)

FLATTENED = 50
"""A plot higher than so many intervals is too high for an interval to be seen in it."""

NEAR_STEPS = 20
"""A reading not further from the others than so many display steps is never left outside."""

LIMITS_FACTOR = 20
"""A limit that would make the plot higher than the readings need by this factor stays outside."""


class Seen(NamedTuple):
    """A reading, and the state that was told when it had come; None where none can be told."""

    t_s: float
    value_mm: float
    motion: Motion | None


@dataclass(frozen=True, slots=True)
class Course:
    """The readings: times, lengths, states, and stretches without a gap."""

    t_s: Array
    value: Array
    motion: Places
    """Which of ``MOTIONS`` is told from this reading on, by its place; -1 for none."""
    stretch: Places


@dataclass(frozen=True, slots=True)
class Mark:
    """A length that the specification names."""

    name: str
    at: float
    digits: str


@dataclass(frozen=True, slots=True)
class Facts:
    """What all parts of the picture are drawn from; lengths in ``unit``."""

    course: Course
    rests: Sequence[AtRest]
    marks: Sequence[Mark]
    unit: LengthUnit
    step: Decimal
    """The display step."""

    step_mm: Decimal

    @property
    def step_words(self) -> str:
        """The display step in words."""
        return f"{length_digits(self.step_mm, self.unit)} {self.unit}"

    def interval(self, rest: AtRest) -> tuple[float, float, float]:
        """The value between the ends of its 95 % interval: value - 2u, value, value + 2u."""
        in_mm = float(Unit(self.unit).in_mm)
        ends_mm = (rest.value_mm - 2 * rest.u_mm, rest.value_mm, rest.value_mm + 2 * rest.u_mm)
        low, value, high = (end_mm / in_mm for end_mm in ends_mm)
        return low, value, high

    def value_words(self, rest: AtRest) -> str:
        """``"76.2034 ± 0.0006 mm"``, where ± is the expanded uncertainty, k = 2."""
        value, expanded = value_digits(rest.value_mm, rest.u_mm, self.unit)
        return f"{value} ± {expanded} {self.unit}"

    def words(self, rest: AtRest) -> str:
        """All that is known of a rest, in a line."""
        parts = (self.value_words(rest), verdict_words(rest), f"n {rest.n}")
        span = span_words(rest.since_s, rest.until_s)
        return f"{rest.number}: {', '.join(part for part in (*parts, span) if part)}"


@dataclass(frozen=True, slots=True)
class Height:
    """The lengths at the edges of the plot, and what lies beyond them."""

    low: float
    high: float
    outside: Places
    """The readings that are not in the picture, by their places."""

    beyond: Sequence[Mark]


def seen_of(session: Session, readings: Sequence[Reading]) -> Iterator[Seen]:
    """Readings that ``session`` has just taken, with the state that it tells now."""
    if not readings:
        return
    motion: Motion | None = session.motion.kind
    if session.sends_on_key:  # nobody saw whether the part was at rest
        motion = None
    elif motion == "at rest" and session.rest is None:
        motion = "moving"
    for reading in readings:
        yield Seen(reading.t_s, float(reading.value_mm), motion)


def facts_of(
    seen: Sequence[Seen], rests: Sequence[AtRest], step_mm: Decimal, spec: Spec | None
) -> Facts:
    """The trace in the unit of the specification, or in millimetres."""
    unit: LengthUnit = spec.unit if spec else "mm"
    in_mm = Unit(unit).in_mm
    places = {motion: place for place, motion in enumerate(MOTIONS)}
    t_s = np.array([each.t_s for each in seen], dtype=np.float64)
    course = Course(
        t_s,
        np.array([each.value_mm for each in seen], dtype=np.float64) / float(in_mm),
        np.array([places[each.motion] if each.motion else -1 for each in seen], dtype=np.intp),
        stretches(t_s),
    )
    return Facts(course, rests, _marks(spec), unit, step_mm / in_mm, step_mm)


def _marks(spec: Spec | None) -> list[Mark]:
    if spec is None:
        return []
    lengths_mm = {
        "upper limit": None if spec.upper_mm is None else spec.nominal_mm + spec.upper_mm,
        "nominal": spec.nominal_mm,
        "lower limit": None if spec.lower_mm is None else spec.nominal_mm + spec.lower_mm,
    }
    in_mm = Unit(spec.unit).in_mm
    return [
        Mark(name, float(length_mm / in_mm), length_digits(length_mm, spec.unit))
        for name, length_mm in lengths_mm.items()
        if length_mm is not None
    ]


def height_of(facts: Facts) -> Height:
    """How high the plot is: readings, intervals, and limits where they are not too far away.

    Single readings far from all others do not flatten it; they are outside.
    """
    value, step = facts.course.value, float(facts.step)
    ends = [end for rest in facts.rests for end in facts.interval(rest)]
    if len(value):
        ends += reach(value, NEAR_STEPS * step)
    else:
        ends += [mark.at for mark in facts.marks] or [0.0]
    low, high = padded_range(min(ends), max(ends), step)
    most = LIMITS_FACTOR * (high - low)
    beyond: list[Mark] = []
    for mark in sorted(facts.marks, key=lambda mark: max(low - mark.at, mark.at - high)):
        if max(high, mark.at) - min(low, mark.at) > most:
            beyond.append(mark)
        elif not low < mark.at < high:
            low, high = padded_range(min(low, mark.at), max(high, mark.at), step)
    outside = np.flatnonzero((value < low) | (value > high))
    return Height(low, high, outside, [mark for mark in facts.marks if mark in beyond])


def is_flat(facts: Facts, low: float, high: float) -> bool:
    """Whether a plot from ``low`` to ``high`` is too high to show every interval."""
    ends = (facts.interval(rest) for rest in facts.rests)
    return any(high - low > FLATTENED * (end[2] - end[0]) for end in ends)


def verdict_words(rest: AtRest) -> str:
    """The verdict on a rest in a word or two; empty without one."""
    if rest.verdict is None:
        return ""
    # Beside lengths in inches a lone "in" would be read as the unit.
    outcome = rest.verdict.outcome
    return "in limits" if outcome is Outcome.IN else outcome.value
