"""Free play: the difference between two hard stops, the part rocked from one to the other.

For valve clearance, end float and backlash.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby, pairwise

from daq.jobs.recipes.fitting import Fit, agreement, fit
from daq.jobs.recipes.length import scatter_doubts
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

APART = 6.0
"""The two sides must lie this many standard uncertainties of a rest apart to be told as two.

Common practice, no source.
"""

WITHIN = 0.3
"""A side may spread by this share of the gap between the sides; else there is a third level.

Common practice, no source.
"""

THIRD = 0.05
"""A gap below this share of the largest one is scatter, not a third level. Common practice."""


@dataclass(frozen=True, slots=True)
class _Sides:
    """Which rests are at the higher stop; or, in words, why that cannot be told.

    more_would_help: whether another rest could tell.
    """

    higher: tuple[bool, ...] = ()
    why_not: str = ""
    more_would_help: bool = False

    @property
    def visits(self) -> list[list[int]]:
        """Rests in succession at one stop, by their places in the list."""
        runs = groupby(range(len(self.higher)), key=lambda i: self.higher[i])
        return [list(run) for _, run in runs]

    def to_come(self, pairs: int) -> int:
        """How many more visits, alternating, until each side has had ``pairs`` of them."""
        counts = [0, 0]
        for run in self.visits:
            counts[self.higher[run[0]]] += 1
        side, more = self.higher[-1], 0
        while min(counts) < pairs:
            side = not side
            counts[side] += 1
            more += 1
        return more


@dataclass(frozen=True, slots=True)
class Play:
    """Higher stop less lower stop, from rests at both while the part is rocked.

    Which side a rest belongs to is told by its level, not by its turn: a side that was missed, or
    that came twice in succession, does no harm. No rest is left out. The two levels are fitted on
    one common line of drift; of three rests that gives B - (A + A')/2, so a steady drift cancels,
    as does any constant offset such as the gauge's zero.

    Args:
        pairs: how many visits to each side are wanted, 2 or more.
        ratio: movement wanted over movement read, where the gauge sits off the place that counts:
            a backlash wanted at radius 80 mm and read at 100 mm has 0.8.
        u_ratio: its standard uncertainty.
        common: components that do not cancel in a difference.
        what: is measured, in words.

    Raises:
        RecipeError: pairs below 2, or a ratio that is none.

    Source: JCGM 100:2008, 5.1.3, for the uncertainty; the pairing is common practice.
    """

    pairs: int = 3
    ratio: float = 1.0
    u_ratio: float = 0.0
    common: tuple[Component, ...] = ()
    what: str = "play"

    def __post_init__(self) -> None:
        if self.pairs < 2:
            raise RecipeError(f"{self.pairs} pair cannot show whether the rocks agree; ask for 2")
        require_figure("the lever ratio", self.ratio, least=1e-3)
        require_figure("the uncertainty of the lever ratio", self.u_ratio, least=0)

    def wants(self, points: Sequence[Settled]) -> Wanted | None:
        """The side to press to next; None with enough pairs, or when more would not help."""
        number, of = len(points) + 1, 2 * self.pairs
        if not points:
            return Wanted("press the part to one stop and hold it there", 1, of, "one stop")
        sides = _sides(points)
        if sides.why_not:
            if len(points) >= of or not sides.more_would_help:
                return None
            words = f"press the part to the other stop and hold it there ({number} of {of})"
            return Wanted(words, number, of, "other stop")
        more = sides.to_come(self.pairs)
        if not more:
            return None
        side = "lower" if sides.higher[-1] else "higher"
        of = len(points) + more
        words = f"press the part to the stop with the {side} reading ({number} of {of})"
        return Wanted(words, number, of, f"{side} stop")

    def result(self, points: Sequence[Settled]) -> Result | Refusal:
        """The play; a refusal if pairs are missing or the sides cannot be told apart."""
        sides = _sides(points)
        wanted = self.wants(points)
        if wanted is not None:
            why = f"{self.what}: fewer than {self.pairs} rests at each stop"
            return Refusal(why, wanted.words.capitalize(), missing=True, of=uids(points))
        if sides.why_not:
            do = "Rock the part firmly to both stops and take all of it again"
            return Refusal(f"{self.what}: {sides.why_not}", do, missing=False, of=uids(points))
        return self._of_sides(points, sides)

    def _of_sides(self, points: Sequence[Settled], sides: _Sides) -> Result:
        times = _times(points)
        rows = [[1.0, t, float(high)] for t, high in zip(times, sides.higher, strict=True)]
        found = fit(rows, [point.value_mm for point in points])
        own_u = [point.u_mm for point in points]
        agrees = agreement(found.residuals, own_u, found.dof)
        read_mm = found.parameters[2]
        u_rests_mm = found.own_u(2, own_u) * agrees.factor
        rests = Component("rests at the two stops", u_rests_mm, sensitivity=self.ratio)
        lever = Component("lever ratio", self.u_ratio, "1", read_mm)
        drift_mm = found.parameters[1] * (times[-1] - times[0])
        u_drift_mm = found.own_u(1, own_u) * agrees.factor * (times[-1] - times[0])
        differences = _differences(points, sides)
        return Result(
            self.what,
            self.ratio * read_mm,
            "mm",
            (rests, *([lever] if self.ratio != 1 or self.u_ratio else []), *self.common),
            uids(points),
            parts=(
                Part("movement read", read_mm, "mm", u_rests_mm),
                Part("spread of the rocks", max(differences) - min(differences), "mm"),
                Part("drift of the zero", drift_mm, "mm", u_drift_mm),
            ),
            remarks=tuple(_remarks(sides, drift_mm, u_drift_mm)),
            doubts=tuple(
                f"{doubt}. The rest furthest out is number {_furthest(found)}"
                for doubt in scatter_doubts("the rocks do not agree: rests at one stop", agrees)
            ),
        )


def _sides(points: Sequence[Settled]) -> _Sides:
    """Sort the rests to two sides by the largest gap between neighbouring levels."""
    if len(points) < 2:
        return _Sides(why_not="only one rest is there", more_would_help=True)
    levels = sorted(point.value_mm for point in points)
    gap, edge = max((b - a, a) for a, b in pairwise(levels))
    u_mm = math.hypot(*(point.u_mm for point in points)) / math.sqrt(len(points))
    if gap <= APART * u_mm:
        spread = levels[-1] - levels[0]
        return _Sides(
            why_not=f"no play can be told: all rests lie within {mm(spread)}. Either there is "
            "none, or the part was not moved to the other stop",
            more_would_help=True,
        )
    sides = _split(points, edge)
    low = max(level for level in levels if level <= edge) - levels[0]
    high = levels[-1] - min(level for level in levels if level > edge)
    # A knocked stand makes the largest gap; that the part was rocked shows at another one then.
    rocked = any(
        len(_split(points, a).visits) > len(sides.visits)
        for a, b in pairwise(levels)
        if b - a > max(APART * u_mm, THIRD * gap)
    )
    if max(low, high) > WITHIN * gap or rocked:
        listed = ", ".join(mm(point.value_mm) for point in points)
        return _Sides(why_not=f"the rests lie at more than two levels ({listed})")
    return sides


def _split(points: Sequence[Settled], edge_mm: float) -> _Sides:
    return _Sides(tuple(point.value_mm > edge_mm for point in points))


def _times(points: Sequence[Settled]) -> list[float]:
    """When each rest was, about their mean: by the clock if all say so, else by their order."""
    clock = [point.at_s for point in points if point.at_s is not None]
    rising = all(a < b for a, b in pairwise(clock))
    times = (
        clock if len(clock) == len(points) and rising else [float(i) for i in range(len(points))]
    )
    middle = math.fsum(times) / len(times)
    return [t - middle for t in times]


def _differences(points: Sequence[Settled], sides: _Sides) -> list[float]:
    """Higher less lower for every visit between two others, less the mean of those two."""
    runs = sides.visits
    levels = [math.fsum(points[i].value_mm for i in run) / len(run) for run in runs]
    signs = [1 if sides.higher[run[0]] else -1 for run in runs]
    return [
        sign * (b - (a + c) / 2)
        for a, b, c, sign in zip(levels, levels[1:], levels[2:], signs[1:], strict=False)
    ]


def _furthest(found: Fit) -> int:
    sizes = [abs(each) for each in found.residuals]
    return sizes.index(max(sizes)) + 1


def _remarks(sides: _Sides, drift_mm: float, u_drift_mm: float) -> list[str]:
    said = [
        f"rests {run[0] + 1} to {run[-1] + 1} are at the same stop in succession; all are used"
        for run in sides.visits
        if len(run) > 1
    ]
    if abs(drift_mm) > 3 * u_drift_mm:
        said.append(f"the zero drifted by {mm(drift_mm, sign=True)} meanwhile; that cancels")
    return said
