"""Bytes that lay unread: how old they are is unknown, so they make no rest."""

import pytest

from daq.measure.events import AtRest, Captured
from daq.measure.session import Session
from drivers.profiles import load_profile
from simulated_devices import SimulatedGauge
from simulated_devices.motion import Step

HELD_BYTES = 4095
"""What a terminal of Linux holds while nobody reads it."""


def session_after(unread_s, moves_at_s, profile="counts-sum"):
    """A gauge read for 2 s, then not read for a while, then again; what the first read brings."""
    gauge = SimulatedGauge(load_profile(profile), Step(by_mm=1.5, start_s=moves_at_s))
    session = Session(gauge.profile)
    for step in range(100):
        session.receive(gauge.advance(0.02), (step + 1) * 0.02)
    held = gauge.advance(unread_s)[:HELD_BYTES]
    gauge.advance(0.002)
    return gauge, session, session.receive(held, 2.002 + unread_s)


@pytest.mark.parametrize("profile", ["counts-sum", "fixed-fields", "marked-crc"])
@pytest.mark.parametrize("unread_s", [20.0, 60.0])
def test_a_value_from_before_the_plunger_moved_is_not_taken_for_the_present_one(profile, unread_s):
    gauge, session, happened = session_after(unread_s, moves_at_s=18.0, profile=profile)
    assert session.reading.value_mm == 0
    assert not [each for each in happened if isinstance(each, AtRest)]
    refused = session.capture(2.002 + unread_s, "hand")
    assert "moving" in refused.reason
    for step in range(100):
        session.receive(gauge.advance(0.02), 2.002 + unread_s + (step + 1) * 0.02)
    captured = session.capture(4.002 + unread_s, "settled")
    assert isinstance(captured, Captured)
    assert captured.rest.value_mm == pytest.approx(1.5, abs=0.002)


def test_a_moment_without_reading_costs_nothing():
    _, session, _ = session_after(0.4, moves_at_s=50.0)
    assert isinstance(session.capture(2.402, "hand"), Captured)


def test_slow_readings_that_were_all_kept_have_the_times_at_which_they_were_sent():
    _, session, _ = session_after(8.0, moves_at_s=50.0, profile="decimal-line")
    assert isinstance(session.capture(10.002, "hand"), Captured)
