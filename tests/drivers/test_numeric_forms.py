"""IEEE 488.2 numbers: the published examples, what is refused, and the two special values."""

from decimal import Decimal

import pytest

from drivers.errors import FrameError
from drivers.layouts import NumericLayout
from drivers.reading import Shown, Status, Unit


def layout(form: str, step: str, **more: object) -> NumericLayout:
    return NumericLayout(kind="numeric", form=form, unit="mm", step=step, **more)


# Forms and examples: IEEE 488.2-1992, 8.7.2 (NR1), 8.7.3 (NR2), 8.7.4 (NR3). Exponents so large
# that no gauge could mean them are scaled by ``worth``, which leaves the characters as they are.
ACCEPTED = [
    ("146", layout("NR1", "1", sign="minus only"), "146"),
    ("+146", layout("NR1", "1"), "146"),
    ("-12345", layout("NR1", "0.01", worth="0.01"), "-123.45"),
    ("12.3", layout("NR2", "0.1", sign="minus only"), "12.3"),
    ("+1.2345", layout("NR2", "0.0001"), "1.2345"),
    ("-0.123", layout("NR2", "0.001"), "-0.123"),
    ("4.3E-3", layout("NR3", "0.0001", sign="minus only"), "0.0043"),
    ("-8.9456E8", layout("NR3", "0.01", worth="0.000001", exponent_sign="minus only"), "-894.56"),
    ("123E-5", layout("NR3", "0.00001", sign="minus only", whole=3, decimals=0), "0.00123"),
]


@pytest.mark.parametrize(("text", "numbers", "value"), ACCEPTED, ids=lambda each: str(each)[:12])
def test_a_published_example_is_read_and_written_alike(text, numbers, value):
    found = numbers.decode(text.encode("ascii"))
    assert str(found.value) == value
    assert numbers.encode(found) == text.encode("ascii")


NR1, NR2, NR3 = layout("NR1", "1"), layout("NR2", "0.1"), layout("NR3", "0.1")
PLAIN_NR2 = layout("NR2", "0.1", sign="minus only")


@pytest.mark.parametrize(
    ("text", "numbers"),
    [
        ("12.", PLAIN_NR2),
        ("+12.", NR2),
        (".5", PLAIN_NR2),
        ("+.5", NR2),
        ("5.", PLAIN_NR2),
        ("+1.0e5", NR3),
        ("+1e2", NR3),
        ("+ 12.3", NR2),
        ("+12 .3", NR2),
        (" +12.3", NR2),
        ("+12.3 ", NR2),
        ("", NR2),
        ("+", NR1),
        ("--1", NR1),
        ("+12.3", NR1),
        ("+12", NR2),
        ("+1.2E+1", NR2),
        ("+12.3", NR3),
        ("+1.2E", NR3),
        ("+1.2E+", NR3),
        ("+12,3", NR2),
        ("NAN", NR2),
        ("INF", NR2),
        ("+012.3", NR2),
        ("+1.20E+1", NR3),
        ("+12.0E+0", NR3),
        ("12.3", NR2),
        ("+12.3", PLAIN_NR2),
        ("+12.34", NR2),
        ("+1_2.3", NR2),
        ("+١٢.٣", NR2),
    ],
)
def test_what_is_no_number_of_the_form_is_refused(text, numbers):
    with pytest.raises(FrameError):
        numbers.decode(text.encode("utf-8"))


@pytest.mark.parametrize("form", ["NR1", "NR2", "NR3"])
@pytest.mark.parametrize(
    ("text", "status"),
    [
        ("9.91E37", Status.ERROR),
        ("+9.91E+37", Status.ERROR),
        ("+9.91000000E+37", Status.ERROR),
        ("9.9E37", Status.OUT_OF_RANGE),
        ("-9.9E37", Status.OUT_OF_RANGE),
        ("+9.90000000E+37", Status.OUT_OF_RANGE),
    ],
)
def test_the_reserved_numbers_are_no_numbers_in_any_spelling(form, text, status):
    """9.91E37 and 9.9E37: SCPI-99, volume 1, 7.2.1 (from memory)."""
    found = layout(form, "1").decode(text.encode("ascii"))
    assert found == Shown(None, Unit.MM, frozenset({status}))


def test_the_same_digits_in_metres_and_in_millimetres():
    metres = layout("NR3", "0.0001", worth="1000", decimals=8, exponent_digits=2)
    assert metres.decode(b"+1.23456000E-02").value == Decimal("12.3456")
    millimetres = layout("NR2", "0.0001", decimals=4)
    assert millimetres.decode(b"+12.3456").value == Decimal("12.3456")


def test_trailing_zeros_of_the_display_are_kept():
    """12.3 on a display of hundredths is 12.30: the last place is the gauge's resolution."""
    assert str(layout("NR2", "0.01").decode(b"+12.3").value) == "12.30"


def test_zero_keeps_its_sign_and_its_digits():
    metres = layout("NR3", "0.0001", worth="1000", decimals=8)
    assert str(metres.decode(b"-0.00000000E+0").value) == "-0.0000"
    assert str(metres.decode(b"+0.00000000E+0").value) == "0.0000"


@pytest.mark.parametrize("text", [b"+1.23450000E+2", b"+1.23456000E+9", b"+9.99999999E+9"])
def test_a_length_that_no_gauge_measures_is_refused(text):
    """E-2 that lost its minus would be a hundred and twenty-three metres."""
    metres = layout("NR3", "0.0001", worth="1000", decimals=8)
    with pytest.raises(FrameError, match="beyond any length"):
        metres.decode(text)


def test_a_number_that_lost_a_digit_is_refused_where_the_number_of_digits_is_known():
    fixed = layout("NR2", "0.001", whole=3, decimals=3)
    whole = b"+012.345"
    assert fixed.decode(whole).value == Decimal("12.345")
    for at in range(len(whole)):
        with pytest.raises(FrameError):
            fixed.decode(whole[:at] + whole[at + 1 :])


@pytest.mark.parametrize("value", ["12.3456", "1E+30", "NaN", "Infinity", "10000.1", "1E-30"])
def test_what_the_form_cannot_hold_is_not_sent(value):
    with pytest.raises(FrameError):
        layout("NR2", "0.001", decimals=3).encode(Shown(Decimal(value)))
