"""The result as it is stated: U to two significant figures, the value to the same place.

U is rounded up, so that it is never understated; the value to the nearest, half to even. Each is
rounded once, from all its digits, in exact decimal arithmetic.
"""

from dataclasses import dataclass
from decimal import (
    ROUND_CEILING,
    ROUND_HALF_EVEN,
    ROUND_HALF_UP,
    Context,
    Decimal,
    InvalidOperation,
)

from daq.calibration.errors import CalibrationError

_EXACT = Context(prec=200, traps=[InvalidOperation])
_UP = Context(prec=200, rounding=ROUND_CEILING, traps=[InvalidOperation])

_FLOAT_FIGURES = Context(prec=12, rounding=ROUND_HALF_EVEN)
"""A float's figures beyond these are dust of the computation, and must not push U a step up."""

NEVER_UNDERSTATED = Decimal(0)
"""The rule of the house: U is always rounded up."""


@dataclass(frozen=True, slots=True)
class Stated:
    """A value with its expanded uncertainty, both rounded to the place ``10**exponent``."""

    value: Decimal
    expanded: Decimal
    exponent: int

    def __str__(self) -> str:
        return f"{self.value:f} ± {self.expanded:f}"


def stated(
    value: Decimal | float,
    expanded: Decimal | float,
    *,
    figures: int = 2,
    may_understate: Decimal = NEVER_UNDERSTATED,
) -> Stated:
    """Round a result for a certificate.

    Args:
        value: the result. A float counts with the shortest digits that name it.
        expanded: its uncertainty, in the same unit, above 0; for floats the first 12 figures count.
        figures: significant figures of U, 1 or 2.
        may_understate: by how much of itself U may be rounded down where that is the nearest;
            0 means never. ``Decimal("0.005")`` gives 28 for 28.05 and still 11 for 10.47.

    Raises:
        CalibrationError: a figure is not finite, U is not above 0, or another argument is out of
            its range.

    Source: JCGM 100:2008, 7.2.6; ISO 80000-1:2009, B.3, rule A, for the value.
    """
    u = rounded_uncertainty(expanded, figures=figures, may_understate=may_understate)
    exponent = _exponent_of(u)
    rounded = _digits(value, "value").quantize(u, context=_EXACT)
    return Stated(_EXACT.plus(rounded), u, exponent)  # plus: there is no negative zero


def rounded_uncertainty(
    expanded: Decimal | float,
    *,
    figures: int = 2,
    may_understate: Decimal = NEVER_UNDERSTATED,
) -> Decimal:
    """U to ``figures`` significant figures by the rule of `stated`.

    The exponent of the answer is the place it was rounded to: 0.0996 becomes 0.10, not 0.100.

    Raises:
        CalibrationError: as `stated` does.
    """
    if figures not in (1, 2):
        raise CalibrationError(f"an uncertainty is stated to one or two figures, not {figures}")
    if not 0 <= may_understate <= Decimal("0.05"):
        raise CalibrationError(
            f"an uncertainty may be understated by 0 to 0.05 of itself, not by {may_understate}"
        )
    u = _digits(expanded, "expanded uncertainty")
    if isinstance(expanded, float):
        u = _FLOAT_FIGURES.plus(u)
    if u <= 0:
        raise CalibrationError(
            f"an expanded uncertainty of {expanded} cannot be stated; it must be above 0"
        )
    place = Decimal(1).scaleb(u.adjusted() - figures + 1)
    nearest = u.quantize(place, rounding=ROUND_HALF_UP, context=_EXACT)
    if nearest < u and _EXACT.subtract(u, nearest) > _EXACT.multiply(may_understate, u):
        nearest = u.quantize(place, context=_UP)
    if nearest.adjusted() > u.adjusted():  # 0.0996 went up to 0.100: one place less
        nearest = nearest.quantize(place.scaleb(1), context=_EXACT)
    return nearest


def _digits(figure: Decimal | float, what: str) -> Decimal:
    exact = figure if isinstance(figure, Decimal) else Decimal(repr(float(figure)))
    if not exact.is_finite():
        raise CalibrationError(f"the {what} is {figure}; it must be a finite number")
    if exact and not -60 <= exact.adjusted() <= 60:
        raise CalibrationError(f"the {what} {figure} is out of all proportion; check the unit")
    return exact


def _exponent_of(number: Decimal) -> int:
    exponent = number.as_tuple().exponent
    assert isinstance(exponent, int)  # finite: it was checked
    return exponent
