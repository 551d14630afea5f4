"""A simulated gauge shows, sends and forgets as a real one does, the same for the same seed."""

from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drivers.decoder import Decoder
from drivers.profiles import builtin_profiles, load_profile
from drivers.reading import BadFrame, NoNumber, Reading, Status, Unit
from simulated_devices import Hand, Press, SimulatedGauge
from simulated_devices.motion import Approach, Ramp, Step, Still, Together

PRESSES = (Press(0.7, "unit"), Press(1.3, "zero"), Press(1.3, "unit"), Press(2.1, "data"))


def busy(profile, seed=5):
    """A gauge with everything that could depend on how time is cut."""
    return SimulatedGauge(
        load_profile(profile),
        Together((Still(3.0), Approach(by_mm=1.0, tau_s=0.4))),
        hand=Hand(4.2, 1.0, look_s=0.3, seed=seed),
        noise_mm=0.002,
        presses=PRESSES,
        seed=seed,
    )


def events_of(gauge, seconds, ask=False):
    """What a decoder makes of the gauge's bytes, ten pieces a second."""
    decoder, events = Decoder(gauge.profile), []
    for tenth in range(round(seconds * 10)):
        if ask:
            gauge.receive(gauge.profile.request)
        events += decoder.receive(gauge.advance(0.1), 1.0 + tenth / 10)
    return events


def values(events):
    return [str(event.value) for event in events if isinstance(event, Reading)]


@pytest.mark.parametrize("profile", ["decimal-line", "fixed-fields", "counts-sum"])
def test_the_same_seed_gives_the_same_bytes_and_another_gives_others(profile):
    assert busy(profile).advance(3.0) == busy(profile).advance(3.0)
    assert busy(profile).advance(3.0) != busy(profile, seed=6).advance(3.0)


@settings(max_examples=40, deadline=None)
@given(st.lists(st.integers(1, 400), min_size=1, max_size=40))
def test_many_small_steps_send_the_same_bytes_as_one_big_one(milliseconds):
    whole, cut = busy("fixed-fields"), busy("fixed-fields")
    in_steps = b"".join(cut.advance(step / 1000) for step in milliseconds)
    assert in_steps == whole.advance(sum(milliseconds) / 1000)


@pytest.mark.parametrize("profile", builtin_profiles(), ids=lambda p: p.name)
def test_every_profile_s_gauge_is_read_without_a_bad_frame(profile):
    presses = tuple(Press(0.5 * n + 0.25, "data") for n in range(10))
    gauge = SimulatedGauge(profile, Still(12.34), presses=presses)
    events = events_of(gauge, 5.0, ask=profile.request is not None)
    assert not [event for event in events if isinstance(event, BadFrame)]
    assert {event.value_mm for event in events} == {Decimal("12.34")}


def test_the_display_is_rounded_to_its_step_in_either_unit():
    gauge = SimulatedGauge(load_profile("decimal-line"), Still(12.3447))
    assert str(gauge.shown().value) == "12.345"
    gauge.press("unit")
    shown = gauge.shown()
    assert (str(shown.value), shown.unit) == ("0.48600", Unit.INCH)


def test_a_gauge_with_one_unit_has_no_unit_key():
    gauge = SimulatedGauge(load_profile("counts-sum"), Still(1.0))
    gauge.press("unit")
    assert gauge.shown().unit is Unit.MM


def test_zero_preset_and_direction_are_exact():
    gauge = SimulatedGauge(load_profile("decimal-line"), Step(by_mm=0.125, start_s=1.0))
    gauge.press("zero")
    assert gauge.shown().value == 0
    gauge.advance(1.5)
    assert str(gauge.shown().value) == "0.125"
    gauge.press("direction")
    assert str(gauge.shown().value) == "-0.125"
    gauge.preset(76.2)
    assert str(gauge.shown().value) == "76.200"


def test_a_sleeping_gauge_sends_nothing_and_wakes_with_another_origin():
    gauge = SimulatedGauge(
        load_profile("fixed-fields"),
        Together((Still(8.8), Step(by_mm=-0.7, start_s=2.0))),
        presses=(Press(1.0, "sleep"), Press(3.0, "wake")),
    )
    assert set(values(events_of(gauge, 0.9))) == {"8.8000"}
    gauge.advance(0.2)
    assert gauge.advance(1.8) == b""
    woken = [e for e in events_of(gauge, 1.5) if isinstance(e, Reading)]
    assert {str(e.value) for e in woken} == {"0.0000"}
    assert all(Status.ORIGIN_LOST in e.status for e in woken)


def test_a_plunger_faster_than_it_can_count_raises_the_error_display():
    gauge = SimulatedGauge(
        load_profile("marked-crc"), Ramp(by_mm=5.0, speed_mm_s=10.0, start_s=1.0), overspeed_mm_s=2
    )
    events = events_of(gauge, 3.0)
    lost = [e for e in events if isinstance(e, NoNumber)]
    assert values(events)[0] == "0.0000"
    assert {status for event in lost for status in event.status} == {Status.OVERSPEED}
    assert isinstance(events[-1], NoNumber)


def test_a_low_battery_is_told_by_layouts_that_can_and_left_out_by_others():
    for profile, expected in (("fixed-fields", {Status.BATTERY_LOW}), ("decimal-line", set())):
        gauge = SimulatedGauge(load_profile(profile), Still(1.0), presses=(Press(0.0, "battery"),))
        assert events_of(gauge, 1.0)[-1].status == expected


def test_a_number_too_long_for_the_layout_is_no_exception():
    gauge = SimulatedGauge(load_profile("packed-digits"), Still(99_999.0))
    assert values(events_of(gauge, 2.0)) == []


def test_a_key_sent_gauge_sends_for_each_press_and_a_polled_one_for_each_question():
    keyed = SimulatedGauge(load_profile("marked-xor"), Still(1.0))
    assert keyed.advance(5.0) == b""
    assert keyed.press("data") == load_profile("marked-xor").encode(keyed.shown())
    polled = SimulatedGauge(load_profile("modbus-registers"), Still(1.0))
    assert polled.advance(1.0) == b""
    request = polled.profile.request
    for byte in request * 3:
        polled.receive(bytes([byte]))
    assert len(polled.advance(0.1)) == 3 * len(polled.profile.samples[0].wire)


def test_a_held_display_stands_still_and_says_so():
    gauge = SimulatedGauge(load_profile("fixed-fields"), Ramp(by_mm=5.0, speed_mm_s=1.0))
    gauge.advance(1.0)
    gauge.press("hold")
    events = events_of(gauge, 1.0)
    assert len(set(values(events))) == 1
    assert all(Status.HELD in event.status for event in events)
