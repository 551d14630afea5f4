"""Figures of a certificate: exact as recorded, and rounded so that nothing looks surer than it is.

U is rounded up to two significant figures, the value to the same place (JCGM 100:2008, 7.2.6). A
probability of conformity is rounded down and a risk up. What is no measured value (a nominal, a
limit, a display step) is shown with the digits that it was written with.
"""

from decimal import ROUND_CEILING, ROUND_FLOOR, ROUND_HALF_EVEN, Context, Decimal

from daq.calibration.errors import CalibrationError
from daq.calibration.rounding import rounded_uncertainty, stated
from daq.report.certificate.lines import Stated
from daq.report.lines import Amount

_EXACT = Context(prec=60)
_PER_MILLE = Decimal("0.1")
_FIGURES = 3


def as_written(value_mm: Decimal) -> Amount:
    """A length with the digits that it was written with."""
    return _amount(value_mm, digits(value_mm))


def rounded(value_mm: Decimal, expanded_mm: Decimal, *, sign: bool = False) -> Amount:
    """A length rounded to the place of its expanded uncertainty."""
    if expanded_mm <= 0:
        return as_written(value_mm)
    return _amount(value_mm, digits(_stated(value_mm, expanded_mm)[0], sign=sign))


def expanded(expanded_mm: Decimal) -> Amount:
    """An expanded uncertainty: two significant figures, rounded up."""
    if expanded_mm <= 0:
        return as_written(expanded_mm)
    return _amount(expanded_mm, digits(rounded_uncertainty(expanded_mm)))


def guard(guard_mm: Decimal) -> Amount:
    """A guard band: two significant figures, rounded up, as an uncertainty is."""
    return expanded(guard_mm)


def result(
    value_mm: Decimal,
    *,
    u_mm: Decimal,
    dof: Decimal | None,
    k: Decimal,
    expanded_mm: Decimal,
    sign: bool = False,
) -> Stated:
    """A value with its uncertainty."""
    return Stated(
        value=rounded(value_mm, expanded_mm, sign=sign),
        expanded=expanded(expanded_mm),
        u_mm=u_mm,
        dof=dof,
        k=k,
        k_shown=factor(k),
    )


def factor(k: Decimal) -> str:
    """A coverage factor to two decimals."""
    return digits(k.quantize(Decimal("0.01"), ROUND_HALF_EVEN, _EXACT))


def to_figures(value: Decimal, figures: int = _FIGURES) -> str:
    """A figure that is only to be looked at, to so many significant figures."""
    if value == 0:
        return "0"
    place = Decimal(1).scaleb(value.adjusted() - figures + 1)
    if place > 1:
        place = Decimal(1)
    return digits(value.quantize(place, ROUND_HALF_EVEN, _EXACT))


def probability(p: Decimal) -> str:
    """A probability in per cent, never rounded up."""
    percent = (100 * p).quantize(_PER_MILLE, ROUND_FLOOR, _EXACT)
    if percent >= Decimal("99.9"):
        return "at least 99.9 %"
    return f"{percent:f} %" if percent > 0 else "less than 0.1 %"


def risk(p_conform: Decimal) -> str:
    """The probability of the contrary in per cent, never rounded down."""
    percent = (100 * (1 - p_conform)).quantize(_PER_MILLE, ROUND_CEILING, _EXACT)
    if percent <= _PER_MILLE:
        return "at most 0.1 %"
    if percent > Decimal("99.9"):
        return "more than 99.9 %"
    return f"{percent:f} %"


def per_cent(share: Decimal) -> str:
    """A share in per cent, without zeros that say nothing."""
    return f"{_bare(100 * share)} %"


def digits(value: Decimal, *, sign: bool = False) -> str:
    """The digits of a figure with a true minus sign; ``sign`` shows a plus too."""
    if value == 0:
        return f"{abs(value):f}"
    return f"{value:{'+' if sign else ''}f}".replace("-", "−")


def brief(value: Decimal) -> str:
    """A figure for a sentence, without zeros that say nothing."""
    return _bare(value).replace("-", "−")


def _bare(value: Decimal) -> str:
    plain = f"{value:f}"
    return plain.rstrip("0").rstrip(".") if "." in plain else plain


def _amount(exact_mm: Decimal, shown: str) -> Amount:
    return Amount(exact=exact_mm, unit="mm", shown=shown, shown_unit="mm")


def _stated(value_mm: Decimal, expanded_mm: Decimal) -> tuple[Decimal, Decimal]:
    try:
        both = stated(value_mm, expanded_mm)
    except CalibrationError:  # out of all proportion: shown as it stands
        return value_mm, expanded_mm
    return both.value, both.expanded
