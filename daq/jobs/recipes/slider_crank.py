"""Where the piston is at a crank angle: the slider-crank equation, exact."""

import math
from dataclasses import dataclass

from daq.jobs.recipes.points import RecipeError, require_figure


@dataclass(frozen=True, slots=True)
class SliderCrank:
    """A crank, a connecting rod and a piston, perhaps with its pin off the crank's axis.

    Args:
        radius_mm: of the crank: half of the stroke where there is no offset.
        rod_mm: length of the connecting rod between centres.
        offset_mm: how far the line that the piston pin moves on passes beside the crank's axis;
            positive to the side that the crank pin swings to first after top dead centre.
        u_radius_mm, u_rod_mm, u_offset_mm: standard uncertainties of these.

    Raises:
        RecipeError: figures of which no crank can turn: the rod not longer than radius + offset.

    Source: plane geometry. With the crank pin at angle t from the piston's line, the piston pin
    is at r·cos t + sqrt(l² - (r·sin t - e)²) above the crank's axis.
    """

    radius_mm: float
    rod_mm: float
    offset_mm: float = 0.0
    u_radius_mm: float = 0.0
    u_rod_mm: float = 0.0
    u_offset_mm: float = 0.0

    def __post_init__(self) -> None:
        require_figure("the crank radius", self.radius_mm, least=1.0)
        require_figure("the rod length", self.rod_mm, least=1.0)
        require_figure("the offset", self.offset_mm)
        for u_mm in (self.u_radius_mm, self.u_rod_mm, self.u_offset_mm):
            require_figure("an uncertainty of the crank drive", u_mm, least=0)
        if self.rod_mm <= self.radius_mm + abs(self.offset_mm):
            raise RecipeError(
                f"a rod of {self.rod_mm:g} mm cannot turn a crank of {self.radius_mm:g} mm radius "
                f"with {self.offset_mm:g} mm offset; check stroke (twice the radius) and rod length"
            )

    @property
    def top_rad(self) -> float:
        """The crank pin's angle from the piston's line at top dead centre, radians."""
        return math.asin(self.offset_mm / (self.rod_mm + self.radius_mm))

    def bottom_deg(self, *, after: bool) -> float:
        """Crank angle from top to bottom dead centre, positive after the top, negative before.

        180 without an offset. With one, the two strokes are not alike.
        """
        down = 180.0 + math.degrees(
            math.asin(self.offset_mm / (self.rod_mm - self.radius_mm)) - self.top_rad
        )
        return down if after else down - 360.0

    def drop_mm(self, angle_deg: float) -> float:
        """How far the piston is below its top, ``angle_deg`` of crank angle after it.

        Exact for any angle; computed so that it keeps its digits next to the top.
        """
        top, t = self.top_rad, self.top_rad + math.radians(angle_deg)
        half_sum, half = (top + t) / 2, math.radians(angle_deg) / 2
        # cos(top) - cos(t) and sin(t) - sin(top) without cancellation.
        of_crank = 2 * math.sin(half_sum) * math.sin(half) * self.radius_mm
        sideways = 2 * math.cos(half_sum) * math.sin(half) * self.radius_mm
        side_top, side = self._sideways(top), self._sideways(t)
        roots = self._upright(top) + self._upright(t)
        return of_crank + sideways * (side + side_top) / roots

    def slope_mm_per_deg(self, angle_deg: float) -> float:
        """How fast the piston drops there, millimetres for a degree; below zero before the top.

        It is how well a height tells the angle: nothing at the top, most at 70° to 80° from it.
        """
        t = self.top_rad + math.radians(angle_deg)
        sideways = self._sideways(t)
        slope = self.radius_mm * (math.sin(t) + math.cos(t) * sideways / self._upright(t))
        return math.radians(slope)

    def angle_deg(self, drop_mm: float, *, after: bool) -> float:
        """The crank angle from top dead centre at which the piston has dropped so far.

        Args:
            drop_mm: below the top, 0 or more.
            after: the angle after the top (positive); else the one before it (negative).

        Raises:
            RecipeError: the piston never drops so far.
        """
        low, high = 0.0, self.bottom_deg(after=after)
        if not 0 <= drop_mm <= self.drop_mm(high):
            raise RecipeError(f"the piston does not drop by {drop_mm:g} mm")
        for _ in range(100):
            middle = (low + high) / 2
            low, high = (middle, high) if self.drop_mm(middle) < drop_mm else (low, middle)
        return (low + high) / 2

    def middle_deg(self, between_deg: float) -> float:
        """The middle between two angles of equal height, in degrees after the true top.

        Zero without an offset; with one, equal heights do not lie equally far from the top.

        Args:
            between_deg: from the one to the other, above 0, below 360.
        """
        if self.offset_mm == 0:
            return 0.0
        low, high = -between_deg, 0.0
        for _ in range(60):
            before = (low + high) / 2
            too_low = self.drop_mm(before) > self.drop_mm(before + between_deg)
            low, high = (before, high) if too_low else (low, before)
        return (low + high + between_deg) / 2

    def _sideways(self, t: float) -> float:
        return self.radius_mm * math.sin(t) - self.offset_mm

    def _upright(self, t: float) -> float:
        return math.sqrt(self.rod_mm**2 - self._sideways(t) ** 2)
