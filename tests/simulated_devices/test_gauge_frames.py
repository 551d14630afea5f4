"""What simulated gauges send is what the drivers read, for every built-in profile."""

import pytest

from drivers.profiles import load_profile
from drivers.reading import BadFrame, NoNumber, Status
from simulated_devices import Press, SimulatedGauge
from simulated_devices.motion import Ramp, RingDown, Step, Still, Together
from tests.simulated_devices.gauge_tools import (
    BUILTIN,
    STREAMING,
    events_of,
    gauge_at,
    named,
    next_frame,
    readings,
    statuses,
)

every_profile = pytest.mark.parametrize("profile", BUILTIN, ids=named)
KEYS = ("unit", "battery", "direction", "zero", "hold", "hold", "incremental", "unit", "wake")


def lively(profile):
    """A gauge that swings, climbs and is pressed."""
    motion = Together(
        (
            Still(12.34),
            RingDown(amplitude_mm=2.0, frequency_hz=1.7, damping_ratio=0.02),
            Ramp(by_mm=-30.0, speed_mm_s=1.0, start_s=0.5),
        )
    )
    return SimulatedGauge(profile, motion, noise_mm=0.003, label="07", seed=2)


@every_profile
def test_every_frame_decodes_to_what_the_display_showed(profile):
    gauge = lively(profile)
    frames, showed = [], []
    for count in range(60):
        frames.append(next_frame(gauge))
        showed.append(gauge.shown())
        if count % 6 == 5:
            assert gauge.press(KEYS[count // 6 % len(KEYS)]) == b""
    events = events_of(profile, frames)
    assert not any(isinstance(event, BadFrame) for event in events)
    # Joined in the middle, a stream costs its first frame; the last may wait to be confirmed.
    assert 58 <= len(events) <= 60
    skipped = 60 - len(events) if profile.frame.kind == "line" else 0
    for event, shown in zip(events, showed[skipped:], strict=False):
        assert (event.value, event.unit) == (shown.value, shown.unit)
        assert event.status <= shown.status
        assert event.label in (None, "07")
    assert len({event.value for event in events}) > 20


def test_only_frames_that_are_sent_are_counted():
    """The layout has no word for an error: nothing is sent, and no number is missing."""
    gauge = gauge_at(1.0, "marked-crc")
    frames = [next_frame(gauge) for _ in range(3)]
    gauge.press("error")
    frames += [next_frame(gauge) for _ in range(5)]
    gauge.press("clear")
    frames += [next_frame(gauge) for _ in range(3)]
    sent = readings(events_of(gauge.profile, frames))
    assert [reading.sequence for reading in sent] == [0, 1, 2, 3, 4, 5]


def test_the_count_of_frames_goes_on_through_an_error_display():
    gauge = gauge_at(1.0, "counts-sum")
    frames = [next_frame(gauge) for _ in range(3)]
    gauge.press("error")
    frames += [next_frame(gauge) for _ in range(4)]
    gauge.press("clear")
    frames += [next_frame(gauge) for _ in range(3)]
    sent = readings(events_of(gauge.profile, frames))
    assert [reading.sequence for reading in sent] == [0, 1, 2, 7, 8, 9]


def test_a_gauge_with_a_data_key_sends_one_frame_a_press_and_nothing_else():
    gauge = gauge_at(12.34, "marked-xor", presses=(Press(1.0, "data"), Press(1.5, "data")))
    frame = bytes.fromhex("02 4E 31 32 2E 33 34 20 6D 6D 03 34 37")  # the profile's own sample
    assert gauge.advance(0.9) == b""
    assert gauge.advance(0.2) == frame
    assert gauge.advance(60.0) == frame
    assert gauge.press("data") == frame


@pytest.mark.parametrize("profile", STREAMING, ids=named)
def test_the_data_key_of_a_streaming_gauge_does_nothing(profile):
    assert SimulatedGauge(profile, Still(1.0)).press("data") == b""


@pytest.mark.parametrize("profile", [p for p in BUILTIN if p.request], ids=named)
def test_a_gauge_that_is_asked_answers_each_question_once_and_never_of_itself(profile):
    gauge = SimulatedGauge(profile, Still(12.3456))
    answer = profile.samples[0].wire
    assert gauge.advance(10.0) == b""
    gauge.receive(profile.request)
    assert gauge.advance(0.003) == b""  # it takes a little time
    assert gauge.advance(0.002) == answer
    assert gauge.advance(10.0) == b""
    for at in range(len(profile.request)):
        gauge.receive(profile.request[at : at + 1])
    gauge.receive(profile.request * 2)
    assert gauge.advance(1.0) == 3 * answer


@pytest.mark.parametrize("profile", [p for p in BUILTIN if p.request], ids=named)
def test_a_question_is_found_behind_noise_and_not_in_it(profile):
    gauge = SimulatedGauge(profile, Still(12.3456))
    gauge.receive(b"\xff" * 5000 + profile.request[:-1])
    assert gauge.advance(1.0) == b""
    gauge.receive(profile.request[-1:])
    assert gauge.advance(1.0) == profile.samples[0].wire


def test_a_streaming_gauge_is_deaf():
    gauge, other = gauge_at(1.0), gauge_at(1.0)
    gauge.receive(b"READ?\n")
    assert gauge.advance(2.0) == other.advance(2.0)


@every_profile
def test_an_error_display_is_sent_as_one_or_not_at_all(profile):
    gauge = SimulatedGauge(profile, Still(1.0))
    gauge.press("error")
    frames = [next_frame(gauge) for _ in range(5)]
    events = events_of(profile, frames)
    assert gauge.shown().value is None
    if profile.name == "marked-crc":  # it has words for two other errors and none for this one
        assert frames == [b""] * 5
    else:
        assert len(events) >= 4
        assert all(isinstance(event, NoNumber) for event in events)
        assert {event.status for event in events} == {frozenset({Status.ERROR})}
    gauge.press("clear")
    frames = [next_frame(gauge) for _ in range(5)]
    assert {float(reading.value) for reading in readings(events_of(profile, frames))} == {1.0}


@pytest.mark.parametrize(
    ("name", "says"),
    [
        ("decimal-line", {"error"}),
        ("fixed-fields", {"error"}),
        ("marked-crc", {"overspeed"}),
        ("packed-digits", {"error", "overspeed"}),
        ("counts-sum", {"error", "overspeed"}),
        ("modbus-registers", {"error", "overspeed"}),
        ("numeric-query", {"error"}),
        ("marked-xor", {"error"}),
    ],
)
def test_a_plunger_too_fast_raises_the_error_display_until_it_is_cleared(name, says):
    profile = load_profile(name)
    gauge = SimulatedGauge(profile, Step(by_mm=5.0, start_s=1.95), overspeed_mm_s=20.0)
    gauge.advance(1.9)
    assert gauge.shown().value == 0
    gauge.advance(60.0)
    events = events_of(profile, [next_frame(gauge) for _ in range(4)])
    assert {status.value for event in events for status in event.status} == says
    assert not readings(events)
    gauge.press("clear")
    assert (gauge.shown().value, statuses(gauge)) == (5, set())


@pytest.mark.parametrize(("most_mm_s", "raised"), [(9.9, {"overspeed"}), (10.1, set())])
def test_overspeed_is_told_by_the_speed_of_the_plunger(most_mm_s, raised):
    gauge = SimulatedGauge(
        load_profile("decimal-line"),
        Ramp(by_mm=-20.0, speed_mm_s=10.0, start_s=0.5),
        overspeed_mm_s=most_mm_s,
    )
    gauge.advance(5.0)
    assert statuses(gauge) == raised


def test_a_gauge_that_is_moved_in_its_sleep_wakes_without_an_error():
    gauge = SimulatedGauge(
        load_profile("decimal-line"),
        Step(by_mm=50.0, start_s=2.0),
        overspeed_mm_s=1.0,
        presses=(Press(1.0, "sleep"), Press(3.0, "wake")),
    )
    gauge.advance(5.0)
    assert statuses(gauge) == {"origin-lost"}


@pytest.mark.parametrize(
    ("name", "says"),
    [
        ("decimal-line", {"error"}),
        ("fixed-fields", {"error"}),
        ("marked-crc", {"out-of-range"}),
        ("marked-xor", {"error"}),
        ("packed-digits", {"error"}),
        ("counts-sum", {"error", "out-of-range"}),
        ("numeric-query", {"out-of-range"}),
    ],
)
def test_a_number_too_long_for_the_layout_is_sent_as_an_error_and_not_cut(name, says):
    profile = load_profile(name)
    gauge = SimulatedGauge(profile, Still(54_321.0))
    events = events_of(profile, [next_frame(gauge) for _ in range(4)])
    assert events
    assert not readings(events)
    assert {status.value for event in events for status in event.status} == says


@every_profile
@pytest.mark.parametrize(
    ("keys", "status", "can_say"),
    [
        (
            ("battery",),
            "battery-low",
            "counts-sum fixed-fields marked-crc marked-xor modbus-registers packed-digits",
        ),
        (("sleep", "wake"), "origin-lost", "fixed-fields"),
        (("hold",), "held", "fixed-fields"),
        (("incremental",), "incremental", "marked-crc marked-xor"),
    ],
)
def test_a_status_that_the_layout_cannot_say_is_left_out_and_the_number_is_not(
    profile, keys, status, can_say
):
    gauge = SimulatedGauge(profile, Still(0.0))
    for key in keys:
        gauge.press(key)
    read = readings(events_of(profile, [next_frame(gauge) for _ in range(5)]))
    assert {float(reading.value) for reading in read} == {0.0}
    said = {each.value for reading in read for each in reading.status}
    assert said == ({status} if profile.name in can_say.split() else set())
