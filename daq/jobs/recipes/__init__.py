"""Recipes of measurement: settled values in, one result with its uncertainty out, or a refusal.

No clock, port, file or screen.
"""

from daq.jobs.recipes.corrections import Correction, Input, corrected, reading_for
from daq.jobs.recipes.dead_centre import EqualHeights
from daq.jobs.recipes.deflection import POSITIONS, Deflection
from daq.jobs.recipes.field import Field
from daq.jobs.recipes.gauge_table import GaugeTable, TablePoint
from daq.jobs.recipes.harmonic import FirstHarmonic, first_harmonic
from daq.jobs.recipes.height_fit import HeightFit
from daq.jobs.recipes.length import Length
from daq.jobs.recipes.play import Play
from daq.jobs.recipes.points import (
    Applied,
    Component,
    Part,
    Recipe,
    RecipeError,
    Refusal,
    Result,
    Settled,
    Unit,
    Wanted,
)
from daq.jobs.recipes.runout import RunOut
from daq.jobs.recipes.slider_crank import SliderCrank
from daq.jobs.recipes.temperature import Body, Temperature
from daq.jobs.recipes.tilt import Tilt

__all__ = [
    "POSITIONS",
    "Applied",
    "Body",
    "Component",
    "Correction",
    "Deflection",
    "EqualHeights",
    "Field",
    "FirstHarmonic",
    "GaugeTable",
    "HeightFit",
    "Input",
    "Length",
    "Part",
    "Play",
    "Recipe",
    "RecipeError",
    "Refusal",
    "Result",
    "RunOut",
    "Settled",
    "SliderCrank",
    "TablePoint",
    "Temperature",
    "Tilt",
    "Unit",
    "Wanted",
    "corrected",
    "first_harmonic",
    "reading_for",
]
