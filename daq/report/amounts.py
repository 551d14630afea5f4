"""Recorded figures as a report shows them: one number of decimals a step, U never rounded down.

The last digits follow the uncertainty: the finest U of a step has two significant digits, and
everything else in the step ends at the same place (JCGM 100:2008, 7.2.6). Verdicts are never made
from figures rounded here.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, ROUND_UP, Context, Decimal

from daq.report.lines import Amount, Unit

COVERAGE_FACTOR = Decimal(2)
"""k in U = k·u: about 95 % for a normal distribution (JCGM 100:2008, 6.3.3 and G.6.6)."""

_MM_PER_INCH = Decimal("25.4")
"""Exact by definition of the international inch (1959 agreement; NIST SP 811, B.6)."""

_MOST_PLACES = 6
_USUAL_PLACES = 3
_CONTEXT = Context(prec=60, rounding=ROUND_HALF_EVEN)


@dataclass(frozen=True, slots=True)
class Scale:
    """The unit that lengths are shown in, and how many decimals they have."""

    unit: Unit
    places: int

    def length(self, exact_mm: Decimal, *, sign: bool = False) -> Amount:
        """A length in millimetres, shown in the scale's unit."""
        shown = self._digits(in_unit(exact_mm, self.unit), ROUND_HALF_EVEN, sign=sign)
        return Amount(exact=exact_mm, unit="mm", shown=shown, shown_unit=self.unit)

    def amount(self, exact: Decimal, unit: Unit, *, sign: bool = False) -> Amount:
        """A figure in any unit of a result; only millimetres are converted."""
        if unit == "mm":
            return self.length(exact, sign=sign)
        shown = self._digits(exact, ROUND_HALF_EVEN, sign=sign)
        return Amount(exact=exact, unit=unit, shown=shown, shown_unit=unit)

    def expanded(self, u: Decimal, unit: Unit) -> Amount:
        """The expanded uncertainty U = k·u of a standard uncertainty; rounded upwards."""
        exact = _CONTEXT.multiply(COVERAGE_FACTOR, u)
        if unit == "mm":
            return Amount(
                exact=exact,
                unit="mm",
                shown=self._digits(in_unit(exact, self.unit), ROUND_UP),
                shown_unit=self.unit,
            )
        shown = self._digits(exact, ROUND_UP)
        return Amount(exact=exact, unit=unit, shown=shown, shown_unit=unit)

    def words(self, exact_mm: Decimal, *, sign: bool = False) -> str:
        """A length for a sentence, with its unit."""
        return f"{self.length(exact_mm, sign=sign).shown} {self.unit}"

    def _digits(self, value: Decimal, rounding: str, *, sign: bool = False) -> str:
        rounded = value.quantize(Decimal(1).scaleb(-self.places), rounding, _CONTEXT)
        if rounded == 0:
            return f"{abs(rounded):f}"
        return f"{rounded:{'+' if sign else ''}f}".replace("-", "−")


def in_unit(exact_mm: Decimal, unit: Unit) -> Decimal:
    """A length in millimetres in the unit it is shown in; inches to 60 digits."""
    return _CONTEXT.divide(exact_mm, _MM_PER_INCH) if unit == "in" else exact_mm


def scale_for(unit: Unit, us_mm: Iterable[Decimal]) -> Scale:
    """The scale of a step whose results have these standard uncertainties, in millimetres."""
    expanded = [in_unit(COVERAGE_FACTOR * u_mm, unit) for u_mm in us_mm if u_mm > 0]
    if not expanded:
        return Scale(unit, _USUAL_PLACES + (unit == "in"))
    # adjusted() is the place of the first significant digit: -3 for 0.0089.
    return Scale(unit, min(max(1 - min(expanded).adjusted(), 0), _MOST_PLACES))
