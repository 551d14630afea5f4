"""True top dead centre from equal piston heights either side of it.

At the top itself the piston hardly moves, so no gauge can find the angle there: at 1° from it the
piston of a 140 mm stroke has dropped by 0.01 mm. Some tens of degrees away it moves by most of a
millimetre for a degree. So the same height is taken on the way up and on the way down, and the top
lies in the middle.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from daq.jobs.recipes.fitting import NoFitError, agreement, fit
from daq.jobs.recipes.height_fit import equation_doubts, fit_heights, wrapped
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
from daq.jobs.recipes.slider_crank import SliderCrank

BEFORE, AFTER = "before", "after"

NEAREST_DEG = 2.0
"""Heights nearer to the top than this are refused: the piston stands still there."""

NEAR_DEG = 10.0
"""Heights nearer than this are doubted. Common practice."""

LARGEST_CORRECTION_DEG = 1.0
"""Heights of a pair may differ by as much as the piston moves in this; else they are not equal."""


@dataclass(frozen=True, slots=True)
class EqualHeights:
    """Top dead centre as the middle between angles of equal piston height before and after it.

    Bar in running direction through all of it, so that the play lies on one side. The angles are
    read off the engine's scale, in running direction; each pair's heights may differ a little,
    which is put right by the piston's speed there. Without an offset of the piston pin the middle
    does not depend on stroke or rod; they give only that speed. With several levels the heights
    are also held against the slider-crank equation.

    Args:
        crank: the crank drive.
        u_angle_deg: standard uncertainty of reading the angle, degrees.
        marked_deg: where the engine's mark for top dead centre is, on the same scale.
        angles_deg: about how far from the mark to take the heights, furthest first.
        higher_reads_higher: whether the reading rises with the piston; a depth gauge's falls.
        common: components in degrees that all angles share, such as parallax of the pointer.
        what: is measured, in words.

    Returns (``result``): degrees after the mark, -180 to 180, in running direction: above zero
    where the true top comes later than the mark says.

    Raises:
        RecipeError: no angle asked for, or one within 2° of the mark.

    Source: plane geometry; propagation after JCGM 100:2008, 5.1.2; the rest is common practice.
    """

    crank: SliderCrank
    u_angle_deg: float
    marked_deg: float = 0.0
    angles_deg: tuple[float, ...] = (40.0, 30.0)
    higher_reads_higher: bool = True
    common: tuple[Component, ...] = ()
    what: str = "true top dead centre"

    def __post_init__(self) -> None:
        require_figure("the uncertainty of the angles", self.u_angle_deg, least=1e-6)
        require_figure("the mark", self.marked_deg)
        if not self.angles_deg or min(self.angles_deg) <= NEAREST_DEG:
            raise RecipeError(f"heights must be more than {NEAREST_DEG:g}° from the top")

    def wants(self, points: Sequence[Settled]) -> Wanted | None:
        """The next height: all before the top, furthest first, then the same ones after it."""
        of = 2 * len(self.angles_deg)
        before = [point for point in points if point.position == BEFORE]
        number = len(points) + 1
        if len(before) < len(self.angles_deg):
            angle = self.angles_deg[len(before)]
            words = f"bar on in running direction to about {angle:g}° before the mark; note the "
            at_deg = (self.marked_deg - angle) % 360
            return Wanted(f"{words}angle ({number} of {of})", number, of, BEFORE, at_deg)
        after = len([point for point in points if point.position == AFTER])
        if after >= len(before):
            return None
        same = before[len(before) - 1 - after]
        words = f"bar on over the top until the gauge reads {mm(same.value_mm)} again; note the "
        angle = self.angles_deg[max(0, len(self.angles_deg) - 1 - after)]
        at_deg = (self.marked_deg + angle) % 360
        return Wanted(f"{words}angle ({number} of {of})", number, of, AFTER, at_deg)

    def result(self, points: Sequence[Settled]) -> Result | Refusal:
        """The middle of the pairs; a refusal if one is missing or its heights are not equal."""
        for point in points:
            if point.angle_deg is None or point.position not in (BEFORE, AFTER):
                why = f"{self.what}: a height has no angle, or is neither before nor after the top"
                return Refusal(why, "Say where it was taken", missing=False, of=(point.uid,))
        wanted = self.wants(points)
        if wanted is not None:
            why, do = f"{self.what}: not all heights are taken", wanted.words.capitalize()
            return Refusal(why, do, missing=True, of=uids(points))
        sides = [
            sorted((p for p in points if p.position == side), key=lambda p: p.value_mm)
            for side in (BEFORE, AFTER)
        ]
        if len(sides[0]) != len(sides[1]):
            why, do = (
                f"{self.what}: heights before and after do not pair",
                "Take each on both sides",
            )
            return Refusal(why, do, missing=False, of=uids(points))
        pairs = [_Pair(b, a, self) for b, a in zip(*sides, strict=True)]
        wrong = next((each.why_not for each in pairs if each.why_not), None)
        if wrong is not None:
            return Refusal(f"{self.what}: {wrong[0]}", wrong[1], missing=False, of=uids(points))
        return self._of_pairs(points, pairs)

    def _of_pairs(self, points: Sequence[Settled], pairs: list["_Pair"]) -> Result:
        tops = [wrapped(pair.top_deg - self.marked_deg) for pair in pairs]
        tops = [tops[0] + wrapped(top - tops[0]) for top in tops]
        found = fit([[1.0]] * len(tops), tops)
        u_each = [pair.u_deg for pair in pairs]
        agrees = agreement(found.residuals, u_each, found.dof)
        pairs_deg = Component("angles and heights", found.own_u(0, u_each) * agrees.factor, "deg")
        return Result(
            self.what,
            wrapped(found.parameters[0]),
            "deg",
            (pairs_deg, *self._of_offset(pairs), *self.common),
            uids(points),
            parts=tuple(
                part
                for pair, top in zip(pairs, tops, strict=True)
                for part in (
                    Part("middle", top, "deg", pair.u_deg, pair.name),
                    Part("angle from the top", pair.half_deg, "deg", None, pair.name),
                )
            ),
            remarks=()
            if len(pairs) > 1
            else ("one level only: the heights were not held against the crank's equation",),
            doubts=(
                *(pair.doubt for pair in pairs if pair.doubt),
                *(
                    [f"the middles of the levels differ by {max(tops) - min(tops):.2f}°"]
                    if agrees.is_doubtful
                    else []
                ),
                *self._check(points),
            ),
        )

    def _of_offset(self, pairs: list["_Pair"]) -> list[Component]:
        if self.crank.u_offset_mm == 0:
            return []
        # The middle moves in proportion to the offset, as far as an offset ever goes.
        step = SliderCrank(self.crank.radius_mm, self.crank.rod_mm, 1e-3 * self.crank.radius_mm)
        each = [step.middle_deg(2 * pair.half_deg) / step.offset_mm for pair in pairs]
        sensitivity = math.fsum(each) / len(each)
        return [Component("offset", self.crank.u_offset_mm, "mm", sensitivity)]

    def _check(self, points: Sequence[Settled]) -> list[str]:
        """Hold all heights against the slider-crank equation."""
        try:
            found = fit_heights(points, self.crank, self.u_angle_deg, self.higher_reads_higher)
        except NoFitError:
            return ["the heights do not follow the crank's equation at all"]
        return equation_doubts(found.agrees, found.scatter_mm)


class _Pair:
    """Equal heights before and after: the top between them in degrees, with its u, or why not."""

    def __init__(self, before: Settled, after: Settled, recipe: EqualHeights) -> None:
        assert before.angle_deg is not None
        assert after.angle_deg is not None
        between = (after.angle_deg - before.angle_deg) % 360
        self.half_deg = between / 2
        self.name = mm(before.value_mm)
        self.doubt, self.why_not = "", None
        if not NEAREST_DEG < self.half_deg < 90 + NEAREST_DEG:
            self.why_not = self._misplaced()
            return
        slope = recipe.crank.slope_mm_per_deg(self.half_deg)
        sign = 1.0 if recipe.higher_reads_higher else -1.0
        late = sign * (after.value_mm - before.value_mm) / slope
        if abs(late) > LARGEST_CORRECTION_DEG:
            differ = mm(abs(after.value_mm - before.value_mm))
            why = f"the heights of a pair differ by {differ}, which is {abs(late):.1f}°"
            self.why_not = (why, "Bar back well before the top and take that height again")
            return
        middle = recipe.crank.middle_deg(between + late)
        self.top_deg = before.angle_deg + (between + late) / 2 - middle
        of_heights = math.hypot(before.u_mm, after.u_mm) / slope / 2
        self.u_deg = math.hypot(recipe.u_angle_deg / math.sqrt(2), of_heights)
        if self.half_deg < NEAR_DEG or of_heights > recipe.u_angle_deg / math.sqrt(2):
            self.doubt = (
                f"heights at {self.half_deg:.0f}° are too near to the top: there the piston moves "
                f"only {mm(slope)} for a degree. Take them further away"
            )

    def _misplaced(self) -> tuple[str, str]:
        if self.half_deg <= NEAREST_DEG:
            why = f"heights at {self.half_deg:.1f}° from the top cannot tell it: the piston stands"
            return f"{why} still there", "Take equal heights some tens of degrees away"
        why = f"before and after are {2 * self.half_deg:.0f}° apart"
        do = "Check which is before and which after, and that angles rise in running direction"
        return why, do
