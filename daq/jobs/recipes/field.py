"""A set of points on several alike parts: means, ranges, steps to the neighbour, flatness along.

For liner projection, four points a liner; also for the heights of valves or seats in a row.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import chain, pairwise

from daq.jobs.recipes.fitting import fit
from daq.jobs.recipes.harmonic import peak_to_valley
from daq.jobs.recipes.points import (
    Component,
    Part,
    RecipeError,
    Refusal,
    Result,
    Settled,
    Wanted,
    mm,
    uids,
)


@dataclass(frozen=True, slots=True)
class Field:
    """The same positions on every group, such as four points on every liner.

    The value is the mean of the groups' means. Of each group the parts give the ``mean`` and the
    ``range within`` (highest less lowest); of neighbours in a row the ``step to neighbour`` (later
    less earlier); of each row the ``spread of the means`` and, from three groups on, the
    ``departure from a line``: peak to valley of the means about the straight line that fits them
    best. What all points share (``common``) is in the means only: in the others it cancels.

    A position that was taken more than once counts with its mean.

    Args:
        positions: names of the points on a group, each once.
        rows: groups as they stand, a row for each bank: ``(("1", "2", "3"),)``. Groups of
            different rows are no neighbours. One group without a name if left out.
        common: components that all points share.
        what: is measured, in words.

    Raises:
        RecipeError: no position or no group, or one named twice.

    Source: mean and uncertainty after JCGM 100:2008, 4.2 and 5.1; the rest is common practice.
    """

    positions: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...] = (("",),)
    common: tuple[Component, ...] = ()
    what: str = "heights"

    def __post_init__(self) -> None:
        for names, kind in ((self.positions, "position"), (self._groups, "group")):
            if not names or len(set(names)) < len(names):
                raise RecipeError(f"{self.what}: name at least one {kind}, and each once: {names}")

    @property
    def _groups(self) -> tuple[str, ...]:
        return tuple(chain.from_iterable(self.rows))

    def wants(self, points: Sequence[Settled]) -> Wanted | None:
        """The next position not yet taken, group by group, or None."""
        taken = {(point.group, point.position) for point in points}
        every = [(group, position) for group in self._groups for position in self.positions]
        for number, (group, position) in enumerate(every, start=1):
            if (group, position) not in taken:
                at = f"{group}, {position}" if group else position
                words = f"measure at {at} ({number} of {len(every)})"
                return Wanted(words, number, len(every), position=position, group=group)
        return None

    def result(self, points: Sequence[Settled]) -> Result | Refusal:
        """The field; a refusal if a position is missing, or a point is at none of them."""
        strange = [
            point
            for point in points
            if point.group not in self._groups or point.position not in self.positions
        ]
        if strange:
            named = ", ".join(f"'{point.group} {point.position}'".strip() for point in strange)
            why, do = f"{self.what}: there is no place {named}", "Say where it was taken"
            return Refusal(why, do, missing=False, of=uids(strange))
        wanted = self.wants(points)
        if wanted is not None:
            why, do = f"{self.what}: not all places are taken", wanted.words.capitalize()
            return Refusal(why, do, missing=True, of=uids(points))
        groups = {name: _Group.of(name, self.positions, points) for name in self._groups}
        u_own_mm = math.hypot(*(group.u_mean_mm for group in groups.values())) / len(groups)
        widest = max(groups.values(), key=lambda group: group.range_mm)
        return Result(
            self.what,
            math.fsum(group.mean_mm for group in groups.values()) / len(groups),
            "mm",
            (Component("settled values", u_own_mm), *self.common),
            uids(points),
            parts=(
                *chain.from_iterable(self._of_group(group) for group in groups.values()),
                *chain.from_iterable(_of_row([groups[name] for name in row]) for row in self.rows),
            ),
            remarks=(widest.in_words(),) if len(self.positions) > 1 else (),
        )

    def _of_group(self, group: "_Group") -> list[Part]:
        u_mm = math.hypot(group.u_mean_mm, *(each.contribution for each in self.common))
        parts = [Part("mean", group.mean_mm, "mm", u_mm, group.name)]
        if len(self.positions) > 1:
            parts.append(Part("range within", group.range_mm, "mm", group.u_range_mm, group.name))
        return parts


@dataclass(frozen=True, slots=True)
class _Group:
    """One liner: its heights by position, and what they come to."""

    name: str
    heights_mm: dict[str, float]
    u_mm: tuple[float, ...]

    @classmethod
    def of(cls, name: str, positions: Sequence[str], points: Sequence[Settled]) -> "_Group":
        heights, u = {}, []
        for position in positions:
            here = [p for p in points if p.group == name and p.position == position]
            heights[position] = math.fsum(p.value_mm for p in here) / len(here)
            u.append(math.hypot(*(p.u_mm for p in here)) / len(here))
        return cls(name, heights, tuple(u))

    @property
    def mean_mm(self) -> float:
        return math.fsum(self.heights_mm.values()) / len(self.heights_mm)

    @property
    def u_mean_mm(self) -> float:
        return math.hypot(*self.u_mm) / len(self.u_mm)

    @property
    def range_mm(self) -> float:
        return max(self.heights_mm.values()) - min(self.heights_mm.values())

    @property
    def u_range_mm(self) -> float:
        return _u_of_range(list(self.heights_mm.values()), self.u_mm)

    def in_words(self) -> str:
        high = max(self.heights_mm, key=lambda position: self.heights_mm[position])
        low = min(self.heights_mm, key=lambda position: self.heights_mm[position])
        at = f" at {self.name}" if self.name else ""
        return f"the widest range within is {mm(self.range_mm)}{at}: highest {high}, lowest {low}"


def _of_row(row: list[_Group]) -> list[Part]:
    """Steps, spread and straightness along one row of groups."""
    parts = [
        Part(
            "step to neighbour",
            b.mean_mm - a.mean_mm,
            "mm",
            math.hypot(a.u_mean_mm, b.u_mean_mm),
            f"{a.name} to {b.name}",
        )
        for a, b in pairwise(row)
    ]
    if len(row) < 2:
        return parts
    names = f"{row[0].name} to {row[-1].name}"
    means, u = [group.mean_mm for group in row], [group.u_mean_mm for group in row]
    parts.append(
        Part("spread of the means", max(means) - min(means), "mm", _u_of_range(means, u), names)
    )
    if len(row) > 2:
        middle = (len(row) - 1) / 2
        left = fit([[1.0, i - middle] for i in range(len(row))], means).residuals
        parts.append(
            Part("departure from a line", max(left) - min(left), "mm", _u_of_range(left, u), names)
        )
    return parts


def _u_of_range(values: Sequence[float], u: Sequence[float]) -> float:
    """Standard uncertainty of highest less lowest, with what noise adds to it."""
    _, u_two, upward = peak_to_valley(values, u)
    return math.hypot(u_two, upward / math.sqrt(3))
