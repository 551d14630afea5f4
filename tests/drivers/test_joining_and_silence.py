"""Streams joined in the middle, pauses, key presses, echoes: no tail is taken for a number."""

from decimal import Decimal

import pytest

from drivers.checksum import MODBUS_CRC
from drivers.decoder import Decoder
from drivers.reading import BadFrame, Reading
from tests.drivers.layout_tools import profile_of
from tests.drivers.wire_tools import (
    BUILTIN,
    bad_frames,
    in_step,
    named,
    number_frame,
    profile_called,
    readings,
    receive_all,
)

LINE = profile_called("decimal-line")
KEYED = profile_called("marked-xor")
PRESS = number_frame(KEYED)


def bare_line(when: str = "by itself"):
    """The most trusting layout there is: digits of any number, no unit, no checksum."""
    number = {"field": "number", "sign": "minus only", "whole": [1, 4], "decimals": {"mm": 3}}
    layout = {"kind": "text", "fields": [number], "unit": "mm"}
    return profile_of(layout, {"kind": "line", "end": "\n"}, {"mm": "0.001"}, when=when)


def test_the_tail_of_a_frame_is_not_a_number():
    """The tail of 12.345 reads as 2.345: believable and ten millimetres wrong."""
    events = receive_all(bare_line(), [b"2.345\n12.346\n"])
    assert [str(reading.value) for reading in events] == ["12.346"]


@pytest.mark.parametrize("profile", BUILTIN, ids=named)
def test_a_stream_joined_anywhere_in_a_frame_gives_only_whole_frames(profile):
    wire = number_frame(profile)
    right = profile.decode_wire(wire).value
    for joined_at in range(1, len(wire)):
        events = receive_all(profile, [wire[joined_at:] + wire * 3])
        assert len(readings(events)) >= 2
        assert all((r.value, r.raw) == (right, wire) for r in readings(events))
        if profile.sends.when == "by itself":
            assert bad_frames(events) == []  # joining in the middle is nobody's fault


@pytest.mark.parametrize("profile", [p for p in BUILTIN if p.sends.when != "by itself"], ids=named)
def test_a_gauge_that_waits_is_in_step_after_a_pause(profile):
    """Its first frame counts: the fitter pressed the key once and expects one value."""
    decoder = Decoder(profile, opened_t_s=0.0)
    (event,) = decoder.receive(number_frame(profile), 1.0)
    assert isinstance(event, Reading)


def test_a_press_right_after_opening_may_be_half_a_frame():
    number = bare_line("on its data key")
    assert receive_all(number, [b"2.345\n"], t_s=0.1) == []
    assert len(readings(receive_all(number, [b"2.345\n"], t_s=0.3))) == 1


def test_a_cut_frame_and_its_tail_after_a_pause_are_not_believed():
    decoder = Decoder(bare_line("on its data key"))
    assert decoder.receive(b"1", 1.0) == []
    cut, tail = decoder.receive(b"2.345\n", 2.0)
    assert isinstance(cut, BadFrame)
    assert (cut.raw, cut.reason) == (b"1", "1 byte, then silence: cut short")
    assert isinstance(tail, BadFrame)
    assert tail.reason == "may be the rest of the frame that was cut short"
    (press,) = decoder.receive(b"12.345\n", 3.0)
    assert press.value == Decimal("12.345")


def test_a_cut_frame_with_marks_does_not_cost_the_next_press():
    decoder = in_step(KEYED)
    decoder.receive(PRESS[:6], 20.0)
    cut, press = decoder.receive(PRESS, 30.0)
    assert isinstance(cut, BadFrame)
    assert press.raw == PRESS


@pytest.mark.parametrize("profile", [p for p in BUILTIN if p.sends.when == "by itself"], ids=named)
def test_a_stream_cut_in_a_frame_does_not_join_the_halves_after_a_pause(profile):
    wire = number_frame(profile)
    for cut_at in range(1, len(wire)):
        decoder = in_step(profile)
        events = decoder.receive(wire[:cut_at], 20.0)
        events += decoder.receive(wire[cut_at:] + wire * 3, 30.0)
        assert all(reading.raw == wire for reading in readings(events))
        assert 2 <= len(readings(events)) <= 3
        assert next(bad.reason for bad in bad_frames(events)).endswith("cut short")


def test_halves_of_two_numbers_are_not_one_number():
    """1 of 12.345, a second without contact, then 3.456 of 23.456: not 13.456."""
    decoder = in_step(bare_line())
    assert decoder.receive(b"1", 20.0) == []
    events = decoder.receive(b"3.456\n23.457\n", 21.0)
    assert [str(reading.value) for reading in readings(events)] == ["23.457"]


def test_a_slow_stream_is_believed_although_each_frame_is_followed_by_silence():
    profile = profile_called("packed-digits")
    decoder = Decoder(profile)
    frames = [event for t_s in range(1, 6) for event in decoder.receive(number_frame(profile), t_s)]
    assert len(readings(frames)) == 5
    assert bad_frames(frames) == []


def test_nothing_arriving_brings_out_the_cut_frame_at_once():
    decoder = in_step(KEYED)
    decoder.receive(PRESS[:6], 20.0)
    assert decoder.receive(b"", 20.1) == []
    (cut,) = decoder.receive(b"", 20.3)
    assert (cut.raw, cut.t_s) == (PRESS[:6], 20.3)
    assert decoder.receive(b"", 21.0) == []
    assert decoder.receive(b"", 99.0) == []
    (press,) = decoder.receive(PRESS, 100.0)
    assert press.raw == PRESS


def test_a_damaged_press_is_told_without_waiting_for_the_next_one():
    decoder = in_step(KEYED)
    damaged = PRESS[:3] + b"9" + PRESS[4:]
    assert decoder.receive(damaged, 20.0) == []
    (bad,) = decoder.receive(b"", 21.0)
    assert (bad.raw, bad.reason) == (damaged, "the checksum (xor) does not fit the bytes")
    assert decoder.bad == 1


def test_a_stray_byte_before_the_first_press_costs_no_press():
    decoder = Decoder(KEYED)
    decoder.receive(b"\x00", 1.0)
    stray, press = decoder.receive(PRESS, 5.0)
    assert stray.raw == b"\x00"
    assert press.raw == PRESS


def test_two_presses_in_quick_succession_are_two_readings():
    decoder = in_step(KEYED)
    assert len(readings(decoder.receive(PRESS + PRESS, 20.0))) == 2


MODBUS = profile_called("modbus-registers")
ANSWER = number_frame(MODBUS)


@pytest.mark.parametrize("name", ["modbus-registers", "numeric-query"])
def test_the_echo_of_the_request_is_passed_over_however_it_is_cut(name):
    """A two-wire adapter hears what it sends."""
    profile = profile_called(name)
    answer = number_frame(profile)
    echoed = profile.request + answer
    for cut in range(len(echoed) + 1):
        decoder = Decoder(profile)
        events = decoder.receive(echoed[:cut], 1.0) + decoder.receive(echoed[cut:], 1.0)
        events += decoder.receive(echoed, 2.0)
        assert [event.raw for event in events] == [answer, answer]


def test_an_exception_response_is_told_with_its_meaning():
    """Modbus Application Protocol V1.1b3, 7: function + 80 hex, exception 2, illegal address."""
    wire = bytes.fromhex("11 83 02 C1 34")
    (event,) = Decoder(MODBUS).receive(wire, 1.0)
    assert isinstance(event, BadFrame)
    assert event.raw == wire
    assert event.reason == "the gauge answers exception 2: illegal data address"


def test_an_exception_behind_noise_still_tells_its_meaning():
    wire = bytes.fromhex("11 83 02 C1 34")
    noise, exception = Decoder(MODBUS).receive(b"\xfe\xfe" + wire, 1.0)
    assert noise.raw == b"\xfe\xfe"
    assert (exception.raw, exception.reason[-20:]) == (wire, "illegal data address")


@pytest.mark.parametrize(
    ("wire", "reason"),
    [
        ("12 03 06 00 01 E2 40 00 00 E6 D9", "not from address 17"),
        ("11 04 06 00 01 E2 40 00 00 E6 D9", "not the answer to a read of 3 registers"),
        ("11 03 08 00 01 E2 40 00 00 E6 D9", "not the answer to a read of 3 registers"),
        ("11 03 06 00 01 E2 41 00 00 E6 D9", "the CRC does not fit the bytes"),
        ("11 83 02 C1 35", "the CRC does not fit the bytes"),
    ],
)
def test_what_is_no_answer_of_this_gauge_is_refused_with_the_reason(wire, reason):
    decoder = Decoder(MODBUS)
    events = decoder.receive(bytes.fromhex(wire), 1.0) + decoder.receive(b"", 2.0)
    assert [event.reason for event in events] == [reason]


def test_another_gauge_on_the_same_line_is_not_read_as_this_one():
    """Two Modbus gauges on one pair of wires; the answer of address 18 comes by."""
    body = b"\x12" + ANSWER[1:-2]
    other = body + MODBUS_CRC(body).to_bytes(2, "little")
    decoder = Decoder(MODBUS)
    assert readings(decoder.receive(other, 1.0)) == []
    assert [event.raw for event in readings(decoder.receive(ANSWER, 1.01))] == [ANSWER]


def test_a_late_answer_and_the_next_one_are_two_readings():
    events = Decoder(MODBUS).receive(ANSWER + ANSWER, 1.0)
    assert [event.raw for event in events] == [ANSWER, ANSWER]


def test_an_empty_line_is_a_bad_frame_and_no_more():
    decoder = in_step(LINE)
    (empty,) = decoder.receive(b"\r\n", 10.0)
    assert isinstance(empty, BadFrame)
    assert len(readings(decoder.receive(number_frame(LINE), 10.0))) == 1


def test_a_line_that_lost_its_carriage_return_costs_itself_only():
    decoder = in_step(LINE)
    bad, good = decoder.receive(b"+0012.345 mm\n+0012.346 mm\r\n", 10.0)
    assert bad.reason == 'does not end in "\\r\\n"'
    assert good.value == Decimal("12.346")


def test_times_that_run_backwards_or_are_no_numbers_change_nothing():
    decoder = in_step(LINE, t_s=10.0)
    wire = number_frame(LINE)
    for t_s in (5.0, float("nan"), float("inf"), 5.0):
        assert len(decoder.receive(wire, t_s)) == 1
