"""What a gauge passes on its way to a point, and when somebody is told to go back."""

from datetime import date
from decimal import Decimal

import pytest

from daq.calibration.plan import prepared
from daq.calibration.plan_file import plan_from_bytes
from daq.calibration.points import Point
from daq.calibration.register_file import register_from_bytes
from daq.calibration.sequence import next_point
from daq.screen.calibration_passing import AGREE, Passing

REGISTER = register_from_bytes(
    b"""
[[standards]]
id = "blocks"
kind = "block set"
what = "Steel blocks"
certificate = "INV-1"
issuer = "Invented laboratory"
expansion = 11.5
u_expansion = 0.6
drift_per_year = "0 mm"
valid_from = 2026-01-01
due = 2028-01-01
values = [
  { nominal = "5 mm", length = "5 mm", expanded_u = "0.1 \xc2\xb5m", k = 2 },
  { nominal = "9 mm", length = "9 mm", expanded_u = "0.1 \xc2\xb5m", k = 2 },
]

[[gauges]]
label = "DI-7"
kind = "indicator"
range = "10 mm"
step = "0.001 mm"
profile = "decimal-line"

[gauges.limits]
source = "invented"
over_range = "0.006 mm"
""",
    "test.toml",
)
PLAN = """
[plan]
title = "Three points"
revision = "1"
range = "10 mm"
points = ["0 mm", "5 mm", "9 mm"]
approach = "{approach}"
directions = "{directions}"

[[repeats]]
at = "5 mm"
times = 2
"""
GAUGE = REGISTER.gauge("DI-7")
COULD_ERR_MM = Decimal("0.030")
"""Five times its permissible error."""


def wanted(place, approach="without reversing", directions="up and down"):
    """The point of this place, all before it taken."""
    text = PLAN.format(approach=approach, directions=directions)
    plan = plan_from_bytes(text.encode(), "plan.toml")
    ready = prepared(plan, REGISTER.standard("blocks"), date(2026, 6, 1))
    stops = plan.stops[: place - 1]
    zero = Decimal(0)
    taken = [
        Point(each.place, each.series, each.nominal_mm, each.direction, each.nominal_mm, zero,
              each.nominal_mm, zero)
        for each in stops
    ]  # fmt: skip
    return next_point(ready, taken)


def goes(passing, point, *values):
    """Let the gauge rest at each value in turn; what was told on the way."""
    told = [passing.read(Decimal(each), point, GAUGE) for each in values for _ in range(AGREE)]
    return [each for each in told if each]


def begun(value="0"):
    passing = Passing()
    passing.begin(Decimal(value))
    return passing


def seen(passing):
    return passing.lowest_mm, passing.highest_mm


def test_the_lowest_and_the_highest_since_the_point_before_are_known():
    passing = begun("0")
    assert goes(passing, wanted(2), "2", "5.002", "5.001") == []
    assert seen(passing) == (Decimal(0), Decimal("5.002"))


def test_a_flicker_of_the_display_is_no_reversal():
    passing = begun("0")
    point = wanted(2)
    goes(passing, point, "5.001")
    passing.read(Decimal("5.009"), point, GAUGE)
    goes(passing, point, "5.001")
    assert seen(passing) == (Decimal(0), Decimal("5.001"))


@pytest.mark.parametrize(("place", "past", "words"), [(2, "5.031", "below"), (5, "4.969", "above")])
def test_past_a_point_further_than_the_gauge_could_err_is_told_once(place, past, words):
    passing = begun("0" if place == 2 else "9")
    (told,) = goes(passing, wanted(place), past, past)
    assert told.startswith(f"It went past 5 mm. Go well {words} it")


def test_less_than_it_could_err_is_not_told():
    assert goes(begun("0"), wanted(2), "5.030") == []


def test_who_was_told_begins_anew_well_short_of_the_point_and_no_nearer():
    passing = begun("0")
    point = wanted(2)
    goes(passing, point, "5.5", "4.971")
    assert passing.highest_mm == Decimal("5.5")
    goes(passing, point, "4.969", "5.001")
    assert seen(passing) == (Decimal("4.969"), Decimal("5.001"))


def test_where_nobody_watched_it_is_known_again_well_short_of_the_point():
    passing = Passing()
    point = wanted(2)
    goes(passing, point, "5.0")
    assert seen(passing) == (None, None)
    goes(passing, point, "4.9", "5.0")
    assert seen(passing) == (Decimal("4.9"), Decimal("5.0"))


def test_at_the_turn_the_hysteresis_is_no_reversal():
    passing = begun("9.000")
    goes(passing, wanted(4), "9.2", "9.003")
    # Come from beyond: what it read on the way up was passed from the other side.
    assert passing.lowest_mm == Decimal("9.003")


def test_a_gauge_that_is_lifted_from_point_to_point_is_told_nothing():
    assert goes(begun("0"), wanted(2, "lifted", "up"), "7") == []


def test_after_it_was_gone_nothing_is_known():
    passing = begun("0")
    goes(passing, wanted(2), "1")
    passing.forget()
    assert seen(passing) == (None, None)
