"""Reads a staircase: each rest as one plateau, the step between rests, and differences of pairs.

For an adjuster turned click by click, a part rocked from one face to the other, or a gauge moved
between a standard and a part.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from daq.settle.rest import Rest
from daq.settle.settler import Settler


@dataclass(frozen=True, slots=True)
class Plateau:
    """One rest of a staircase, with the step up to it from the plateau before.

    number counts from 1. value_mm, u_mm, n, since_s, until_s: as in `Rest`. step_mm, u_step_mm:
    the difference to the plateau before and its standard uncertainty; None for the first one. What
    is the same in both rests, such as the gauge's zero, is in neither.
    """

    number: int
    value_mm: float
    u_mm: float
    n: int
    since_s: float
    until_s: float
    step_mm: float | None = None
    u_step_mm: float | None = None


@dataclass(frozen=True, slots=True)
class Difference:
    """A length difference with its standard uncertainty (k = 1), from plateaus by number."""

    value_mm: float
    u_mm: float
    of: tuple[int, ...]


class PlateauReader:
    """Turns readings into plateaus.

    A rest that is lost and found again at the same level is one plateau: a plateau is over when the
    next one, at another level, begins.

    Args:
        settler: fed by this reader alone.
        tolerance_mm: levels closer than half of it, or than twice the u of their difference,
            are the same.
    """

    def __init__(self, settler: Settler, tolerance_mm: float) -> None:
        self._settler = settler
        self._same_mm = tolerance_mm / 2
        self._before: Plateau | None = None
        self._present: Plateau | None = None
        self._rest: Rest | None = None

    @property
    def present(self) -> Plateau | None:
        """The latest plateau as far as it is known; it may still get more certain."""
        return self._present

    def push(self, t_s: float, value_mm: float) -> Plateau | None:
        """Take one reading; give the plateau that it shows to be over, or None."""
        rest = self._settler.push(t_s, value_mm)
        if rest is None or rest is self._rest:
            return None
        begins = self._rest is None or rest.since_s > self._rest.until_s
        self._rest = rest
        present = self._present
        if present is None or (begins and not self._is_same_level(present, rest)):
            self._before, over = present, present
            self._present = self._plateau(1 if present is None else present.number + 1, rest)
            return over
        fresh = self._plateau(present.number, rest)
        if begins and present.u_mm < rest.u_mm:
            self._present = replace(present, until_s=rest.until_s)
        else:
            self._present = replace(fresh, since_s=min(present.since_s, rest.since_s))
        return None

    def finish(self) -> Plateau | None:
        """Give the last plateau when there are no more readings."""
        over, self._present = self._present, None
        self._before, self._rest = over, None
        return over

    def _is_same_level(self, plateau: Plateau, rest: Rest) -> bool:
        apart = abs(rest.value_mm - plateau.value_mm)
        return apart <= max(self._same_mm, 2 * math.hypot(rest.u_mm, plateau.u_mm))

    def _plateau(self, number: int, rest: Rest) -> Plateau:
        step = u_step = None
        if self._before is not None:
            step = rest.value_mm - self._before.value_mm
            u_step = math.hypot(rest.u_mm, self._before.u_mm)
        return Plateau(
            number, rest.value_mm, rest.u_mm, rest.n, rest.since_s, rest.until_s, step, u_step
        )


def pairs(plateaus: Sequence[Plateau]) -> list[Difference]:
    """Second less first, fourth less third, and so on; an odd one at the end is left out."""
    return [
        Difference(b.value_mm - a.value_mm, math.hypot(a.u_mm, b.u_mm), (a.number, b.number))
        for a, b in zip(plateaus[::2], plateaus[1::2], strict=False)
    ]


def bracketed(plateaus: Sequence[Plateau]) -> list[Difference]:
    """Every second plateau less the mean of its neighbours: B - (A + A')/2 of A, B, A'.

    A drift that is steady over the three cancels; the times between them should be alike.
    """
    return [
        Difference(
            b.value_mm - (a.value_mm + c.value_mm) / 2,
            math.hypot(b.u_mm, a.u_mm / 2, c.u_mm / 2),
            (a.number, b.number, c.number),
        )
        for a, b, c in zip(plateaus[::2], plateaus[1::2], plateaus[2::2], strict=False)
    ]


def mean_difference(differences: Sequence[Difference]) -> Difference:
    """Mean of differences; u from their scatter, or from their own u where that is larger.

    Raises:
        ValueError: fewer than one difference.

    Source: JCGM 100:2008, 4.2.3.
    """
    n = len(differences)
    if n == 0:
        raise ValueError("there is no difference to take the mean of")
    mean = math.fsum(d.value_mm for d in differences) / n
    own = math.hypot(*(d.u_mm for d in differences)) / n
    scatter = 0.0
    if n > 1:
        square = math.fsum((d.value_mm - mean) ** 2 for d in differences)
        scatter = math.sqrt(square / (n - 1) / n)
    return Difference(mean, max(own, scatter), tuple(k for d in differences for k in d.of))
