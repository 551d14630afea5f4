"""The error of a gauge along its travel, as a calibration found it.

At each nominal length the mean of the error rising and the error falling; straight lines between.
Below the first and above the last nominal the error of that end is taken: nothing shows what it is
there, and a value there is told apart.
"""

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

_INCH = 25.4
_CLOSE = 0.02
"""How near to 25.4 a quotient of readings and lengths must be for a slip of the unit."""


@dataclass(frozen=True, slots=True, eq=False)
class ErrorCurve:
    """Indicated less true, in mm, at rising nominals; each of shape (n,), n at least 1.

    ``u_mm`` are standard uncertainties, no number where nobody stated one. ``slip`` says that the
    figures are no errors at all but a mistake, and which; then nothing is to be corrected by them.
    """

    nominal_mm: Floats
    error_mm: Floats
    u_mm: Floats
    slip: str = ""

    def at(self, value_mm: Floats) -> Floats:
        """The error at each value; shape as given."""
        return np.interp(value_mm, self.nominal_mm, self.error_mm)

    def u_at(self, value_mm: Floats) -> Floats:
        """The standard uncertainty of the error at each value; shape as given."""
        return np.interp(value_mm, self.nominal_mm, self.u_mm)

    def is_outside(self, value_mm: Floats) -> npt.NDArray[np.bool_]:
        """Whether each value lies beyond the first or the last nominal."""
        first, last = float(self.nominal_mm[0]), float(self.nominal_mm[-1])
        return (value_mm < first) | (value_mm > last)

    @property
    def worst_mm(self) -> float:
        """The mean error furthest from 0, with its sign."""
        return float(self.error_mm[np.argmax(np.abs(self.error_mm))])


def curve_of(
    nominal_mm: Floats,
    reference_mm: Floats,
    indicated_mm: Floats,
    way: npt.ArrayLike,
    u_mm: Floats | None = None,
) -> ErrorCurve | None:
    """The curve through the points of one run, or None if there are none.

    Args:
        nominal_mm: the lengths that were asked for; shape (n,), in any order, as all of these.
        reference_mm: the lengths that there were.
        indicated_mm: what the gauge read.
        way: ``up``, ``down`` or ``repeat``, as text. Repeats count only where nothing else is.
        u_mm: standard uncertainty of the error at each.
    """
    if nominal_mm.size == 0:
        return None
    ways = np.asarray(way, dtype=str)
    error = indicated_mm - reference_mm
    u = np.full(error.shape, math.nan) if u_mm is None else u_mm
    nominals, place = np.unique(nominal_mm, return_inverse=True)
    size = nominals.size
    total, n_ways, used = np.zeros(size), np.zeros(size), np.zeros(error.shape, dtype=bool)
    for each in ("up", "down"):
        here = ways == each
        count = np.bincount(place[here], minlength=size)
        mean = np.bincount(place[here], error[here], size) / np.maximum(count, 1)
        total, n_ways, used = total + mean, n_ways + (count > 0), used | here
    rest = (n_ways == 0)[place]
    count = np.bincount(place[rest], minlength=size)
    total += np.bincount(place[rest], error[rest], size) / np.maximum(count, 1)
    used |= rest
    # What the points of a length share, such as its reference, a mean does not make smaller.
    most = np.full(size, -math.inf)
    with np.errstate(invalid="ignore"):  # where none is stated
        np.maximum.at(most, place[used], u[used])
    slip = _slip(reference_mm, indicated_mm)
    return ErrorCurve(nominals, total / np.maximum(n_ways, 1), most, slip)


def _slip(reference_mm: Floats, indicated_mm: Floats) -> str:
    """Whether the figures are in another unit than they were kept in; in words, or empty."""
    squares = float(np.sum(reference_mm * reference_mm))
    if reference_mm.size < 3 or squares == 0:
        return ""
    quotient = float(np.sum(reference_mm * indicated_mm)) / squares
    if abs(quotient * _INCH - 1) < _CLOSE:
        return "its readings look like inches kept as millimetres"
    if abs(quotient / _INCH - 1) < _CLOSE:
        return "its lengths look like inches kept as millimetres"
    return ""
