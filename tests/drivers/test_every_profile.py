"""What every built-in profile must do with its own sample frames."""

from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.decoder import Decoder
from drivers.reading import BadFrame, NoNumber, Unit
from drivers.selftest import undetected_faults
from tests.drivers.wire_tools import (
    BUILTIN,
    LOOKS,
    as_said,
    bad_frames,
    bytewise,
    choppings,
    dirty_streams,
    in_step,
    named,
    number_frame,
    readings,
    receive_all,
    shown_by,
)

DOCS = Path(__file__).parents[2] / "docs" / "profiles"

every_profile = pytest.mark.parametrize("profile", BUILTIN, ids=named)
every_sample = pytest.mark.parametrize(
    ("profile", "sample"),
    [(profile, sample) for profile in BUILTIN for sample in profile.samples],
    ids=lambda each: getattr(each, "name", None) or each.wire.hex(),
)


@every_sample
def test_a_sample_is_read_as_its_source_says_and_written_alike(profile, sample):
    found = profile.decode_wire(sample.wire)
    assert found == sample.shown
    assert str(found.value) == str(sample.number)
    assert profile.encode(found) == sample.wire


@every_sample
def test_a_sample_in_any_two_pieces_is_one_event(profile, sample):
    whole = in_step(profile).receive(sample.wire, 10.0)
    assert [shown_by(event) for event in whole] == [as_said(sample.shown)]
    for cut in range(len(sample.wire) + 1):
        decoder = in_step(profile)
        events = decoder.receive(sample.wire[:cut], 10.0) + decoder.receive(sample.wire[cut:], 10.0)
        assert events == whole


@every_sample
def test_a_sample_byte_by_byte_is_one_event_with_its_last_byte(profile, sample):
    decoder = in_step(profile)
    for byte in bytewise(sample.wire[:-1]):
        assert decoder.receive(byte, 10.0) == []
    (event,) = decoder.receive(sample.wire[-1:], 10.01)
    assert shown_by(event) == as_said(sample.shown)
    assert (event.t_s, event.raw) == (10.01, sample.wire)


@every_profile
def test_samples_in_a_stream_come_out_in_order_however_it_is_cut(profile):
    wires = [sample.wire for sample in profile.samples] * 2
    stream = b"".join(wires)
    whole = in_step(profile).receive(stream, 10.0)
    assert [shown_by(event) for event in whole] == [as_said(s.shown) for s in profile.samples] * 2
    assert b"".join(event.raw for event in whole) == stream
    decoder = in_step(profile)
    assert [e for byte in bytewise(stream) for e in decoder.receive(byte, 10.0)] == whole
    for cut in range(len(stream)):
        decoder = in_step(profile)
        events = decoder.receive(stream[:cut], 10.0) + decoder.receive(stream[cut:], 10.0)
        assert events == whole


@every_profile
@LOOKS
@given(data=st.data())
def test_a_dirty_stream_gives_the_same_events_however_it_is_cut(profile, data):
    frames = [sample.wire for sample in profile.samples]
    stream = data.draw(dirty_streams(frames, profile.serial.data_bits))
    events = receive_all(profile, [stream])
    assert receive_all(profile, bytewise(stream)) == events
    assert receive_all(profile, data.draw(choppings(stream))) == events
    for reading in readings(events):
        assert profile.encode(shown_by(reading)) == reading.raw


@every_profile
@LOOKS
@given(data=st.data())
def test_no_bytes_and_no_times_make_a_decoder_raise(profile, data):
    decoder = Decoder(profile, data.draw(st.floats()))
    frames = st.sampled_from([sample.wire for sample in profile.samples])
    pieces = st.one_of(st.binary(max_size=300), frames, frames.map(lambda wire: wire[:-3]))
    for _ in range(10):
        events = decoder.receive(data.draw(pieces), data.draw(st.floats()))
        assert all(event.raw for event in events)
        if data.draw(st.integers(0, 9)) == 0:
            decoder.reset(data.draw(st.floats()))


@every_profile
def test_the_counters_say_what_was_reported(profile):
    decoder = Decoder(profile)
    stream = b"".join(sample.wire for sample in profile.samples) * 3
    events = decoder.receive(stream + b"\x00" * 600 + stream, 10.0)
    assert decoder.bad == len(bad_frames(events)) > 0
    assert decoder.good == len(events) - decoder.bad > 0


@every_profile
def test_a_reset_forgets_the_half_frame_and_keeps_the_counts(profile):
    decoder = in_step(profile)
    good, bad = decoder.good, decoder.bad
    wire = number_frame(profile)
    decoder.receive(wire[:-2], 10.0)
    decoder.reset(20.0)
    assert decoder.waiting == 0
    assert (decoder.good, decoder.bad) == (good, bad)
    # The tail of the forgotten frame, and then a gauge that sends again.
    events = decoder.receive(wire[-2:], 20.0)
    assert readings(events) == []
    for place in range(1, 4):
        events += decoder.receive(wire, 20.0 + 10 * place)
    assert readings(events)[-1].value == profile.decode_wire(wire).value
    assert all(reading.raw == wire for reading in readings(events))


@every_profile
def test_one_error_display_is_an_event_without_a_number(profile):
    error = next(sample for sample in profile.samples if sample.number is None)
    (event,) = in_step(profile).receive(error.wire, 10.0)
    assert isinstance(event, NoNumber)
    assert event.status == error.status != frozenset()


@every_profile
def test_what_no_gauge_of_the_profile_shows_is_not_encoded_either(profile):
    for unit, step in profile.resolution.items():
        shown = profile.samples[0].shown
        between = type(shown)(step / 2, unit)
        with pytest.raises(Exception, match="number"):
            profile.encode(between)


@every_profile
def test_every_unit_switches_in_the_middle_of_a_stream(profile):
    """The unit key is pressed by a sleeve: each frame counts for itself."""
    wires = {s.unit: s.wire for s in profile.samples if s.number is not None}
    decoder = in_step(profile)
    order = [*wires, *reversed(wires), Unit.MM]
    found = [e for unit in order for e in decoder.receive(wires[unit], 10.0)]
    assert [event.unit for event in found] == order
    inches = [event for event in found if event.unit is Unit.INCH]
    assert all(event.value_mm == event.value * Decimal("25.4") for event in inches)


@every_profile
def test_the_page_of_a_profile_tells_its_layout_source_and_measured_weakness(profile):
    page = (DOCS / f"{profile.name}.md").read_text("utf-8")
    assert page.startswith(f"# {profile.name}\n")
    assert "## Layout" in page
    assert "## Source" in page
    for sample in profile.samples:
        wire = sample.wire.hex(" ").upper()
        text = sample.wire.decode("latin-1").replace("\r", "\\r").replace("\n", "\\n")
        assert wire in page or text in page
    for count in undetected_faults(profile):
        assert str(count) in page


@every_profile
def test_a_bad_frame_says_why_in_words(profile):
    events = in_step(profile).receive(b"\xff" * 600, 10.0)
    assert bad_frames(events)
    for event in bad_frames(events):
        assert isinstance(event, BadFrame)
        assert len(event.raw) <= 64
        assert event.reason.strip()
