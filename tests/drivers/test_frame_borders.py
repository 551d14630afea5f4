"""Frames of just the greatest length, marks of several bytes, and what lies next to a frame."""

import pytest

from drivers.decoder import Decoder
from drivers.errors import FrameError
from drivers.framing import LineFraming, MarkFraming
from tests.drivers.layout_tools import profile_of
from tests.drivers.wire_tools import (
    BUILTIN,
    bad_frames,
    bytewise,
    named,
    number_frame,
    readings,
    receive_all,
    show,
)

NUMBER = {"field": "number", "sign": "minus only", "whole": [1, 9], "decimals": {"mm": 3}}
PLAIN = {"kind": "text", "fields": [NUMBER], "unit": "mm"}


def marked(start: str, end: str, max_bytes: int = 16, **more: object):
    frame = {"kind": "marks", "start": start, "end": end, "max_bytes": max_bytes}
    return profile_of(PLAIN, frame | more, {"mm": "0.001"})


def every_cut(profile, stream):
    """The events of ``stream``, which must not depend on where it is cut in two or in bytes."""
    whole = receive_all(profile, [stream])
    assert receive_all(profile, bytewise(stream)) == whole
    for cut in range(len(stream)):
        assert receive_all(profile, [stream[:cut], stream[cut:]]) == whole
    return whole


@pytest.mark.parametrize("profile", BUILTIN, ids=named)
def test_a_sample_with_something_beside_it_is_not_one_frame(profile):
    wire = number_frame(profile)
    for more in (wire + wire, wire + wire[:1], wire[:-1], wire[1:], b""):
        with pytest.raises(FrameError):
            profile.decode_wire(more)


def test_a_frame_of_just_the_greatest_length_is_read_behind_any_number_of_start_marks():
    profile = marked(":", ";", max_bytes=10)
    longest = profile.encode(show("1234.567"))
    assert len(longest) == 10
    for starts in range(40):
        assert [r.raw for r in readings(every_cut(profile, b":" * starts + longest))] == [longest]


def test_a_marked_frame_that_is_too_long_is_refused_however_it_is_cut():
    profile = marked(":", ";", max_bytes=10)
    for digits in range(5, 9):
        stream = b":" + b"1" * digits + b".000;" + b":1.000;"
        assert [r.raw for r in readings(every_cut(profile, stream))] == [b":1.000;"]


def test_a_line_that_is_too_long_is_refused_and_the_next_one_read():
    profile = profile_of(PLAIN, {"kind": "line", "end": "\n", "max_bytes": 10}, {"mm": "0.001"})
    stream = b"\n" + b"12345.678\n" + b"123456.789\n" + b"1.000\n"
    events = every_cut(profile, stream)
    assert [r.raw for r in readings(events)] == [b"12345.678\n", b"1.000\n"]
    assert [b.reason for b in bad_frames(events)] == ["no end of line within 10 bytes"]


@pytest.mark.parametrize(
    ("start", "end"), [("<<", ">>"), ("\r\n", "\r\n"), ("abc", "c"), ("/", "/")]
)
def test_marks_of_several_bytes_are_found_however_the_stream_is_cut(start, end):
    profile = marked(start, end)
    wire = profile.encode(show("12.345"))
    noise = start[:-1].encode() + b"#" + start[:1].encode()
    stream = b"45" + end.encode() + wire + noise + wire + wire
    found = readings(every_cut(profile, stream))
    assert {reading.raw for reading in found} == {wire}
    assert len(found) >= 2


def test_a_checksum_of_raw_bytes_may_look_like_any_mark():
    check = {"kind": "sum", "written": "high byte first"}
    frame = {"kind": "marks", "start": ":", "end": ";", "tail_bytes": 1}
    profile = profile_of(PLAIN, frame, {"mm": "0.001"}, check)
    wires = [profile.encode(show(f"{count}.345")) for count in range(10, 100)]
    wires += [profile.encode(show(f"99.{count}")) for count in range(100, 1000)]
    assert {wire[-1] for wire in wires} >= {ord(":"), ord(";")}
    assert [r.raw for r in readings(receive_all(profile, [b"".join(wires)]))] == wires
    assert [r.raw for r in readings(receive_all(profile, bytewise(b"".join(wires))))] == wires


def test_a_lost_end_mark_costs_two_frames_and_no_more():
    profile = marked(":", ";")
    events = every_cut(profile, b":1.000;" + b":2.000" + b":3.000;" + b":4.000;")
    assert [str(r.value) for r in readings(events)] == ["1.000", "3.000", "4.000"]


def test_after_a_cut_burst_the_next_press_is_read_where_frames_have_a_beginning():
    """A half frame of fixed length can be no whole one, so nothing need be doubted after it."""
    order = [12, "sign", "point", "unit", "digit", "digit", "digit", 14]
    layout = {"kind": "bcd", "order": order, "sign": {"minus": 8}, "unit": {"mm": 1}}
    frame = {"kind": "fixed", "length": 4}
    profile = profile_of(layout, frame, {"mm": "0.01"}, when="on its data key")
    press = number_frame(profile)
    decoder = Decoder(profile)
    assert decoder.receive(press[:2], 1.0) == []
    cut, found = decoder.receive(press, 2.0)
    assert (cut.raw, found.raw) == (press[:2], press)


def test_the_echo_is_passed_over_after_a_cut_answer_too():
    profile = next(each for each in BUILTIN if each.frame.kind == "modbus")
    answer = number_frame(profile)
    decoder = Decoder(profile)
    decoder.receive(answer[:7], 1.0)
    events = decoder.receive(profile.request + answer, 2.0)
    assert [event.raw for event in events] == [answer[:7], answer]


@pytest.mark.parametrize(
    "framing",
    [
        LineFraming(kind="line", end="\r\n"),
        MarkFraming(kind="marks", start="<", end=">"),
        MarkFraming(kind="marks", start="<", end=">", tail_bytes=2),
    ],
    ids=lambda framing: f"{framing.kind}{getattr(framing, 'tail_bytes', '')}",
)
def test_a_framing_takes_off_what_it_put_around(framing):
    cut = framing.cut(bytearray(framing.wrap(b"12.345AB")), in_step=True)
    assert cut is not None
    assert cut.payload == b"12.345AB"
