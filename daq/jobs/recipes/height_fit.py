"""True top dead centre from heights at several angles: a fit of the slider-crank equation."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from daq.jobs.recipes.fitting import Agreement, Fit, NoFitError, agreement, fit
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

LEAST_HEIGHTS = 4
"""Fewer heights cannot show whether they follow the equation. Common practice."""

_ROUNDS = 15
_LONGEST_STEP_DEG = 5.0
_COARSE_DEG = 15
_LEAST_U_MM = 1e-6


@dataclass(frozen=True, slots=True)
class HeightFit:
    """The angle at which the piston is at its top, fitted to heights at several angles.

    For a gauge that cannot come to equal heights on both sides. Unlike `EqualHeights` it leans on
    the crank's radius and the rod's length; their uncertainty is in the result. Approach every
    angle in running direction.

    Args:
        crank: the crank drive.
        u_angle_deg: standard uncertainty of reading the angle, degrees.
        marked_deg: where the engine's mark for top dead centre is, on the same scale.
        angles_deg: about where to take heights, in degrees after the mark.
        higher_reads_higher: whether the reading rises with the piston; a depth gauge's falls.
        common: components in degrees that all angles share, such as parallax of the pointer.
        what: is measured, in words.

    Returns (``result``): degrees after the mark, -180 to 180, in running direction.

    Raises:
        RecipeError: fewer than four angles asked for, or all on one side.

    Source: slider-crank geometry; weighted least squares, propagation after JCGM 100:2008, 5.1.2.
    """

    crank: SliderCrank
    u_angle_deg: float
    marked_deg: float = 0.0
    angles_deg: tuple[float, ...] = (-40.0, -30.0, -20.0, 20.0, 30.0, 40.0)
    higher_reads_higher: bool = True
    common: tuple[Component, ...] = ()
    what: str = "true top dead centre"

    def __post_init__(self) -> None:
        require_figure("the uncertainty of the angles", self.u_angle_deg, least=1e-6)
        require_figure("the mark", self.marked_deg)
        sides = {angle > 0 for angle in self.angles_deg}
        if len(self.angles_deg) < LEAST_HEIGHTS or len(sides) < 2:
            raise RecipeError(f"ask for {LEAST_HEIGHTS} heights or more, on both sides of the mark")

    def wants(self, points: Sequence[Settled]) -> Wanted | None:
        """The next angle to take a height at, or None."""
        if len(points) >= len(self.angles_deg):
            return None
        number, of = len(points) + 1, len(self.angles_deg)
        angle = self.angles_deg[len(points)]
        side = "before" if angle < 0 else "after"
        words = f"bar on in running direction to about {abs(angle):g}° {side} the mark; note the "
        return Wanted(
            f"{words}angle ({number} of {of})", number, of, side, (self.marked_deg + angle) % 360
        )

    def result(self, points: Sequence[Settled]) -> Result | Refusal:
        """The fitted angle; a refusal if heights are missing or lie on one side only."""
        if any(point.angle_deg is None for point in points):
            why, do = f"{self.what}: a height has no angle", "Say where each was taken"
            return Refusal(why, do, missing=False, of=uids(points))
        if len(points) < LEAST_HEIGHTS:
            why = f"{self.what}: {len(points)} of at least {LEAST_HEIGHTS} heights are there"
            return Refusal(why, "Take more, on both sides", missing=True, of=uids(points))
        try:
            found = fit_heights(points, self.crank, self.u_angle_deg, self.higher_reads_higher)
        except NoFitError as error:
            do = "Take heights on both sides of the top, 20° or more from it"
            return Refusal(f"{self.what}: {error}", do, missing=True, of=uids(points))
        return Result(
            self.what,
            wrapped(found.top_deg - self.marked_deg),
            "deg",
            (
                Component("heights and angles", found.u_deg, "deg"),
                *self._of_drive(points, found),
                *self.common,
            ),
            uids(points),
            parts=(Part("scatter about the equation", found.scatter_mm, "mm"),),
            doubts=tuple(equation_doubts(found.agrees, found.scatter_mm)),
        )

    def _of_drive(self, points: Sequence[Settled], found: "HeightsFitted") -> list[Component]:
        """What the crank drive's own uncertainties come to: by fitting with each changed."""
        components = []
        for name, field in (
            ("crank radius", "radius_mm"),
            ("rod length", "rod_mm"),
            ("offset", "offset_mm"),
        ):
            u_mm: float = getattr(self.crank, f"u_{field}")
            if u_mm == 0:
                continue
            changed = replace(self.crank, **{field: getattr(self.crank, field) + u_mm})
            other = fit_heights(points, changed, self.u_angle_deg, self.higher_reads_higher)
            sensitivity = wrapped(other.top_deg - found.top_deg) / u_mm
            components.append(Component(name, u_mm, "mm", sensitivity))
        return components


@dataclass(frozen=True, slots=True)
class HeightsFitted:
    """Where the top is on the scale of the angles, and how well the heights follow the equation."""

    top_deg: float
    u_deg: float
    scatter_mm: float
    agrees: Agreement


def fit_heights(
    points: Sequence[Settled], crank: SliderCrank, u_angle_deg: float, higher_reads_higher: bool
) -> HeightsFitted:
    """Fit the top's angle and height, each point weighted by its height's and angle's u.

    Raises:
        NoFitError: the heights do not lie on both sides of a top.
    """
    sign = 1.0 if higher_reads_higher else -1.0
    heights = _Heights(
        crank,
        u_angle_deg,
        tuple(point.angle_deg or 0.0 for point in points),
        tuple(sign * point.value_mm for point in points),
        tuple(point.u_mm for point in points),
    )
    tops = [heights.nearest_top(start) for start in heights.starts()]
    top_deg = min(tops, key=heights.misfit)
    found, u_mm, after = heights.line_at(top_deg)
    if not min(after) < 0 < max(after):
        raise NoFitError("all heights lie on one side of the top")
    agrees = agreement(found.residuals, [1.0] * len(points), found.dof)
    in_mm = [r * w for r, w in zip(found.residuals, u_mm, strict=True)]
    scatter_mm = math.hypot(*in_mm) / math.sqrt(max(1, found.dof))
    u_deg = found.own_u(1, [1.0] * len(points)) * agrees.factor
    return HeightsFitted(top_deg % 360, u_deg, scatter_mm, agrees)


@dataclass(frozen=True, slots=True)
class _Heights:
    """Heights over angles, the piston's rise counted upwards."""

    crank: SliderCrank
    u_angle_deg: float
    angles_deg: tuple[float, ...]
    heights_mm: tuple[float, ...]
    u_mm: tuple[float, ...]

    def after(self, top_deg: float) -> list[float]:
        """The angles counted from a top."""
        return [wrapped(angle - top_deg) for angle in self.angles_deg]

    def raised(self, after: Sequence[float]) -> list[float]:
        """The height of the top that each height tells."""
        drops = map(self.crank.drop_mm, after)
        return [height + drop for height, drop in zip(self.heights_mm, drops, strict=True)]

    def misfit(self, top_deg: float) -> float:
        """Sum of squares about the equation with the top there, whatever the top's height."""
        raised = self.raised(self.after(top_deg))
        mean = math.fsum(raised) / len(raised)
        return math.fsum((each - mean) ** 2 for each in raised)

    def starts(self) -> list[float]:
        """Where the misfit, looked at every few degrees, is lower than on either side."""
        count = 360 // _COARSE_DEG
        misfits = [self.misfit(float(i * _COARSE_DEG)) for i in range(count)]
        return [
            float(i * _COARSE_DEG)
            for i, here in enumerate(misfits)
            if misfits[i - 1] >= here <= misfits[(i + 1) % count]
        ]

    def nearest_top(self, top_deg: float) -> float:
        """Gauss-Newton from there, in steps that stay near."""
        for _ in range(_ROUNDS):
            found, _, _ = self.line_at(top_deg)
            step = max(-_LONGEST_STEP_DEG, min(_LONGEST_STEP_DEG, found.parameters[1]))
            top_deg += step
            if abs(step) < 1e-8:
                break
        return top_deg

    def line_at(self, top_deg: float) -> tuple[Fit, list[float], list[float]]:
        """The equation made straight about a top: the top's height, and the step to a better.

        Each height is weighted by its u, that of its angle through the piston's speed included.
        """
        after = self.after(top_deg)
        slopes = [self.crank.slope_mm_per_deg(each) for each in after]
        u = [
            max(_LEAST_U_MM, math.hypot(each, slope * self.u_angle_deg))
            for each, slope in zip(self.u_mm, slopes, strict=True)
        ]
        # When the top moves on, the drop at an angle after it shrinks.
        rows = [[1 / w, slope / w] for slope, w in zip(slopes, u, strict=True)]
        values = [each / w for each, w in zip(self.raised(after), u, strict=True)]
        return fit(rows, values), u, after


def equation_doubts(agrees: Agreement, scatter_mm: float) -> list[str]:
    """What to say of heights that do not follow the slider-crank equation."""
    if not agrees.is_doubtful:
        return []
    return [
        f"the heights do not follow the crank's equation (they scatter by {mm(scatter_mm)}, "
        f"{agrees.scatter:.1f} times what is to be expected); check the stroke, the rod length, "
        "and that the gauge stands along the bore"
    ]


def wrapped(angle_deg: float) -> float:
    """The same angle from -180 (left out) to 180 degrees."""
    return 180.0 - (180.0 - angle_deg) % 360.0
