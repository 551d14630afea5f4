"""What goes into a recipe (settled values) and what comes out (a result or a refusal).

Everything is float64 in the unit its name says; `Result.recorded` gives the exact decimals for the
logbook. Every u is a standard uncertainty (k = 1) meant so that ±2u covers 95 %.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Literal, Protocol, Self

from drivers.errors import RestpointError

Unit = Literal["mm", "deg", "mm/m"]
"""What a result or one of its parts is in."""

SMALLEST = Decimal("0.000001")
"""Results are recorded to a millionth: nanometres, for a length."""


class RecipeError(RestpointError):
    """A recipe was set up so, or given such a value, that it can mean nothing.

    Args:
        problem: what is wrong with what, and what to do.
    """

    def __init__(self, problem: str) -> None:
        super().__init__(problem)
        self.problem = problem


def require_figure(name: str, value: float, *, least: float | None = None) -> None:
    """Check that a figure is finite and at least ``least``.

    Raises:
        RecipeError: it is not.
    """
    if not math.isfinite(value):
        raise RecipeError(f"{name} is {value}; it must be a finite number")
    if least is not None and value < least:
        raise RecipeError(f"{name} is {value:g}; it must be {least:g} or more")


@dataclass(frozen=True, slots=True)
class Settled:
    """One settled value, and where it was taken.

    value_mm: what the gauge settled at. u_mm: its own standard uncertainty, without what it shares
    with the other values, such as the gauge's mastering. n: readings in it. uid: of its capture.
    position: a name, such as "top" or "front". angle_deg: of the part, in running direction; it may
    pass 360 for a second turn. group: what the point belongs to, such as a liner. at_s: when, on
    the readings' clock; needed for nothing, but drift is then judged by it.

    Raises:
        RecipeError: a figure is not finite, u_mm is below zero or n below 1.
    """

    value_mm: float
    u_mm: float
    n: int
    uid: str
    position: str = ""
    angle_deg: float | None = None
    group: str = ""
    at_s: float | None = None

    def __post_init__(self) -> None:
        require_figure("a settled value", self.value_mm)
        require_figure("the uncertainty of a settled value", self.u_mm, least=0)
        require_figure("the number of readings", self.n, least=1)
        for name, value in (("an angle", self.angle_deg), ("a time", self.at_s)):
            if value is not None:
                require_figure(name, value)


@dataclass(frozen=True, slots=True)
class Wanted:
    """What to capture next.

    words: for the fitter. number: which capture it is, counted from 1, of how many as far as can
    be known. position, angle_deg, group: what the `Settled` that answers it should carry.
    """

    words: str
    number: int
    of: int
    position: str = ""
    angle_deg: float | None = None
    group: str = ""


@dataclass(frozen=True, slots=True)
class Component:
    """One component of uncertainty.

    u: standard uncertainty of the input, in ``unit``. sensitivity: how much the result changes,
    in its own unit, when the input changes by one.

    Raises:
        RecipeError: a figure is not finite, or u is below zero.

    Source: JCGM 100:2008, 5.1.3.
    """

    name: str
    u: float
    unit: str = "mm"
    sensitivity: float = 1.0

    def __post_init__(self) -> None:
        require_figure(f"the uncertainty '{self.name}'", self.u, least=0)
        require_figure(f"the sensitivity of '{self.name}'", self.sensitivity)

    @property
    def contribution(self) -> float:
        """|sensitivity| · u: what it adds to the result, in the result's unit."""
        return abs(self.sensitivity) * self.u


@dataclass(frozen=True, slots=True)
class Part:
    """A secondary number of a result.

    name: the same for every number of its kind. u: its standard uncertainty, None where none is
    stated. of: which one it is, such as the liner "3" or the step "3 to 4".
    """

    name: str
    value: float
    unit: Unit
    u: float | None = None
    of: str = ""


@dataclass(frozen=True, slots=True)
class Applied:
    """A correction that is in a result, however small. amount: added, in the result's unit."""

    name: str
    amount: float
    unit: Unit
    why: str


@dataclass(frozen=True, slots=True)
class Refusal:
    """There is no result, and why.

    missing: more captures would help; otherwise those there are contradict each other. of: the
    captures looked at.
    """

    why: str
    do: str
    missing: bool
    of: tuple[str, ...] = ()

    def __str__(self) -> str:
        return f"{self.why}. {self.do}."


@dataclass(frozen=True, slots=True)
class Result:
    """What a recipe makes of its points.

    what: was measured. value: in ``unit``. components: all that its uncertainty is made of.
    of: uids of the captures used, in order. remarks: facts to know; doubts: reasons to look again.
    """

    what: str
    value: float
    unit: Unit
    components: tuple[Component, ...]
    of: tuple[str, ...]
    parts: tuple[Part, ...] = ()
    corrections: tuple[Applied, ...] = ()
    remarks: tuple[str, ...] = ()
    doubts: tuple[str, ...] = ()

    @property
    def u(self) -> float:
        """Combined standard uncertainty (k = 1), in ``unit``.

        Source: JCGM 100:2008, equation (10); what is correlated is one component.
        """
        return math.hypot(*(each.contribution for each in self.components))

    @property
    def value_mm(self) -> float:
        """The value, if it is a length.

        Raises:
            RecipeError: it is none.
        """
        return self._length(self.value)

    @property
    def u_mm(self) -> float:
        """The standard uncertainty of a length.

        Raises:
            RecipeError: the result is no length.
        """
        return self._length(self.u)

    @property
    def recorded(self) -> tuple[Decimal, Decimal]:
        """Value and u as they are recorded: to a millionth of the unit, u never nothing."""
        value = Decimal(repr(self.value)).quantize(SMALLEST)
        return value, max(Decimal(repr(self.u)).quantize(SMALLEST), SMALLEST)

    def part(self, name: str, of: str = "") -> Part:
        """The part of that name.

        Raises:
            RecipeError: there is none.
        """
        for each in self.parts:
            if each.name == name and each.of == of:
                return each
        raise RecipeError(f"{self.what} has no part '{name}'" + (f" of {of}" if of else ""))

    def with_doubts(self, *doubts: str) -> Self:
        """The same result with more doubts; empty ones are left out."""
        return replace(self, doubts=(*self.doubts, *(each for each in doubts if each)))

    def _length(self, figure: float) -> float:
        if self.unit != "mm":
            raise RecipeError(f"{self.what} is in {self.unit}, not a length in mm")
        return figure


class Recipe(Protocol):
    """A way to come from settled values to one result. It keeps no state."""

    def wants(self, points: Sequence[Settled]) -> Wanted | None:
        """What to capture next, given the points so far; None when there is enough."""
        ...

    def result(self, points: Sequence[Settled]) -> Result | Refusal:
        """The result of the points, in the order they were captured, or why there is none."""
        ...


def uids(points: Sequence[Settled]) -> tuple[str, ...]:
    """The captures that the points are from, each once, in order."""
    return tuple(dict.fromkeys(point.uid for point in points))


def mm(length_mm: float, *, sign: bool = False) -> str:
    """A length for a sentence: ``0.0123 mm``, to a tenth of a micrometre."""
    shown = f"{length_mm:{'+' if sign else ''}.4f}"
    return f"{shown[:-1] if shown.endswith('0') else shown} mm"
