"""What the screen says: the digits, the headline, and what is hidden when the reading is old."""

import dataclasses
import math
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daq.screen.view import NEWS_FOR_S, STALE_AFTER_S, BenchView, digits_text, headline

from .bench_views import STATES, at_rest, bench_view

MILS = st.integers(-9_999, 9_999).map(lambda mils: str(Decimal(mils) / 1000))


@pytest.mark.parametrize(
    ("deviation", "shown"),
    [
        ("0.080", " +0.080"),
        ("-0.031", " -0.031"),
        ("0", "  0.000"),
        ("-0.0004", "  0.000"),
        ("12.345", "+12.345"),
        ("-123.456", "-123.456"),
    ],
)
def test_the_deviation_in_millimetres_has_its_sign_and_all_its_places(deviation, shown):
    assert digits_text(bench_view(deviation)) == shown


def test_the_deviation_in_inches_is_rounded_once_to_the_inch_step():
    view = bench_view("0.080", unit="in", step_mm=Decimal("0.00254"))

    assert digits_text(view) == "+0.0031"  # 0.080 mm = 0.003149... in


@given(one=MILS, other=MILS)
def test_deviations_of_the_same_places_have_the_same_width(one, other):
    assert len(digits_text(bench_view(one))) == len(digits_text(bench_view(other)))


@pytest.mark.parametrize(
    ("state", "says", "mark"),
    [
        ("moving", "CLOCKWISE 1/8", "↷"),
        ("coming-to-rest", "HOLD STILL", "‖"),
        ("in", "LEAVE IT", "✓"),
        ("low", "ANTICLOCKWISE 1/16", "↶"),
        ("high", "LOWER", "↓"),
        ("too-close-to-call", "TOO CLOSE", "?"),
        ("beyond-scale", "CLOCKWISE 8 7/8", "↷"),
        ("vibrating", "SHAKING", "‖"),
        ("captured", "CAPTURED", "✓"),
        ("refused", "REFUSED", "×"),
        ("doubt", "CHECK GAUGE", "?"),
        ("no-signal", "NO SIGNAL", " "),
        ("cable-out", "CABLE OUT", " "),
    ],
)
def test_each_state_has_its_headline(state, says, mark):
    said = headline(STATES[state])

    assert (said.texts[0], said.mark) == (says, mark)


def test_the_ways_have_marks_that_point_opposite_ways():
    marks = [
        headline(bench_view("0.08", way=way)).mark
        for way in ("clockwise", "anticlockwise", "raise", "lower")
    ]

    assert marks == ["↷", "↶", "↑", "↓"]


def test_a_shorter_headline_never_names_a_larger_turn():
    assert headline(bench_view("1.0", way="anticlockwise", amount="2 3/8")).texts == (
        "ANTICLOCKWISE 2 3/8",
        "ANTICLOCK 2 3/8",
        "ANTICLOCKWISE 2+",
        "ANTICLOCK 2+",
    )


@pytest.mark.parametrize("state", sorted(STATES))
@pytest.mark.parametrize("age_s", [STALE_AFTER_S + 0.001, 3600.0, math.inf, math.nan, -1.0, None])
def test_no_number_and_no_guidance_come_from_an_old_reading(state, age_s):
    view = dataclasses.replace(STATES[state], age_s=age_s, link_state="live")

    assert digits_text(view) is None
    assert headline(view).texts == ("NO SIGNAL",)
    assert headline(view).mark == " "


def test_a_reading_is_shown_until_it_is_stale():
    assert digits_text(bench_view("0.080", age_s=STALE_AFTER_S)) == " +0.080"


@pytest.mark.parametrize("deviation", [None, "NaN", "Infinity", "-Infinity", "1e9"])
def test_what_is_no_length_is_not_shown(deviation):
    view = bench_view(None, deviation_mm=None if deviation is None else Decimal(deviation))

    assert digits_text(view) is None
    assert headline(view).texts == ("NO NUMBER",)


def test_a_capture_is_told_for_a_moment_and_then_no_more():
    told = at_rest("0.002", "in", captured_ago_s=NEWS_FOR_S)
    over = at_rest("0.002", "in", captured_ago_s=NEWS_FOR_S + 0.01)

    assert headline(told).texts == ("CAPTURED",)
    assert headline(over).texts == ("LEAVE IT",)


@pytest.mark.parametrize(
    ("captured_ago_s", "refused_ago_s", "says"), [(0.2, 0.6, "CAPTURED"), (0.6, 0.2, "REFUSED")]
)
def test_the_later_of_a_capture_and_a_refusal_is_told(captured_ago_s, refused_ago_s, says):
    view = bench_view("0.002", captured_ago_s=captured_ago_s, refused_ago_s=refused_ago_s)

    assert headline(view).texts == (says,)


def test_a_pulled_cable_is_told_before_a_capture():
    view = bench_view("0.002", link_state="cable out", captured_ago_s=0.1)

    assert headline(view).texts == ("CABLE OUT",)


def test_within_limits_but_still_moving_is_not_called_done():
    for motion in ("moving", "coming to rest", "vibrating"):
        assert headline(bench_view("0", way="leave it", motion=motion)).mood == "wait"


@pytest.mark.parametrize(
    "fields",
    [
        {"lower_mm": Decimal("NaN")},
        {"upper_mm": Decimal("Infinity")},
        {"lower_mm": Decimal("0.05"), "upper_mm": Decimal("0.05")},
        {"lower_mm": Decimal("0.05"), "upper_mm": Decimal("-0.05")},
        {"nominal_mm": Decimal("1e9")},
        {"step_mm": Decimal(0)},
        {"step_mm": Decimal("NaN")},
    ],
)
def test_a_view_that_makes_no_sense_is_refused(fields):
    with pytest.raises(ValueError, match="mm"):
        BenchView(gauge_label="BENCH 3", **fields)
