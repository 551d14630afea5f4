"""A length read directly, once or several times."""

from collections.abc import Sequence
from dataclasses import dataclass

from daq.jobs.recipes.fitting import Agreement, agreement, fit
from daq.jobs.recipes.points import (
    Component,
    RecipeError,
    Refusal,
    Result,
    Settled,
    Wanted,
    mm,
    uids,
)


@dataclass(frozen=True, slots=True)
class Length:
    """A length as the gauge reads it, or the mean of several such.

    The uncertainty of the mean is from the scatter of the repeats or from their own u, whichever
    is larger. What all repeats share (``common``: the mastering, the gauge's calibration) enters
    once: repeating does not make it smaller.

    Args:
        repeats: how many are wanted, 1 or more. More than that are all used.
        common: components that all repeats share.
        what: is measured, in words.

    Raises:
        RecipeError: repeats below 1.

    Source: JCGM 100:2008, 4.2.3 (mean), 5.1.2 (components).
    """

    repeats: int = 1
    common: tuple[Component, ...] = ()
    what: str = "length"

    def __post_init__(self) -> None:
        if self.repeats < 1:
            raise RecipeError(f"{self.repeats} repeats are none; ask for 1 or more")

    def wants(self, points: Sequence[Settled]) -> Wanted | None:
        """The next repeat, or None when there are enough."""
        if len(points) >= self.repeats:
            return None
        number = len(points) + 1
        words = "measure it"
        if points:
            words = f"lift the plunger off, set it on again and measure once more ({number} of "
            words += f"{self.repeats})"
        return Wanted(words, number, self.repeats)

    def result(self, points: Sequence[Settled]) -> Result | Refusal:
        """The mean of the points; a refusal while some are missing."""
        short = self.repeats - len(points)
        if short > 0:
            why = f"{self.what}: {len(points)} of {self.repeats} values are there"
            return Refusal(why, f"Measure {short} more", missing=True, of=uids(points))
        own_u = [point.u_mm for point in points]
        found = fit([[1.0]] * len(points), [point.value_mm for point in points])
        agrees = agreement(found.residuals, own_u, found.dof)
        name = "settled value" if len(points) == 1 else "repeats"
        component = Component(name, found.own_u(0, own_u) * agrees.factor)
        return Result(
            self.what,
            found.parameters[0],
            "mm",
            (component, *self.common),
            uids(points),
            doubts=tuple(scatter_doubts("the repeats", agrees)),
        )


def scatter_doubts(what: str, agrees: Agreement) -> list[str]:
    """What to say of values that scatter more than their own u allows; nothing if they do not."""
    if not agrees.is_doubtful:
        return []
    return [
        f"{what} scatter by {mm(agrees.scatter)} where {mm(agrees.expected)} is to be expected; "
        "look for a loose stand, dirt or a dragging plunger. The uncertainty holds the scatter"
    ]
