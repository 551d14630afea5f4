"""How figures are rounded for the eye: by their uncertainty, which is never made smaller."""

from decimal import Decimal

import pytest

from daq.report.amounts import Scale, scale_for


@pytest.mark.parametrize(
    ("us_mm", "places"),
    [
        (["0.0041", "0.0012"], 4),
        (["0.012"], 3),
        (["0.000001"], 6),
        (["3"], 1),
        (["5"], 0),
        (["0.05"], 2),
        ([], 3),
    ],
)
def test_the_last_digit_shown_follows_the_uncertainty(us_mm, places):
    """The finest U has two significant digits: JCGM 100:2008, 7.2.6."""
    assert scale_for("mm", [Decimal(u) for u in us_mm]).places == places


def test_figures_are_rounded_to_even_and_an_uncertainty_upwards():
    scale = Scale("mm", 3)
    assert scale.length(Decimal("1.2345")).shown == "1.234"
    assert scale.length(Decimal("1.2355")).shown == "1.236"
    assert scale.length(Decimal("-0.0004"), sign=True).shown == "0.000"
    assert scale.length(Decimal("-0.0016"), sign=True).shown == "−0.002"
    assert scale.expanded(Decimal("0.00401"), "mm").shown == "0.009"
    assert Scale("in", 5).length(Decimal("25.4")).shown == "1.00000"
    assert Scale("in", 4).amount(Decimal("0.5"), "deg").shown_unit == "deg"
