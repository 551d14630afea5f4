"""Every layout writes and reads its own frames, digit for digit, whatever its parameters are."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.errors import FrameError
from drivers.reading import Shown, Status, Unit
from tests.drivers.layout_tools import PROFILES, shown_values
from tests.drivers.wire_tools import (
    LOOKS,
    as_said,
    bytewise,
    choppings,
    dirty_streams,
    readings,
    receive_all,
    shown_by,
)


@pytest.mark.parametrize("kind", PROFILES)
@LOOKS
@given(data=st.data())
def test_what_is_shown_comes_back_digit_for_digit(kind, data):
    profile = data.draw(PROFILES[kind])
    for _ in range(8):
        shown = data.draw(shown_values(profile))
        wire = profile.encode(shown)
        found = profile.decode_wire(wire)
        assert found == shown
        assert str(found.value) == str(shown.value)
        assert profile.encode(found) == wire


@pytest.mark.parametrize("kind", PROFILES)
@LOOKS
@given(data=st.data())
def test_an_encoder_refuses_what_it_cannot_send_and_never_sends_something_else(kind, data):
    profile = data.draw(PROFILES[kind])
    for _ in range(4):
        shown = Shown(
            data.draw(st.none() | st.decimals(allow_nan=True, allow_infinity=True)),
            data.draw(st.sampled_from(list(Unit))),
            data.draw(st.frozensets(st.sampled_from(list(Status)), max_size=2)),
            data.draw(st.none() | st.integers(-5, 10**10)),
            data.draw(st.none() | st.text(max_size=5)),
        )
        try:
            wire = profile.encode(shown)
        except FrameError:
            continue
        found = profile.decode_wire(wire)
        assert found.value == shown.value
        assert shown.value is None or str(abs(found.value)) == str(abs(shown.value))
        assert found.unit is shown.unit or shown.value is None


@pytest.mark.parametrize("kind", PROFILES)
@LOOKS
@given(data=st.data())
def test_a_stream_of_frames_gives_their_readings_in_order(kind, data):
    profile = data.draw(PROFILES[kind])
    shown = data.draw(st.lists(shown_values(profile), min_size=3, max_size=5))
    events = receive_all(profile, [profile.encode(each) for each in shown], opened_t_s=0.0)
    # A stream of lines is joined by dropping what may be a partial frame, so its first is missing;
    # one of short-checked fixed frames holds the last until another follows.
    found = [shown_by(event) for event in events]
    assert len(found) >= len(shown) - 2
    begin = 1 if profile.frame.kind == "line" else 0
    assert found == [as_said(each) for each in shown][begin : begin + len(found)]


@pytest.mark.parametrize("kind", PROFILES)
@LOOKS
@given(data=st.data())
def test_events_do_not_depend_on_the_chopping_and_readings_are_what_the_bytes_say(kind, data):
    profile = data.draw(PROFILES[kind])
    frames = [
        profile.encode(each)
        for each in data.draw(st.lists(shown_values(profile), min_size=1, max_size=3))
    ]
    stream = data.draw(dirty_streams(frames))
    events = receive_all(profile, [stream])
    assert receive_all(profile, bytewise(stream)) == events
    assert receive_all(profile, data.draw(choppings(stream))) == events
    for reading in readings(events):
        sent = profile.encode(shown_by(reading))
        # A float32 may miss the nearest one by its gauge's own rounding; unread registers are free.
        assert sent == reading.raw or profile.layout.kind == "registers"
        assert profile.decode_wire(sent) == profile.decode_wire(reading.raw)
