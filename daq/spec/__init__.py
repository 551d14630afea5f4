"""Lengths with units, limits, decision rules and adjuster guidance. No clock, port or screen.

Importing this loads neither pint nor numpy.
"""

from daq.spec.errors import SpecError
from daq.spec.guide import Adjuster, Guidance, dead_band_mm, guide, pitch_mm
from daq.spec.limits import Spec, limits_mm
from daq.spec.probability import guard_factor
from daq.spec.rules import (
    ISO_14253_1,
    ConformanceProbability,
    DecisionRule,
    GuardBand,
    Guards,
    SimpleAcceptance,
    rule_from,
)
from daq.spec.spec_file import load_spec
from daq.spec.units import LengthUnit, digits_in, exact_mm, length_mm, shown_in, unit_of
from daq.spec.verdict import Outcome, Place, Verdict, decide, p_conform, place

__all__ = [
    "ISO_14253_1",
    "Adjuster",
    "ConformanceProbability",
    "DecisionRule",
    "GuardBand",
    "Guards",
    "Guidance",
    "LengthUnit",
    "Outcome",
    "Place",
    "SimpleAcceptance",
    "Spec",
    "SpecError",
    "Verdict",
    "dead_band_mm",
    "decide",
    "digits_in",
    "exact_mm",
    "guard_factor",
    "guide",
    "length_mm",
    "limits_mm",
    "load_spec",
    "p_conform",
    "pitch_mm",
    "place",
    "rule_from",
    "shown_in",
    "unit_of",
]
