"""The cosine of a gauge that does not stand square."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from daq.jobs.recipes.corrections import Input, scaled
from daq.jobs.recipes.points import RecipeError, Settled, mm, require_figure

STEEPEST_DEG = 30.0
"""A gauge tilted more than this is to be mounted anew, not corrected. Common practice."""


@dataclass(frozen=True, slots=True)
class Tilt:
    """Cosine of a tilted gauge: it reads long, true travel = travel read · cos θ.

    Only the travel from where the gauge was mastered is wrong. For a plunger in line with its
    spindle; a lever's contact needs the lever's own angle to the surface here.

    The tilt across the one measured is nought give or take the same u. With both taken as normal,
    the mean of cos is cos θ · exp(-u²), u in radians. The correction's uncertainty is
    travel · sin θ · u to first order, with a second-order term that is about travel · u², and all
    there is when the gauge is meant to stand square.

    Args:
        tilt_deg: between the plunger and the direction measured, 0 to 30.
        u_tilt_deg: its standard uncertainty, degrees.
        mastered_mm: the value at which the gauge was mastered or zeroed.

    Raises:
        RecipeError: the tilt is outside 0 to 30, or u outside 0 to 10.

    Source: geometry; second order after JCGM 100:2008, F.2.4.4 (from memory), in closed form.
    """

    tilt_deg: float
    u_tilt_deg: float
    mastered_mm: float = 0.0

    def __post_init__(self) -> None:
        require_figure("the tilt", self.tilt_deg, least=0)
        require_figure("the uncertainty of the tilt", self.u_tilt_deg, least=0)
        require_figure("the value mastered at", self.mastered_mm)
        if self.tilt_deg > STEEPEST_DEG or self.u_tilt_deg > 10:
            raise RecipeError(
                f"a tilt of {self.tilt_deg:g}° known to {self.u_tilt_deg:g}° is too much to "
                "correct; mount the gauge square to the surface"
            )

    @property
    def name(self) -> str:
        """In a word or two."""
        return "cosine of the tilt"

    @property
    def why(self) -> str:
        """What it was made with, in words."""
        return (
            f"the gauge stood at {self.tilt_deg:g}° (u = {self.u_tilt_deg:g}°) to the direction "
            f"measured, mastered at {mm(self.mastered_mm)}"
        )

    @property
    def factor(self) -> float:
        """What the travel is multiplied by."""
        spread = math.radians(self.u_tilt_deg) ** 2
        return math.cos(math.radians(self.tilt_deg)) * math.exp(-spread)

    def correct(self, value_mm: float) -> float:
        """The value that the gauge should have read."""
        return scaled(self.mastered_mm, self.factor)(value_mm)

    def inputs(self) -> Sequence[Input]:
        """The tilt to first order, and what lies beyond it."""
        u, tilt = math.radians(self.u_tilt_deg), math.radians(self.tilt_deg)
        first = -math.sin(tilt) * u
        along = (1 + math.cos(2 * tilt) * math.exp(-2 * u * u)) / 2
        across = (1 + math.exp(-2 * u * u)) / 2
        variance = along * across - self.factor**2
        second = math.sqrt(max(0.0, variance - first * first))
        return (
            self._input("tilt", self.u_tilt_deg, "deg", first),
            self._input("tilt, second order", second, "1", second),
        )

    def refuses(self, _points: Sequence[Settled], /) -> str:
        """Never."""
        return ""

    def _input(self, name: str, u: float, unit: str, by: float) -> Input:
        return Input(name, u, unit, scaled(self.mastered_mm, self.factor + by))
