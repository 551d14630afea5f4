"""Noise, wrong line settings, endless rubbish: bad frames, little memory and time, no number."""

import random
import time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.decoder import SLICE, Decoder
from drivers.reading import BadFrame
from tests.drivers.wire_tools import (
    BUILTIN,
    LOOKS,
    bad_frames,
    heard_at_another_rate,
    in_step,
    named,
    number_frame,
    profile_called,
    readings,
    receive_all,
)

every_profile = pytest.mark.parametrize("profile", BUILTIN, ids=named)

MEGABYTE = 1_000_000
WAITING_MOST = 600
"""No built-in frame is longer than 40 bytes; this is far above what a decoder need ever hold."""

MOST_S_PER_MB = 10.0
"""A line of 115 200 baud takes 87 s for a megabyte. Quadratic work would take minutes."""


def rubbish(profile, size):
    """Endless inputs that are awkward for one framing or another, by name."""
    frame, wire = profile.frame, number_frame(profile)
    start = getattr(frame, "start", b"") or wire[:1]
    end = getattr(frame, "end", b"") or wire[-1:]
    return {
        "zeros": b"\x00" * size,
        "ones": b"\xff" * size,
        "random": random.Random(7).randbytes(size),
        "text": bytes(random.Random(8).choices(b"0123456789+-. mE", k=size)),
        "starts": start * (size // len(start)),
        "ends": end * (size // len(end)),
        "beginnings": wire[:-1] * (size // (len(wire) - 1)),
    }


KINDS = list(rubbish(BUILTIN[0], 100))


@every_profile
@pytest.mark.parametrize("kind", KINDS)
def test_endless_rubbish_is_bad_frames_in_little_time_and_memory(profile, kind):
    size = MEGABYTE // 20
    noise = rubbish(profile, size)[kind]
    decoder = in_step(profile)
    began_s = time.process_time()
    reported, most_waiting = 0, 0
    for at in range(0, len(noise), 10_000):
        events = decoder.receive(noise[at : at + 10_000], 10.0)
        assert all(isinstance(event, BadFrame) for event in events)
        reported += len(events)
        most_waiting = max(most_waiting, decoder.waiting)
    assert time.process_time() - began_s < MOST_S_PER_MB * len(noise) / MEGABYTE
    assert reported > 0
    assert most_waiting < WAITING_MOST


@every_profile
@pytest.mark.parametrize("kind", ["random", "starts"])
def test_rubbish_byte_by_byte_is_no_slower_than_its_bytes_deserve(profile, kind):
    """A line of 115 200 baud brings a byte in 87 microseconds."""
    noise = rubbish(profile, 5_000)[kind]
    decoder = in_step(profile)
    began_s = time.process_time()
    for byte in noise:
        decoder.receive(bytes([byte]), 10.0)
    assert time.process_time() - began_s < 40e-6 * len(noise)
    assert decoder.waiting < WAITING_MOST


@every_profile
def test_one_large_piece_is_looked_at_in_slices(profile):
    noise = rubbish(profile, 30 * SLICE)["random"]
    pieces = [noise[at : at + 1000] for at in range(0, len(noise), 1000)]
    assert receive_all(profile, [noise]) == receive_all(profile, pieces)


@every_profile
def test_noise_is_shown_by_its_first_bytes_and_counted(profile):
    events = bad_frames(in_step(profile).receive(b"\xff" * 1000, 10.0))
    assert max(len(event.raw) for event in events) <= 64
    assert len(events) <= 1000 / profile.frame.model_dump().get("max_bytes", 256) + 2


@every_profile
def test_noise_between_good_frames_is_reported_once(profile):
    wire = number_frame(profile)
    decoder = in_step(profile)
    events = decoder.receive(wire + b"\xfe" * 30 + wire + wire + wire, 10.0)
    assert len(bad_frames(events)) == 1
    assert len(readings(events)) >= 3


@every_profile
def test_after_any_noise_the_gauge_is_read_again(profile):
    noise = random.Random(3)
    wire = number_frame(profile)
    right = profile.decode_wire(wire).value
    for _ in range(100):
        stream = noise.randbytes(noise.randrange(1, 80))
        decoder, t_s = in_step(profile), 10.0
        events = decoder.receive(stream, t_s)
        for _ in range(3):
            t_s += 0.0 if profile.sends.when == "by itself" else 1.0
            events += decoder.receive(wire, t_s)
        assert len(readings(events)) >= 2
        assert {reading.value for reading in readings(events)} == {right}


@every_profile
@LOOKS
@given(data=st.data())
def test_random_bytes_are_never_a_number(profile, data):
    noise = data.draw(st.binary(max_size=400))
    assert readings(receive_all(profile, [noise])) == []


@every_profile
@pytest.mark.parametrize("heard", [300, 1200, 2400, 4800, 9600, 19200, 38400, 57600, 115200])
def test_a_port_set_to_the_wrong_rate_hears_no_number(profile, heard):
    """The line is sampled at the wrong times: a model of a UART, not of any chip."""
    sent = profile.serial.baud
    stream = b"".join(sample.wire for sample in profile.samples) * 20
    for shift in range(3):
        events = receive_all(profile, [heard_at_another_rate(stream[shift:], sent, heard)])
        if heard == sent:
            assert len(readings(events)) > 20
        else:
            assert readings(events) == []


def test_the_model_of_a_wrong_rate_hears_the_right_bytes_at_the_right_rate():
    wire = bytes(range(256))
    assert heard_at_another_rate(wire, 9600, 9600) == wire
    assert heard_at_another_rate(wire, 9600, 9500) == wire  # one per cent off is well within reach
    assert heard_at_another_rate(wire, 9600, 19200) != wire


@pytest.mark.parametrize("name", ["decimal-line", "marked-crc"])
def test_a_wrong_rate_is_reported_and_not_silent(name):
    profile = profile_called(name)
    stream = b"".join(sample.wire for sample in profile.samples) * 20
    heard = heard_at_another_rate(stream, 9600, 4800)
    assert bad_frames(receive_all(profile, [heard]))


def test_short_bursts_of_noise_with_pauses_are_reported_too():
    """A slow gauge at the wrong rate: a few wrong bytes, then nothing for a while."""
    decoder = Decoder(profile_called("marked-crc"))
    events = [e for t_s in range(1, 8) for e in decoder.receive(b"\x80\xf8\x00", float(t_s))]
    assert len(bad_frames(events)) >= 5


def test_an_overlong_line_is_reported_once_with_its_length():
    decoder = in_step(profile_called("decimal-line"))
    (bad,) = decoder.receive(b"7" * 100 + b"\r\n", 10.0)
    assert (bad.raw, bad.reason) == (b"7" * 64, "no end of line within 32 bytes (102 bytes)")
    assert len(decoder.receive(b"+0012.345 mm\r\n", 10.0)) == 1
