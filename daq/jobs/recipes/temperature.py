"""Lengths from the temperatures of the day to 20 °C."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from daq.jobs.recipes.corrections import Input, scaled
from daq.jobs.recipes.points import RecipeError, Settled, require_figure

REFERENCE_C = 20.0
"""The temperature at which lengths are stated. Source: ISO 1."""


@dataclass(frozen=True, slots=True)
class Body:
    """Something that expands: its temperature and its coefficient, with standard uncertainties.

    For steel 11.5e-6 /K give or take 1.2e-6 is usual (JCGM 100:2008, H.1).

    Raises:
        RecipeError: the temperature is not from -60 to 250 °C, or the coefficient not from 0 to
            1e-3 /K.
    """

    celsius: float
    u_celsius: float
    alpha_per_k: float
    u_alpha_per_k: float

    def __post_init__(self) -> None:
        require_figure("the temperature", self.celsius, least=-60)
        require_figure("the expansion coefficient", self.alpha_per_k, least=0)
        for u in (self.u_celsius, self.u_alpha_per_k):
            require_figure("an uncertainty of the expansion", u, least=0)
        if self.celsius > 250 or self.alpha_per_k > 1e-3:
            raise RecipeError(
                f"{self.celsius:g} °C with {self.alpha_per_k:g} /K is no part of an engine; give "
                "degrees Celsius, and the coefficient for one kelvin, such as 11.5e-6"
            )

    @property
    def above_k(self) -> float:
        """How far it is above 20 °C, kelvin."""
        return self.celsius - REFERENCE_C


@dataclass(frozen=True, slots=True)
class Temperature:
    """From the temperatures of the day to 20 °C: L20 = L · (1 + αg·Δtg - αp·Δtp).

    The values must be whole lengths, as mastered; ``gauge`` is whatever carries the scale: the
    gauge itself, or the setting master where only a small travel from it is read. The four
    figures are taken as independent. Two temperatures from one thermometer are not; that makes
    the true uncertainty smaller.

    Source: ISO 1 for 20 °C; JCGM 100:2008, H.1, for the model, with its second-order terms.
    """

    gauge: Body
    part: Body

    @property
    def name(self) -> str:
        """In a word or two."""
        return "temperature"

    @property
    def why(self) -> str:
        """What it was made with, in words."""
        gauge, part = self.gauge, self.part
        return (
            f"to 20 °C: gauge at {gauge.celsius:g} °C ({gauge.alpha_per_k * 1e6:.4g}e-6 /K), "
            f"part at {part.celsius:g} °C ({part.alpha_per_k * 1e6:.4g}e-6 /K)"
        )

    @property
    def factor(self) -> float:
        """What the length is multiplied by."""
        gauge, part = self.gauge, self.part
        return 1 + gauge.alpha_per_k * gauge.above_k - part.alpha_per_k * part.above_k

    def correct(self, value_mm: float) -> float:
        """The value that the gauge should have read."""
        return value_mm * self.factor

    def inputs(self) -> Sequence[Input]:
        """Both temperatures, both coefficients, and the products of their uncertainties."""
        gauge, part = self.gauge, self.part
        second = math.hypot(
            gauge.u_celsius * gauge.u_alpha_per_k, part.u_celsius * part.u_alpha_per_k
        )
        return tuple(
            Input(name, u, unit, scaled(0.0, self.factor + by * u))
            for name, u, unit, by in (
                ("temperature of the gauge", gauge.u_celsius, "K", gauge.alpha_per_k),
                ("temperature of the part", part.u_celsius, "K", -part.alpha_per_k),
                ("expansion of the gauge", gauge.u_alpha_per_k, "1/K", gauge.above_k),
                ("expansion of the part", part.u_alpha_per_k, "1/K", -part.above_k),
                ("expansion, second order", second, "1", 1.0),
            )
        )

    def refuses(self, _points: Sequence[Settled], /) -> str:
        """Never."""
        return ""
