"""Crank-web deflection: how far the webs open and close over a turn, from five positions.

A gauge between the webs of one throw, opposite the crank pin, reads how their distance changes as
the crank turns. A crankshaft that lies straight keeps it; one whose bearings stand unequally high
or off to a side opens at one position and closes at the opposite one. At bottom dead centre the
connecting rod is in the way, so two readings are taken just past it, one on either side.

Where exactly the gauge sits, how far past bottom, warm or cold, which sign means open, and the
limits, are the engine maker's: this module takes them as given and ships none.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from daq.jobs.recipes.points import (
    Component,
    Part,
    RecipeError,
    Refusal,
    Result,
    Settled,
    Wanted,
    mm,
    require_figure,
    uids,
)

POSITIONS = ("past bottom", "first side", "top", "second side", "before bottom")
"""Where the crank pin is, in running direction: the five readings in the order they are taken."""

CLOSES = 3.0
"""The closing value must repeat the first within this many u of their difference."""

MOVED = 0.1
"""A closing difference beyond that and above this share of the deflection is refused.

Common practice, no source.
"""

MISFIT = 0.25
"""A misfit of this share of the deflection, and of three of its u, is doubted. Common practice."""


@dataclass(frozen=True, slots=True)
class Deflection:
    """Vertical and horizontal misalignment of one throw from five positions of its crank pin.

    With readings r, positive where the webs open:
    vertical = r(top) - (r(past bottom) + r(before bottom)) / 2;
    horizontal = r(first side) - r(second side).
    The value is the larger of the two, without sign; the parts give both with theirs.

    A bent line of bearings alone gives r = c - a·cos φ + b·sin φ, with φ the crank pin's angle from
    bottom in running direction. Then top + bottom equals side + side (the sum rule), and what
    differs is a second harmonic d·cos 2φ + e·sin 2φ. Five readings give all five numbers exactly,
    so d and e say whether the readings fit one turn of a bent line; if not, that is a doubt.

    Args:
        past_bottom_deg: how far from bottom the readings on either side of it are taken.
        open_reads_higher: whether the gauge's reading rises when the webs open.
        closing_limit_mm: a closing difference up to this is doubted, never refused.
        common: components that do not cancel in a difference.
        what: is measured, in words.

    Raises:
        RecipeError: past_bottom_deg is not from 5 to 60, or the closing limit is below zero.

    Source: common practice; the harmonics are solved in closed form.
    """

    past_bottom_deg: float = 30.0
    open_reads_higher: bool = True
    closing_limit_mm: float = 0.0
    common: tuple[Component, ...] = ()
    what: str = "crank-web deflection"

    def __post_init__(self) -> None:
        require_figure("the angle past bottom", self.past_bottom_deg, least=5)
        if self.past_bottom_deg > 60:
            raise RecipeError(f"{self.past_bottom_deg:g}° past bottom is too far; 60° at most")
        require_figure("the closing limit", self.closing_limit_mm, least=0)

    def wants(self, points: Sequence[Settled]) -> Wanted | None:
        """The next position of the crank pin, the first one again at the end, or None."""
        of = len(POSITIONS) + 1
        taken = [point.position for point in points]
        for number, position in enumerate(POSITIONS, start=1):
            if position not in taken:
                words = f"bar on in running direction, crank pin {self._where(position)}"
                return Wanted(f"{words} ({number} of {of})", number, of, position=position)
        if taken.count(POSITIONS[0]) > 1:
            return None
        words = f"bar on in running direction, crank pin {self._where(POSITIONS[0])} again: "
        return Wanted(f"{words}it must repeat", of, of, position=POSITIONS[0])

    def result(self, points: Sequence[Settled]) -> Result | Refusal:
        """Both misalignments; a refusal if a position is missing or the turn does not close."""
        strange = [point for point in points if point.position not in POSITIONS]
        if strange:
            why = f"{self.what}: there is no position '{strange[0].position}'"
            return Refusal(why, "Say where the crank pin was", missing=False, of=uids(strange))
        wanted = self.wants(points)
        if wanted is not None:
            why, do = f"{self.what}: not all positions are taken", wanted.words.capitalize()
            return Refusal(why, do, missing=True, of=uids(points))
        return self._of_turn(points)

    def _of_turn(self, points: Sequence[Settled]) -> Result | Refusal:
        sign = 1.0 if self.open_reads_higher else -1.0
        places = {name: [p for p in points if p.position == name] for name in POSITIONS}
        found = {
            name: _Combination(weights, sign, places) for name, weights in self._weights().items()
        }
        largest = max((found["vertical"], found["horizontal"]), key=lambda c: abs(c.value_mm))
        closing = Part("closing difference", *_closing(places[POSITIONS[0]], sign))
        assert closing.u is not None
        missed = abs(closing.value) > CLOSES * closing.u
        shown = mm(closing.value, sign=True)
        if missed and abs(closing.value) > max(
            MOVED * abs(largest.value_mm), self.closing_limit_mm
        ):
            why = f"{self.what}: the first position now reads {shown} from before"
            do = "The gauge has moved between the webs; seat it and take the turn again"
            return Refusal(why, do, missing=False, of=uids(points))
        components = [Component("readings at the positions", largest.u_mm)]
        doubts = self._misfits(found, abs(largest.value_mm))
        if missed:
            components.append(Component("closing", abs(closing.value) / math.sqrt(3)))
            doubts.append(f"the turn closes only to {shown}; the uncertainty holds it")
        return Result(
            self.what,
            abs(largest.value_mm),
            "mm",
            (*components, *self.common),
            uids(points),
            parts=(*(Part(n, c.value_mm, "mm", c.u_mm) for n, c in found.items()), closing),
            remarks=(
                "vertical is above zero where the webs are wider open with the crank pin at the "
                "top, horizontal where they are with it at the first side",
            ),
            doubts=tuple(doubts),
        )

    def _weights(self) -> dict[str, tuple[float, ...]]:
        """By part: the weights of the readings, in the order of ``POSITIONS``."""
        beta = math.radians(self.past_bottom_deg)
        cosine = math.cos(beta)
        scale = 1 / (2 * cosine * (1 + cosine))
        # d from the bottom pair, the top and the mean of the sides; then a and e from d and b.
        side = -(1 + cosine) / 2
        d = tuple(scale * each for each in (0.5, side, cosine, side, 0.5))
        a = tuple(x - 2 * y for x, y in zip((0.0, -0.5, 1.0, -0.5, 0.0), d, strict=True))
        tangent = math.sin(beta) / 2
        e = tuple(x / math.sin(2 * beta) for x in (0.5, -tangent, 0.0, tangent, -0.5))
        return {
            "vertical": (-0.5, 0.0, 1.0, 0.0, -0.5),
            "horizontal": (0.0, 1.0, 0.0, -1.0, 0.0),
            "vertical, dead centre to dead centre": tuple(2 * each for each in a),
            "second harmonic, upright": d,
            "second harmonic, slanting": e,
        }

    def _misfits(self, found: dict[str, "_Combination"], largest_mm: float) -> list[str]:
        doubts = []
        for name in ("second harmonic, upright", "second harmonic, slanting"):
            size_mm, u_mm = abs(found[name].value_mm), found[name].u_mm
            if size_mm > CLOSES * u_mm and 2 * size_mm > MISFIT * largest_mm:
                doubts.append(
                    f"the five readings do not fit one turn of a bent line ({name}: "
                    f"{mm(found[name].value_mm, sign=True)}); a reading may be wrong, or the gauge "
                    "slipped"
                )
        return doubts

    def _where(self, position: str) -> str:
        angle = {POSITIONS[0]: "past bottom", POSITIONS[4]: "before bottom"}.get(position)
        if angle is None:
            return f"at the {position}"
        return f"{self.past_bottom_deg:g}° {angle}, the rod just clear of the gauge"


class _Combination:
    """A weighted sum of the readings, and its standard uncertainty."""

    def __init__(
        self, weights: tuple[float, ...], sign: float, places: dict[str, list[Settled]]
    ) -> None:
        terms = [
            (weight / len(here), point)
            for weight, here in zip(weights, places.values(), strict=True)
            for point in here
        ]
        self.value_mm = sign * math.fsum(weight * point.value_mm for weight, point in terms)
        self.u_mm = math.hypot(*(weight * point.u_mm for weight, point in terms))


def _closing(here: list[Settled], sign: float) -> tuple[float, Literal["mm"], float]:
    """Last less first value of the first position, as a length with its u."""
    opened, closes = here[0], here[-1]
    u_mm = math.hypot(opened.u_mm, closes.u_mm)
    return sign * (closes.value_mm - opened.value_mm), "mm", u_mm
