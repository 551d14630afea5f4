"""Lengths at the door: text to exact millimetres and back."""

import subprocess
import sys
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daq.spec import SpecError, digits_in, exact_mm, length_mm, shown_in, unit_of
from daq.spec.units import _ratio_by_pint


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        ("12.7 mm", "12.7"),
        ("76.20 mm", "76.20"),
        ("12.7mm", "12.7"),
        ("  12.7   mm ", "12.7"),
        (".5 in", "12.7"),
        ("0.5 inch", "12.7"),
        ("3 inches", "76.2"),
        ('0.5"', "12.7"),
        ("1/2 in", "12.7"),
        ("1 1/2 in", "38.1"),
        ("3/32 in", "2.38125"),
        ("25 um", "0.025"),
        ("25 µm", "0.025"),  # the micro sign
        ("25 μm", "0.025"),  # the Greek letter
        ("25 microns", "0.025"),
        ("2.5 cm", "25"),
        ("0.0762 m", "76.2"),
        ("1 nm", "0.000001"),
        ("1 millimetre", "1"),
        ("2 thou", "0.0508"),
        ("50 uin", "0.00127"),
        ("+12.7 mm", "12.7"),
        ("0 mm", "0"),
    ],
)
def test_a_length_with_its_unit_is_taken_exactly(text, mm):
    assert length_mm(text) == Decimal(mm)


def test_half_a_thousandth_of_an_inch_is_exact():
    """1 in = 25.4 mm exactly (UCUM [in_i]; NIST SP 811, B.6), so 0.0005 in is 12.7 µm."""
    assert length_mm("0.0005 in") == Decimal("0.01270")
    assert str(length_mm("0.0005 in")) == "0.0127"


def test_the_last_place_written_is_kept():
    assert str(length_mm("76.20 mm")) == "76.20"
    assert str(length_mm("76.200 mm")) == "76.200"


@pytest.mark.parametrize(
    ("text", "advice"),
    [
        ("12.7", "has no unit; write 12.7 mm or 12.7 in"),
        ("0,15 mm", "use a point: 0.15 mm"),
        ("0,15", "use a point: 0.15"),
        ("1,000 mm", "use a point: 1.000 mm, or 1000 mm if the comma marks thousands"),
        ("1,000.5 mm", "use a point for decimals and no mark for thousands"),
        ("nan mm", "not a finite length"),
        ("-NaN mm", "not a finite length"),
        ("inf in", "not a finite length"),
        ("Infinity mm", "not a finite length"),
        ("2 mm + 3 in", "not a length such as"),
        ("2 * 3 mm", "not a length such as"),
        ("3 mm**2", "not a length such as"),
        ("3 mm²", "not a length such as"),
        ("mm", "not a length such as"),
        ("", "not a length such as"),
        ("__import__('os') mm", "not a length such as"),
        ("1e-3 mm", "not a length such as"),
        ("1_000 mm", "not a length such as"),
        ("0x10 mm", "not a length such as"),
        ("5. mm", "not a length such as"),
        ("٣ mm", "not a length such as"),
        ("12.7 mm in", "not a length such as"),
        ("1-1/2 in", "not a length such as"),
        ("1/3 in", "not a fraction on an inch rule"),
        ("3/2 in", "not a fraction on an inch rule"),
        ("0/2 in", "not a fraction on an inch rule"),
        ("1/2 mm", "fractions are for inches"),
        ("5 kg", "not a unit of length used here"),
        ("5 s", "not a unit of length used here"),
        ("5 min", "not a unit of length used here"),  # a minute, and nearly a milli-inch
        ("5 parsec", "not a unit of length used here"),
        ("5 cin", "not a unit of length used here"),
        ("5 nonsense", "the units are mm, cm, m, µm (um), nm, in, thou"),
        ("5 MM", "write mm, in small letters"),
        ("5 mil", "write thou or mm"),
        ("-1 mm", "below zero"),
        ("200 m", "longer than 100 m"),
        ("1234567 nm", "too many digits"),
        ("0.1234567890123 mm", "too many digits"),
    ],
)
def test_what_is_no_length_is_refused_with_advice(text, advice):
    with pytest.raises(SpecError) as refusal:
        length_mm(text)
    assert advice in str(refusal.value)


@pytest.mark.parametrize("number", [12.7, 12, Decimal("12.7"), None, True])
def test_a_number_without_a_unit_is_refused_whatever_its_type(number):
    with pytest.raises(SpecError, match="has no unit"):
        length_mm(number)


def test_a_deviation_may_be_negative():
    assert length_mm("-0.01 mm", signed=True) == Decimal("-0.01")
    assert length_mm("− 0.01 mm", signed=True) == Decimal("-0.01")  # a printed minus sign


@pytest.mark.parametrize(
    ("text", "unit"), [("1 mm", "mm"), ("1 um", "mm"), ("1 in", "in"), ("1 thou", "in")]
)
def test_someone_who_writes_inches_thinks_in_inches(text, unit):
    assert unit_of(text) == unit


def test_the_two_ratios_kept_here_are_those_of_the_unit_library():
    assert _ratio_by_pint("mm") == 1
    assert _ratio_by_pint("in") == Fraction(127, 5)


@given(st.integers(0, 8).flatmap(lambda places: st.decimals(0, 3000, places=places)))
def test_millimetres_and_inches_agree_exactly(number):
    in_mm, in_inches = length_mm(f"{number:f} mm"), length_mm(f"{number:f} in")
    assert in_mm == number
    assert in_inches == number * Decimal("25.4")
    assert length_mm(f"{in_inches:f} mm") == in_inches


def test_importing_the_room_loads_neither_pint_nor_numpy():
    """And a specification in plain mm and inches does not either: the start must be quick."""
    code = (
        "import sys, daq.spec as s; s.length_mm('0.5 in'); s.length_mm('5 mm'); "
        "print([m for m in ('pint', 'numpy') if m in sys.modules]); "
        "s.length_mm('5 um'); print('pint' in sys.modules)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, timeout=30, check=True
    )
    assert done.stdout.split("\n")[:2] == ["[]", "True"]


@pytest.mark.parametrize(
    ("x", "step", "shown"),
    [
        ("12.223", "0.1", "12.2"),
        ("12.251", "0.1", "12.3"),
        ("12.275", "0.1", "12.3"),
        ("12.254", "0.1", "12.3"),  # in two steps, by way of 12.25, it would be 12.2
        ("12.25", "0.1", "12.2"),
        ("12.35", "0.1", "12.4"),
        ("-12.25", "0.1", "-12.2"),
        ("122.23", "10", "120"),
        ("122.51", "10", "120"),
        ("122.75", "10", "120"),
        ("1225.0", "10", "1220"),
        ("1235.0", "10", "1240"),
    ],
)
def test_rounding_is_rule_a_in_one_step(x, step, shown):
    """ISO 80000-1:2009, Annex B, examples of rule A (a tie goes to the even multiple).

    The examples are from memory, recomputed with decimal arithmetic; 12.254 and -12.25 were added.
    """
    assert digits_in(Decimal(x), "mm", Decimal(step), sign=False) == shown


@pytest.mark.parametrize(
    ("x", "places", "shown"),
    [(12.35, "0.1", "12.4"), (2.55, "0.1", "2.6"), (2.675, "0.01", "2.68")],
)
def test_a_binary_float_rounds_as_its_digits_say(x, places, shown):
    """round() of the same float gives 12.3, 2.5 and 2.67, because of its binary dust."""
    assert digits_in(x, "mm", Decimal(places), sign=False) == shown


@pytest.mark.parametrize(
    ("value_mm", "unit", "step_mm", "shown"),
    [
        ("0.08", "mm", "0.001", "+0.080 mm"),
        ("-0.08", "mm", "0.01", "-0.08 mm"),
        ("0", "mm", "0.001", "0.000 mm"),
        ("-0.0004", "mm", "0.001", "0.000 mm"),
        ("0.0005", "mm", "0.001", "0.000 mm"),
        ("0.0015", "mm", "0.001", "+0.002 mm"),
        ("0.012", "mm", "0.005", "+0.010 mm"),
        ("12.7", "in", "0.0127", "+0.5000 in"),
        ("-0.0127", "in", "0.0127", "-0.0005 in"),
        ("-0.00635", "in", "0.0127", "0.0000 in"),  # half a step: to the even multiple, zero
        ("0.08", "in", "0.01", "+0.0030 in"),  # a step of 0.01 mm shows as 0.0005 in
        ("0.0127", "in", "0.00635", "+0.00050 in"),  # a quarter of a thou is a step of its own
        ("0.01905", "in", "0.00635", "+0.00075 in"),
        ("0.08", "in", "0.001", "+0.00315 in"),  # and one of 0.001 mm as 0.00005 in
    ],
)
def test_a_deviation_is_shown_with_its_sign_and_the_places_of_the_step(
    value_mm, unit, step_mm, shown
):
    assert shown_in(Decimal(value_mm), unit, Decimal(step_mm)) == shown


def test_a_length_can_be_shown_without_a_plus():
    assert shown_in(Decimal("76.2"), "mm", Decimal("0.01"), sign=False) == "76.20 mm"


@pytest.mark.parametrize("step", ["0", "-0.01", "NaN"])
def test_a_step_that_is_none_is_refused(step):
    with pytest.raises(SpecError, match="display step"):
        shown_in(Decimal(1), "mm", Decimal(step))


@given(
    st.decimals("-1000", "1000", places=7),
    st.sampled_from(["0.01", "0.001", "0.0127", "0.005", "0.0254"]),
    st.sampled_from(["mm", "in"]),
)
def test_what_is_shown_is_never_more_than_half_a_step_off(value_mm, step, unit):
    digits, in_mm = digits_in(value_mm, unit, Decimal(step)), Decimal(1 if unit == "mm" else "25.4")
    step_shown_mm = Decimal(step)
    if unit == "in":
        step_shown_mm = {
            "0.01": "0.0127",  # 0.0005 in
            "0.001": "0.00127",  # 0.00005 in
            "0.0127": "0.0127",  # 0.0005 in
            "0.005": "0.00508",  # 0.0002 in
            "0.0254": "0.0254",  # 0.001 in
        }[step]
    assert abs(Decimal(digits) * in_mm - value_mm) <= Decimal(step_shown_mm) / 2
    assert digits == digits.lstrip("+-") or Decimal(digits) != 0


def test_a_computed_mean_loses_its_binary_dust():
    assert exact_mm(76.22) == Decimal("76.22")
    assert exact_mm(0.1 + 0.2) == Decimal("0.3")
    assert str(exact_mm(100.0)) == "100"
    assert exact_mm(76.2200000049) == Decimal("76.220000005")


def test_a_decimal_is_taken_as_it_is():
    assert str(exact_mm(Decimal("76.2200"))) == "76.2200"
    assert exact_mm(Decimal("0.0000000000004")) == Decimal("0.0000000000004")


@pytest.mark.parametrize(
    "value",
    [
        float("nan"),
        float("inf"),
        float("-inf"),
        Decimal("NaN"),
        Decimal("sNaN"),
        Decimal("Infinity"),
        1e300,
        Decimal("100000.01"),
        Decimal("1e-999999"),
    ],
)
def test_a_value_that_is_no_length_is_refused(value):
    with pytest.raises(SpecError):
        exact_mm(value)
