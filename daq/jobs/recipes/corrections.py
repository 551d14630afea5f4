"""Corrections of what a gauge reads, for any recipe, each shown with its amount.

A correction changes every settled value before the recipe sees it, so that it is in the parts as
well as in the result. The result shows each with its amount, however small, and carries the
uncertainty of every figure the correction was made with.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Protocol

from daq.jobs.recipes.points import (
    Applied,
    Component,
    Recipe,
    RecipeError,
    Refusal,
    Result,
    Settled,
    mm,
    uids,
)

_NEAR_MM = 1e-8
_MOST_ROUNDS = 100
"""A gauge at 30° that reads an eighth wrong is found in 15."""


@dataclass(frozen=True, slots=True)
class Input:
    """A figure that a correction is made with.

    u: its standard uncertainty, in ``unit``. changed: the correction with the figure larger by u,
    to first order. Inputs of one name may be correlated in any way.
    """

    name: str
    u: float
    unit: str
    changed: Callable[[float], float]


class Correction(Protocol):
    """Something that is wrong with a reading in a known way."""

    @property
    def name(self) -> str:
        """In a word or two."""
        ...

    @property
    def why(self) -> str:
        """What it was made with, in words."""
        ...

    def correct(self, value_mm: float) -> float:
        """The value that the gauge should have read."""
        ...

    def inputs(self) -> Sequence[Input]:
        """The figures it is made with, for the uncertainty."""
        ...

    def refuses(self, points: Sequence[Settled], /) -> str:
        """Why it cannot be made for these points, or empty."""
        ...


def corrected(
    recipe: Recipe, points: Sequence[Settled], corrections: Sequence[Correction]
) -> Result | Refusal:
    """The recipe's result of corrected points.

    Args:
        recipe: what makes the result.
        points: as the gauge gave them.
        corrections: in the order they apply: the gauge's own first, then how it stood, then
            temperature.

    Returns:
        The result with every correction and its uncertainty, or the recipe's refusal, or that of
        a correction that does not reach.

    Source: JCGM 100:2008, 5.1.3 note 2: sensitivities by changing one input at a time. Inputs of
    one name enter with the larger of their root sum of squares and their plain sum.
    """
    before = recipe.result(points)
    applied: list[Applied] = []
    stages = list(points)
    for each in corrections:
        refused = each.refuses(stages)
        if refused:
            do = "Measure where it holds"
            return Refusal(f"{each.name}: {refused}", do, missing=False, of=uids(points))
        stages = _through(each.correct, stages)
        after = recipe.result(stages)
        if isinstance(before, Refusal):
            return before
        if isinstance(after, Refusal):
            return after
        applied.append(Applied(each.name, after.value - before.value, after.unit, each.why))
        before = after
    if isinstance(before, Refusal):
        return before
    components = _components(recipe, points, corrections, before)
    if isinstance(components, Refusal):
        return components
    return replace(
        before,
        components=(*before.components, *components),
        corrections=(*before.corrections, *applied),
    )


def reading_for(value_mm: float, corrections: Sequence[Correction]) -> float:
    """The reading that, corrected, is ``value_mm``.

    Corrections are small and change slowly, so what is missing is added until nothing is.

    Raises:
        RecipeError: a correction does not reach there.
    """
    reading_mm = value_mm
    for _ in range(_MOST_ROUNDS):
        found_mm = reading_mm
        for each in corrections:
            found_mm = each.correct(found_mm)
        missing_mm = value_mm - found_mm
        reading_mm += missing_mm
        if abs(missing_mm) < _NEAR_MM:
            return reading_mm
    raise RecipeError(f"no reading was found that corrected gives {mm(value_mm)}")


def scaled(origin_mm: float, factor: float) -> Callable[[float], float]:
    """What multiplies a length from an origin."""
    return lambda value_mm: origin_mm + (value_mm - origin_mm) * factor


def _components(
    recipe: Recipe, points: Sequence[Settled], corrections: Sequence[Correction], result: Result
) -> list[Component] | Refusal:
    """One component for each input name: by how much the result moves when the input does."""
    components: list[Component] = []
    for place, correction in enumerate(corrections):
        moves: dict[tuple[str, str], list[tuple[float, float]]] = {}
        for each in correction.inputs():
            moved = _moved(recipe, points, corrections, place, each)
            if isinstance(moved, Refusal):
                why = f"{each.name}: the result hangs on it: {moved.why}"
                return Refusal(why, moved.do, missing=False, of=uids(points))
            by = moved.value - result.value
            moves.setdefault((each.name, each.unit), []).append((each.u, by))
        for (name, unit), of_name in moves.items():
            u, by = of_name[0]
            if len(of_name) == 1 and u > 0:
                components.append(Component(name, u, unit, by / u))
                continue
            plain = abs(math.fsum(by for _, by in of_name))
            root = math.hypot(*(by for _, by in of_name))
            components.append(Component(name, max(plain, root), result.unit))
    return components


def _moved(
    recipe: Recipe,
    points: Sequence[Settled],
    corrections: Sequence[Correction],
    place: int,
    changed: Input,
) -> Result | Refusal:
    """The recipe's result with one input of the correction at that place changed."""
    stages = list(points)
    for other, correction in enumerate(corrections):
        refused = correction.refuses(stages)
        if refused:
            return Refusal(f"{correction.name}: {refused}", "Measure where it holds", missing=False)
        correct = changed.changed if other == place else correction.correct
        stages = _through(correct, stages)
    return recipe.result(stages)


def _through(correct: Callable[[float], float], points: Sequence[Settled]) -> list[Settled]:
    return [replace(point, value_mm=correct(point.value_mm)) for point in points]
