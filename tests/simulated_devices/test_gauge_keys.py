"""What each key does to the display, digit for digit."""

from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drivers.profiles import load_profile
from drivers.reading import Unit
from simulated_devices import Press, SimulatedGauge
from simulated_devices.motion import Step, Still, Together
from tests.simulated_devices.gauge_tools import (
    BUILTIN,
    gauge_at,
    movable,
    named,
    statuses,
    text,
)

TWO_UNITS = [p for p in BUILTIN if len(p.resolution) == 2]
ONE_UNIT = [p for p in BUILTIN if len(p.resolution) == 1]


@pytest.mark.parametrize(
    ("at_mm", "shows"),
    [
        (12.345, "12.345 mm"),
        (-0.0004, "0.000 mm"),  # never a minus before nothing
        (-0.0006, "-0.001 mm"),
        (12.3, "12.300 mm"),  # the last digit of the step is always there
        (2.0001, "2.000 mm"),
        (2.0009, "2.001 mm"),
    ],
)
def test_the_display_shows_the_nearest_step(at_mm, shows):
    assert text(gauge_at(at_mm)) == shows


@pytest.mark.parametrize(("at_mm", "shows"), [(0.5, "0"), (1.5, "2"), (2.5, "2"), (-3.5, "-4")])
def test_halfway_between_two_steps_the_even_one_is_shown(at_mm, shows):
    profile = load_profile("decimal-line").model_copy(update={"resolution": {Unit.MM: Decimal(1)}})
    assert text(SimulatedGauge(profile, Still(at_mm))) == f"{shows} mm"


def test_the_unit_key_shows_the_same_length_in_the_other_unit_and_back():
    """12.345 mm / 25.4 = 0.486023… in; the nearest step of 0.00005 in is 0.48600 in."""
    gauge = gauge_at(12.345)
    gauge.press("unit")
    assert text(gauge) == "0.48600 in"
    gauge.press("unit")
    assert text(gauge) == "12.345 mm"


@pytest.mark.parametrize("profile", TWO_UNITS, ids=named)
@settings(max_examples=25, derandomize=True, deadline=None)
@given(at_mm=st.floats(-90, 90))
def test_both_units_show_one_length_to_half_a_step_each(profile, at_mm):
    gauge = SimulatedGauge(profile, Still(at_mm))
    for unit in (Unit.MM, Unit.INCH):
        shown, step = gauge.shown(), profile.resolution[unit]
        assert shown.unit is unit
        assert shown.value % step == 0
        assert shown.value.as_tuple().exponent == step.as_tuple().exponent
        off_mm = abs(float(shown.value * unit.in_mm) - at_mm)
        assert off_mm <= float(step * unit.in_mm) / 2 + 1e-12
        gauge.press("unit")


@pytest.mark.parametrize("profile", ONE_UNIT, ids=named)
def test_the_unit_key_of_a_gauge_with_one_unit_does_nothing(profile):
    gauge = SimulatedGauge(profile, Still(3.25))
    before = gauge.shown()
    assert gauge.press("unit") == b""
    assert gauge.shown() == before


OPERATIONS = st.one_of(
    st.tuples(st.just("move"), st.integers(-40_000, 40_000)),
    st.tuples(st.just("preset"), st.integers(-40_000, 40_000)),
    st.tuples(st.sampled_from(["zero", "direction", "incremental"]), st.just(0)),
)


@settings(max_examples=150, derandomize=True, deadline=None)
@given(operations=st.lists(OPERATIONS, max_size=14))
def test_zero_preset_direction_and_incremental_are_exact_in_any_order(operations):
    """Against whole steps of a micrometre, added and subtracted."""
    gauge = movable()
    place, sign, origins, second = 0, 1, [0, 0], 0
    for name, steps in operations:
        match name:
            case "move":
                place += steps
                gauge.hand.moved_mm = place / 1000
                gauge.advance(0.1)
            case "preset" | "zero":
                origins[second] = place - sign * steps
                gauge.press(name, steps / 1000)
            case "direction":
                sign = -sign
                gauge.press("direction")
            case "incremental":
                second = 1 - second
                origins[1] = place
                gauge.press("incremental")
        due = Decimal(sign * (place - origins[second])) / 1000
        assert gauge.shown().value == due
        assert statuses(gauge) == ({"incremental"} if second else set())


def test_zero_shows_nothing_but_zeros_even_if_the_reading_is_noisy():
    """The noise of that moment is in the zero from then on, as in a real gauge."""
    gauge = gauge_at(12.3, noise_mm=0.05, seed=4)
    gauge.advance(1.0)
    before = gauge.shown().value
    gauge.press("zero")
    assert gauge.shown().value == 0
    assert before != Decimal("12.300")


def test_a_preset_can_be_pressed_on_the_way():
    gauge = gauge_at(3.0, presses=(Press(1.0, "preset", 76.2), Press(2.0, "zero")))
    shows = []
    for _ in range(3):
        gauge.advance(0.95)
        shows.append(text(gauge))
    assert shows == ["3.000 mm", "76.200 mm", "0.000 mm"]


def test_presses_come_in_the_order_of_their_times_not_of_their_list():
    gauge = gauge_at(3.0, presses=(Press(0.8, "zero"), Press(0.2, "preset", 50.0)))
    gauge.advance(0.5)
    assert text(gauge) == "50.000 mm"
    gauge.advance(0.5)
    assert text(gauge) == "0.000 mm"


def test_hold_freezes_the_display_until_it_is_pressed_again():
    gauge = movable()
    gauge.hand.moved_mm = 1.25
    gauge.press("hold")
    gauge.hand.moved_mm = 7.0
    gauge.advance(1.0)
    assert (text(gauge), statuses(gauge)) == ("1.250 mm", {"held"})
    gauge.press("hold")
    assert (text(gauge), statuses(gauge)) == ("7.000 mm", set())


def test_a_held_display_that_changes_its_unit_is_still_held():
    gauge = movable()
    gauge.hand.moved_mm = 25.4
    gauge.press("hold")
    gauge.hand.moved_mm = 3.0
    gauge.press("unit")
    assert (text(gauge), statuses(gauge)) == ("1.00000 in", {"held"})
    gauge.press("hold")
    gauge.press("unit")
    assert (text(gauge), statuses(gauge)) == ("3.000 mm", set())


@pytest.mark.parametrize("profile", BUILTIN, ids=named)
def test_a_gauge_that_sleeps_sends_nothing_whatever_is_done(profile):
    gauge = SimulatedGauge(profile, Still(3.0), presses=(Press(30.0, "data"),))
    gauge.press("sleep")
    gauge.receive(profile.request or b"")
    assert gauge.advance(60.0) == b""
    assert gauge.press("data") == b""
    assert gauge.shown().value is None


def test_a_question_that_reached_a_gauge_just_before_it_fell_asleep_is_not_answered():
    gauge = gauge_at(3.0, "numeric-query", presses=(Press(1.001, "sleep"),))
    gauge.advance(1.0)
    gauge.receive(b"READ?\n")
    assert gauge.advance(1.0) == b""


def test_keys_pressed_while_it_sleeps_have_no_effect():
    gauge = movable()
    gauge.hand.moved_mm = 2.0
    gauge.press("sleep")
    for key in ("unit", "direction", "hold", "incremental"):
        gauge.press(key)
    gauge.press("wake")
    gauge.hand.moved_mm = 5.0
    assert (text(gauge), statuses(gauge)) == ("3.000 mm", {"origin-lost"})


def test_a_gauge_wakes_with_its_origin_where_the_plunger_is_and_says_so():
    gauge = SimulatedGauge(
        load_profile("fixed-fields"),
        Together((Still(8.8), Step(by_mm=-0.7, start_s=2.0), Step(by_mm=0.25, start_s=4.0))),
        presses=(Press(1.0, "sleep"), Press(3.0, "wake")),
    )
    gauge.advance(0.5)
    assert text(gauge) == "8.8000 mm"
    gauge.advance(3.0)
    assert (text(gauge), statuses(gauge)) == ("0.0000 mm", {"origin-lost"})
    gauge.advance(1.0)
    assert text(gauge) == "0.2500 mm"


def test_a_new_zero_ends_the_loss_of_the_origin_but_a_second_zero_does_not():
    gauge = gauge_at(3.0)
    gauge.press("sleep")
    gauge.press("wake")
    gauge.press("incremental")
    gauge.press("zero")
    assert statuses(gauge) == {"origin-lost", "incremental"}
    gauge.press("incremental")
    gauge.press("preset", 76.2)
    assert (text(gauge), statuses(gauge)) == ("76.200 mm", set())


def test_waking_a_gauge_that_is_awake_does_nothing():
    gauge = gauge_at(3.0)
    gauge.press("wake")
    assert (text(gauge), statuses(gauge)) == ("3.000 mm", set())


def test_waking_ends_a_hold_and_the_second_zero():
    gauge = movable()
    for key in ("incremental", "hold", "sleep", "wake"):
        gauge.press(key)
    gauge.hand.moved_mm = 1.0
    assert (text(gauge), statuses(gauge)) == ("1.000 mm", {"origin-lost"})
