"""Motions one after the other, and a plunger that is pushed."""

import pytest

from simulated_devices.motion import InTurn, Ramp, RingDown, Step, Still, Together
from tests.simulated_devices.gauge_tools import gauge_at, text


def test_each_motion_begins_where_the_one_before_it_ended():
    climb = Ramp(by_mm=4.0, speed_mm_s=1.0)
    turns = InTurn(((Still(10.0), 1.0), (climb, 2.0), (Step(by_mm=0.5, start_s=1.0), 0.1)))
    seen_mm = [turns.at(t_s) for t_s in (0.0, 0.999, 1.5, 3.0, 3.999, 4.0, 1e6)]
    assert seen_mm == pytest.approx([10.0, 10.0, 10.5, 12.0, 12.0, 12.5, 12.5])


def test_the_last_motion_goes_on_for_ever_whatever_time_it_has():
    climb = Ramp(by_mm=100.0, speed_mm_s=1.0)
    assert InTurn(((climb, 0.0),)).at(50.0) == 50.0


def test_motions_in_turn_add_up_with_others_and_nothing_in_turn_is_still():
    knock = RingDown(amplitude_mm=0.2, frequency_hz=3.0, damping_ratio=0.1)
    turns = InTurn(((Still(1.0), 2.0), (knock, 9.0)))
    assert Together((turns, Still(5.0))).at(2.0) == pytest.approx(6.2)
    assert InTurn(()).at(3.0) == 0.0


def test_a_plunger_that_is_pushed_stays_there_and_its_motion_goes_on():
    gauge = gauge_at(12.345)
    gauge.move_to(-3.5)
    assert text(gauge) == "-3.500 mm"
    gauge.press("zero")
    gauge.move_to(-3.0)
    gauge.move_to(-2.75)
    assert text(gauge) == "0.750 mm"


@pytest.mark.parametrize("name", ["numeric-query", "modbus-registers"])
def test_a_gauge_that_is_asked_too_much_at_once_answers_a_few_times_and_is_not_stuck(name):
    gauge = gauge_at(1.0, name)
    answer = len(gauge.profile.encode(gauge.shown()))
    gauge.receive(gauge.profile.request * 1000)
    assert len(gauge.advance(1.0)) == 8 * answer
    gauge.receive(gauge.profile.request)
    assert len(gauge.advance(1.0)) == answer
