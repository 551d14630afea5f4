"""How a result is stated: U up to two figures, the value to the same place, exactly."""

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daq.calibration.errors import CalibrationError
from daq.calibration.rounding import rounded_uncertainty, stated


@pytest.mark.parametrize(
    ("value", "expanded", "text"),
    [
        # JCGM 100:2008, H.1.6: 92.48 nm is stated as 93 nm, with l = 50.000 838 mm.
        (Decimal("50.000838"), Decimal("0.00009248"), "50.000838 ± 0.000093"),
        # JCGM 100:2008, 7.2.6: 10.05762 Ω with u = 27 mΩ is stated as 10.058 Ω.
        (Decimal("10.05762"), Decimal("0.027"), "10.058 ± 0.027"),
        (Decimal("1.5"), Decimal("0.0996"), "1.50 ± 0.10"),
        (Decimal("1.5"), Decimal("0.9901"), "1.5 ± 1.0"),
        (Decimal("1234"), Decimal("123"), "1230 ± 130"),
        (Decimal("-0.001"), Decimal("0.2"), "0.00 ± 0.20"),
        (Decimal("0.0125"), Decimal("0.002"), "0.0125 ± 0.0020"),
    ],
)
def test_u_goes_up_to_two_figures_and_the_value_to_its_place(value, expanded, text):
    assert str(stated(value, expanded)) == text


@pytest.mark.parametrize(
    ("value", "place", "rounded"),
    [
        # ISO 80000-1:2009, B.3, rule A; from memory.
        ("12.223", "1.0", "12.2"),
        ("12.251", "1.0", "12.3"),
        ("12.275", "1.0", "12.3"),
        ("12.25", "1.0", "12.2"),
        ("12.35", "1.0", "12.4"),
        ("12.254", "1.0", "12.3"),
        ("-12.25", "1.0", "-12.2"),
        ("1225.0", "1.0E+2", "1220"),
        ("1235.0", "1.0E+2", "1240"),
    ],
)
def test_a_value_half_way_goes_to_the_even_digit_in_one_step(value, place, rounded):
    assert f"{stated(Decimal(value), Decimal(place)).value:f}" == rounded
    assert f"{stated(float(value), Decimal(place)).value:f}" == rounded


@pytest.mark.parametrize(
    ("u", "never", "sensible"),
    [
        # JCGM 100:2008, 7.2.6: 10.47 mΩ up to 11 mΩ, but 28.05 kHz down to 28 kHz.
        ("10.47", "11", "11"),
        ("28.05", "29", "28"),
        ("92.48", "93", "93"),
    ],
)
def test_u_may_go_down_a_little_only_where_that_was_asked_for(u, never, sensible):
    assert rounded_uncertainty(Decimal(u)) == Decimal(never)
    assert rounded_uncertainty(Decimal(u), may_understate=Decimal("0.005")) == Decimal(sensible)


def test_the_dust_of_float_arithmetic_does_not_push_u_a_step_up():
    assert rounded_uncertainty(0.1 + 0.2) == Decimal("0.30")
    assert rounded_uncertainty(0.1 + 0.2).as_tuple().exponent == -2
    assert rounded_uncertainty(Decimal("0.30000000000000004")) == Decimal("0.31")


def test_one_figure_can_be_had():
    assert str(stated(Decimal("1.2345"), Decimal("0.0123"), figures=1)) == "1.23 ± 0.02"
    assert str(stated(Decimal("1.2345"), Decimal("0.096"), figures=1)) == "1.2 ± 0.1"


decimals = st.decimals("1e-9", "1e9", allow_nan=False, places=9).filter(lambda d: d > 0)


@given(decimals)
def test_u_is_never_understated_and_overstated_by_less_than_a_tenth(u):
    rounded = rounded_uncertainty(u)
    assert 0 <= Fraction(rounded) - Fraction(u) < Fraction(u) / 10


@given(decimals)
def test_u_has_exactly_two_figures(u):
    assert len(rounded_uncertainty(u).as_tuple().digits) == 2


@given(decimals, st.sampled_from([Decimal("0.005"), Decimal("0.05")]))
def test_an_allowance_is_kept(u, allowance):
    rounded = rounded_uncertainty(u, may_understate=allowance)
    assert Fraction(rounded) >= Fraction(u) * (1 - Fraction(allowance))
    assert rounded <= rounded_uncertainty(u)


@given(decimals)
def test_what_is_rounded_stays_as_it_is(u):
    once = rounded_uncertainty(u)
    assert rounded_uncertainty(once) == once


@given(st.decimals("-1e9", "1e9", allow_nan=False, places=12), decimals)
def test_the_value_moves_by_at_most_half_a_step_of_its_place(value, u):
    made = stated(value, u)
    step = Fraction(10) ** made.exponent
    assert abs(Fraction(made.value) - Fraction(value)) <= step / 2
    assert Fraction(made.value) % step == 0
    assert not (made.value == 0 and made.value.is_signed())


@pytest.mark.parametrize(
    ("value", "u", "more", "says"),
    [
        (1.0, 0.0, {}, "above 0"),
        (1.0, -1.0, {}, "above 0"),
        (1.0, float("nan"), {}, "finite"),
        (float("inf"), 1.0, {}, "finite"),
        (1.0, Decimal("1e-99"), {}, "proportion"),
        (1.0, 1.0, {"figures": 3}, "one or two figures"),
        (1.0, 1.0, {"may_understate": Decimal("0.5")}, "understated"),
    ],
)
def test_what_cannot_be_stated_is_refused(value, u, more, says):
    with pytest.raises(CalibrationError, match=says):
        stated(value, u, **more)
