"""A reading that was taken at a known length, and what it was taken for."""

from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

from daq.calibration.plan import Direction, Series

Run = Literal["as found", "as left"]
"""``as found``: before anybody adjusted anything; ``as left``: after."""


@dataclass(frozen=True, slots=True)
class Point:
    """One reading of a calibration, in exact millimetres.

    ``place`` is which of the plan's readings it is, counted from 1. ``reference_mm`` is the travel
    by the standard's certificate, ``reading_mm`` what the gauge showed, both from the same zero;
    ``u_reference_mm`` and ``u_reading_mm`` are their standard uncertainties (k = 1). ``uid`` is
    that of the logbook's record of the point, which names the capture behind it; empty if there is
    none.
    """

    place: int
    series: Series
    nominal_mm: Decimal
    direction: Direction
    reference_mm: Decimal
    u_reference_mm: Decimal
    reading_mm: Decimal
    u_reading_mm: Decimal
    run: Run = "as found"
    uid: str = ""

    @property
    def error_mm(self) -> Decimal:
        """Indicated minus reference."""
        return self.reading_mm - self.reference_mm
