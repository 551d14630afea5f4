"""An engine as data: what is needed to know where to bar it, and nothing of its maker."""

from collections import Counter
from collections.abc import Iterator
from decimal import Decimal
from fractions import Fraction
from itertools import accumulate
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from daq.jobs.names import (
    KINDS,
    Cylinders,
    Degrees,
    Item,
    Kind,
    degrees_words,
    items_of,
)
from daq.jobs.phase import PhaseModel, Position
from daq.jobs.timing import CYCLE_DEG, Stroke, ValveTiming
from daq.jobs.valve_table import TableRow, problems_in
from drivers.errors import RestpointError
from drivers.form import Form

EVEN_DEG = Fraction(1, 10)
"""How far a listed interval may miss an even one: it may be rounded, as 51.4 is."""

Count = Annotated[int, Field(strict=True, ge=0, le=4)]
"""How many of a kind a cylinder has."""


class EngineError(RestpointError):
    """An engine, or what is asked of it, does not allow what was asked.

    Args:
        problems: one sentence each, at least one. Those found in a file have the form
            ``file:line: field: what is wrong; what would be right``.
    """

    def __init__(self, *problems: str) -> None:
        super().__init__(*problems)
        self.problems = problems

    def __str__(self) -> str:
        return "\n".join(self.problems)


class Bank(Form):
    """One bank of cylinders, as they stand."""

    name: Annotated[str, Field(min_length=1, max_length=40)]
    cylinders: Annotated[Cylinders, Field(min_length=1)]


class Engine(Form):
    """An engine, as a workshop writes it down from its own service literature.

    ``cylinders`` is their number; they are called 1, 2, 3 … unless ``banks`` names them.
    ``intervals`` are degrees of crank angle from each firing to the next, the last one back to the
    first; without them the engine fires evenly. Whole degrees sum to the cycle exactly; decimals
    may be rounded. ``rotation`` is the running direction, looking at
    the end that ``seen_from`` names. ``first_at`` is the end that the cylinders are counted from;
    only drawings need it. Counts of valves and injectors are for one cylinder.
    ``timing`` and ``valve_table`` may be left out; a table that cannot be right is refused.
    ``source`` names the document and its revision that the figures are from.

    Raises:
        pydantic.ValidationError: on construction, with every mistake there is.
    """

    source: Annotated[str, Field(min_length=1)]
    stroke: Stroke
    cylinders: Annotated[int, Field(strict=True, ge=1, le=24)]
    banks: tuple[Bank, ...] = ()
    firing_order: Cylinders
    intervals: tuple[Degrees, ...] = ()
    rotation: Literal["clockwise", "anticlockwise"]
    seen_from: Literal["flywheel end", "free end"]
    first_at: Literal["flywheel end", "free end"] | None = None
    intake_valves: Count
    exhaust_valves: Count
    injectors: Count
    timing: ValveTiming | None = None
    valve_table: tuple[TableRow, ...] = ()

    @model_validator(mode="after")
    def _makes_sense(self) -> Self:
        problems = list(self.problems())
        if problems:
            raise ValueError("\n".join(problems))
        return self

    def problems(self) -> Iterator[str]:
        """What cannot be right: ``field: what is wrong; what would be right``; none if sound."""
        firing = [*self._bank_problems(), *self._order_problems(), *self._interval_problems()]
        yield from firing
        valves = list(self._valve_problems())
        yield from valves
        sound = not firing and not valves
        yield from problems_in(
            self.valve_table, self.names, self.counts, self.stroke, self.phases if sound else None
        )

    @property
    def names(self) -> tuple[str, ...]:
        """Every cylinder: bank by bank as they stand, or 1, 2, 3 …"""
        if self.banks:
            return tuple(name for bank in self.banks for name in bank.cylinders)
        return tuple(str(number) for number in range(1, self.cylinders + 1))

    @property
    def counts(self) -> dict[Kind, int]:
        """How many of each kind a cylinder has."""
        return {
            "intake": self.intake_valves,
            "exhaust": self.exhaust_valves,
            "injector": self.injectors,
        }

    @property
    def cycle_deg(self) -> int:
        """Degrees of crank angle from one firing of a cylinder to its next: 720 or 360."""
        return CYCLE_DEG[self.stroke]

    @property
    def running_direction(self) -> str:
        """In words: ``clockwise, seen from the flywheel end``."""
        return f"{self.rotation}, seen from the {self.seen_from}"

    @property
    def fires_evenly(self) -> bool:
        """Whether every interval is the same, up to rounding."""
        even = Fraction(self.cycle_deg, self.cylinders)
        return all(abs(Fraction(each) - even) <= EVEN_DEG for each in self.intervals)

    @property
    def phases(self) -> PhaseModel:
        """Where every cylinder is in its cycle. Rounded intervals are stretched to the cycle."""
        even = Fraction(self.cycle_deg, self.cylinders)
        steps = [even] * self.cylinders
        if not self.fires_evenly:
            total = sum(map(Fraction, self.intervals), Fraction(0))
            steps = [Fraction(each) * self.cycle_deg / total for each in self.intervals]
        at = accumulate(steps, initial=Fraction(0))
        fires = dict(zip(self.firing_order, at, strict=False))  # the last step leads back to 0
        start = fires[self.names[0]]
        firing = {name: (fires[name] - start) % self.cycle_deg for name in self.names}
        return PhaseModel(self.stroke, firing, self.timing)

    def items(self, *kinds: Kind) -> tuple[Item, ...]:
        """Everything to set of these kinds, in the order of the cylinders."""
        return tuple(
            item
            for kind in KINDS
            if kind in kinds
            for name in self.names
            for item in items_of(kind, name, self.counts[kind])
        )

    def position(
        self, cylinder: str, *, overlap: bool = False, after_deg: Fraction = Fraction(0)
    ) -> Position:
        """A position named after a cylinder: at its firing or overlap TDC, or degrees past it.

        Raises:
            EngineError: there is no such cylinder, or overlap is asked of a two-stroke.
        """
        if cylinder not in self.names:
            known = " ".join(self.names)
            raise EngineError(f"There is no cylinder {cylinder}; known: {known}.")
        if overlap and self.stroke == "two":
            raise EngineError("A two-stroke engine fires at every TDC; it has no overlap TDC.")
        return self.phases.position(cylinder, overlap=overlap, after_deg=after_deg)

    def _bank_problems(self) -> Iterator[str]:
        times = Counter(name for bank in self.banks for name in bank.cylinders)
        for number, bank in enumerate(self.banks, 1):
            twice = [n for n in dict.fromkeys(bank.cylinders) if times[n] > 1]
            yield from (f"banks.{number}.cylinders: cylinder {n} stands twice" for n in twice)
            if bank.name in [other.name for other in self.banks[: number - 1]]:
                yield f'banks.{number}.name: "{bank.name}" is the name of another bank too'
        if self.banks and len(self.names) != self.cylinders:
            yield f"cylinders: it says {self.cylinders}, but the banks have {len(self.names)}"

    def _order_problems(self) -> Iterator[str]:
        times = Counter(self.firing_order)
        wrong = [f"{name} stands {_times(count)}" for name, count in times.items() if count > 1]
        wrong += [f"{name} is missing" for name in self.names if name not in times]
        wrong += [f"there is no cylinder {name}" for name in times if name not in self.names]
        if wrong:
            yield (
                f"firing_order: {'-'.join(self.firing_order) or 'it'} does not fire each cylinder "
                f"once: {', '.join(wrong)}"
            )

    def _interval_problems(self) -> Iterator[str]:
        if not self.intervals:
            return
        if len(self.intervals) != self.cylinders:
            yield (
                f"intervals: there are {len(self.intervals)} for {self.cylinders} cylinders; write "
                "one from each firing to the next, the last one back to the first"
            )
            return
        for number, each in enumerate(self.intervals, 1):
            if each <= 0:
                yield f"intervals.{number}: {each} must be above 0"
        total = sum(map(Fraction, self.intervals), Fraction(0))
        decimals = [_decimals(each) for each in self.intervals]
        rounded = sum((Fraction(1, 2 * 10**places) for places in decimals if places), Fraction(0))
        if abs(total - self.cycle_deg) > rounded:
            yield (
                f"intervals: they sum to {degrees_words(total)}; a {self.stroke}-stroke engine "
                f"needs {self.cycle_deg}°"
            )

    def _valve_problems(self) -> Iterator[str]:
        if self.stroke == "four":
            for kind in ("intake", "exhaust"):
                if not getattr(self, f"{kind}_valves"):
                    yield f"{kind}_valves: a four-stroke cylinder has at least 1"
        if self.timing is not None:
            found = self.timing.problems(self.stroke, self.counts)
            yield from (f"timing.{problem}" for problem in found)


def _decimals(number: Decimal) -> int:
    """How many decimals a number was written with; it may be rounded in the last one."""
    return max(0, -int(number.as_tuple().exponent))


def _times(count: int) -> str:
    return "twice" if count == 2 else f"{count} times"
