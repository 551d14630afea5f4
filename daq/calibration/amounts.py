"""Figures that are all lengths with a unit, or all plain numbers, for a decision typed by hand.

The rules of a decision do not care what is measured. Lengths are read into millimetres; figures
without any unit are taken as they stand, and so is what comes out.
"""

import math
import re
from dataclasses import dataclass
from decimal import Decimal

from daq.calibration.errors import CalibrationError
from daq.calibration.risk import Band, DensityPrior, NormalPrior, Prior
from daq.spec.errors import SpecError
from daq.spec.limits import limits_mm
from daq.spec.units import length_mm

_BARE = re.compile(r"[+\-−]?(?:[0-9]{1,6}(?:\.[0-9]{1,12})?|\.[0-9]{1,12})")
_UNIT = re.compile(r"[A-Za-zµμ\"]\"?\s*$")
_CONFORMING = re.compile(r"(?P<percent>[0-9]{1,2}(?:\.[0-9]{1,9})?) ?% conforming")
_SPREAD = re.compile(r"(?P<shape>normal|gamma) (?P<figures>.+)")

LARGEST = 100_000
"""A plain number is at most so large; a length may be 100 m, which is the same."""

PRIOR_HINT = 'write "normal MEAN SD", "gamma MEAN SD" or "95 % conforming"'


@dataclass(frozen=True, slots=True)
class Amounts:
    """How figures are read: as lengths in millimetres, or as plain numbers (``unit`` is empty)."""

    unit: str

    @classmethod
    def of(cls, text: str) -> "Amounts":
        """The way in which ``text``, one figure or limits, is written."""
        return cls("mm" if _UNIT.search(text) else "")

    def figure(self, text: str, *, what: str) -> Decimal:
        """One figure, exactly.

        Raises:
            CalibrationError: it is none, or it has a unit where the others have not.
        """
        squeezed = " ".join(text.split())
        bare = bool(_BARE.fullmatch(squeezed))
        if not self.unit:
            if bare and abs(number := Decimal(squeezed.replace("−", "-"))) <= LARGEST:
                return number
            if bare:
                raise CalibrationError(
                    f"{what}: {text} is above {LARGEST}; give every figure in a larger unit"
                )
            raise CalibrationError(
                f"{what}: {text!r} is no plain number; give every figure with its unit, or none"
            )
        try:
            return length_mm(text, signed=True)
        except SpecError as error:
            raise CalibrationError(f"{what}: {error}") from error

    def limits(self, text: str, *, what: str) -> tuple[Decimal | None, Decimal | None]:
        """The lower and upper deviation.

        Raises:
            CalibrationError: they are none, or have a unit where the other figures have not.
        """
        if not self.unit and _UNIT.search(text):
            raise CalibrationError(f"{what}: {text!r} has a unit; give every figure one, or none")
        try:
            return limits_mm(text if self.unit else f"{text} mm")
        except SpecError as error:
            said = str(error) if self.unit else str(error).replace(" mm", "")
            raise CalibrationError(f"{what}: {said}") from error

    def prior(self, text: str, band: Band) -> Prior:
        """How the true values of a process spread.

        Args:
            text: ``"normal 1500 0.12"``, ``"gamma 1 µm 0.5 µm"`` (mean and standard deviation; a
                gamma is for what cannot be below zero), or ``"95 % conforming"``: a normal one in
                the middle of the limits.
            band: the limits that the last of these is for.

        Raises:
            CalibrationError: it says none of these, or its figures make no sense.
        """
        squeezed = " ".join(text.split())
        if match := _CONFORMING.fullmatch(squeezed):
            return NormalPrior.of_reliability(band, float(match["percent"]) / 100)
        match = _SPREAD.fullmatch(squeezed)
        words = match["figures"].split(" ") if match else []
        if match is None or len(words) % 2:
            raise CalibrationError(f"{text!r} is no prior; {PRIOR_HINT}")
        half = len(words) // 2
        mean, sd = (
            float(self.figure(" ".join(part), what="prior"))
            for part in (words[:half], words[half:])
        )
        return NormalPrior(mean, sd) if match["shape"] == "normal" else gamma_prior(mean, sd)


def gamma_prior(mean: float, sd: float) -> DensityPrior:
    """A process whose true values cannot be below zero: gamma, with this mean and ``sd``.

    Raises:
        CalibrationError: a figure is not above 0, or ``sd`` is above ``mean``, where the density
            has no bound at zero.
    """
    if not 0 < sd <= mean:
        raise CalibrationError(
            f"a gamma prior with mean {mean:g} and standard deviation {sd:g} cannot be used; the "
            "standard deviation is above 0 and at most the mean"
        )
    shape, rate = (mean / sd) ** 2, mean / sd**2
    scale = shape * math.log(rate) - math.lgamma(shape)

    def density(x: float) -> float:
        if x <= 0:
            return math.exp(scale) if x == 0 and shape == 1 else 0.0
        return math.exp(scale + (shape - 1) * math.log(x) - rate * x)

    low = max(0.0, mean - 40 * sd)
    breaks = tuple(mean + n * sd for n in (-4, -1, 1, 4) if mean + n * sd > low)
    return DensityPrior(density, (low, mean + 40 * sd), breaks)
