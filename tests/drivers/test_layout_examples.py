"""Frames worked out by hand for each layout, so that encode and decode cannot agree on an error."""

import math
import struct
import time
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.errors import FrameError
from drivers.layouts import BcdLayout, CountsLayout, RegistersLayout, TextLayout
from drivers.reading import Shown, Status, Unit
from drivers.selftest import damaged_frames
from tests.drivers.layout_tools import profile_of
from tests.drivers.wire_tools import BUILTIN, LOOKS, named, profile_called, show


def text(number: dict[str, object], *before: dict[str, object], **more: object) -> TextLayout:
    fields = [*before, {"field": "number", "decimals": {"mm": 3}} | number]
    return TextLayout(kind="text", fields=fields, unit="mm", **more)


@pytest.mark.parametrize(
    ("number", "wire", "value"),
    [
        ({}, b"+0012.345", "12.345"),
        ({}, b"-0000.000", "-0.000"),
        ({"whole": 1}, b"+2.345", "2.345"),
        ({"sign": "minus only"}, b"0012.345", "12.345"),
        ({"sign": "minus only"}, b"-0012.345", "-12.345"),
        ({"sign": "space or minus"}, b" 0012.345", "12.345"),
        ({"whole": [1, 4], "sign": "minus only"}, b"12.345", "12.345"),
        ({"whole": [1, 4]}, b"+1234.567", "1234.567"),
        ({"pad": " "}, b"  +12.345", "12.345"),
        ({"pad": " ", "sign_first": True}, b"+  12.345", "12.345"),
        ({"pad": " ", "sign": "space or minus"}, b"    0.345", "0.345"),
        ({"pad": " ", "sign": "space or minus"}, b"   -0.345", "-0.345"),
        ({"point": ","}, b"+0012,345", "12.345"),
        ({"decimals": {"mm": 0}}, b"+0012", "12"),
    ],
)
def test_a_text_number(number, wire, value):
    layout = text(number)
    found = layout.decode(wire)
    assert str(found.value) == value
    assert layout.encode(show(value)) == wire


@pytest.mark.parametrize(
    ("number", "wire"),
    [
        ({}, b"+012.345"),
        ({}, b"+00012.345"),
        ({}, b"+0012.34"),
        ({}, b"+0012.3456"),
        ({}, b"0012.345"),
        ({}, b" 0012.345"),
        ({}, b"+0012,345"),
        ({}, b"+0 12.345"),
        ({}, b"++012.345"),
        ({}, b"+0012.3-5"),
        ({}, b"+0012.345 "),
        ({}, b"+\xb2012.345"),
        ({}, "+००12.345".encode()),
        ({"whole": [1, 4], "sign": "minus only"}, b"012.345"),
        ({"whole": [1, 4], "sign": "minus only"}, b"+12.345"),
        ({"whole": [1, 4], "sign": "minus only"}, b".345"),
        ({"pad": " "}, b"+  12.345"),
        ({"pad": " "}, b"  +012.34"),
        ({"pad": " ", "sign_first": True}, b"  +12.345"),
        ({"point": ","}, b"+0012.345"),
        ({}, b""),
    ],
)
def test_text_that_is_not_written_that_way_is_refused(number, wire):
    with pytest.raises(FrameError):
        text(number).decode(wire)


def test_label_and_sequence_wrap_and_fill():
    before = ({"field": "label", "width": 3}, {"field": "sequence", "digits": 2})
    layout = text({}, *before)
    assert layout.encode(show("1.000", label="A7", sequence=7)) == b"0A707+0001.000"
    assert layout.encode(show("1.000", label="A", sequence=107)) == b"00A07+0001.000"
    for label in ("ABCD", "A-1", "é"):
        with pytest.raises(FrameError, match="label"):
            layout.encode(show("1.000", label=label))


def test_units_are_told_apart_by_their_characters():
    """None may stand for a unit, as long as the other one has some."""
    number = {"field": "number", "whole": 4, "decimals": {"mm": 3, "in": 3}}
    with pytest.raises(ValueError, match="different characters"):
        TextLayout(kind="text", fields=[number, {"field": "unit", "mm": "", "in": ""}])
    fields = [{"field": "number", "whole": [1, 4], "decimals": {"mm": 2, "in": 4}}]
    fields.append({"field": "unit", "mm": "", "in": '"'})
    layout = TextLayout(kind="text", fields=fields)
    assert layout.decode(b"+12.34").unit is Unit.MM
    assert layout.decode(b'+0.4860"').unit is Unit.INCH


@pytest.mark.parametrize("profile", [p for p in BUILTIN if p.layout.kind == "text"], ids=named)
def test_no_single_fault_makes_a_number_of_an_error_display_or_the_other_way_round(profile):
    for sample in profile.samples:
        for fault in ("lost", "doubled", "flipped"):
            for damaged in damaged_frames(sample.wire, fault):
                try:
                    found = profile.decode_wire(damaged)
                except FrameError:
                    continue
                assert (found.value is None) == (sample.number is None)


BCD = {
    "kind": "bcd",
    "sign": {"plus": 0, "minus": 8},
    "unit": {"mm": 0, "in": 1},
    "order": [15, "sign", "digit", "digit", "digit", "digit", "point", "unit", 14],
}


@pytest.mark.parametrize(
    ("more", "wire", "shown"),
    [
        ({}, "F0 12 34 20 E0", show("12.34")),
        ({}, "F8 00 01 30 E0", show("-0.001")),
        ({}, "F0 04 86 31 E0", show("0.486", Unit.INCH)),
        ({"first": "low half"}, "0F 21 43 02 0E", show("12.34")),
        ({"digits": "lowest first"}, "F0 43 21 20 E0", show("12.34")),
        ({"first": "low half", "digits": "lowest first"}, "0F 34 12 02 0E", show("12.34")),
        ({"blank": 10}, "F0 AA AA 00 E0", Shown(None, Unit.MM, frozenset({Status.ERROR}))),
        ({}, "F8 00 00 20 E0", show("-0.00")),
    ],
)
def test_packed_digits_of_nine_nibbles(more, wire, shown):
    """An odd number of nibbles: the last half byte is filled up with 0."""
    layout = BcdLayout(**BCD | more)
    octets = bytes.fromhex(wire)
    assert layout.decode(octets) == shown
    assert str(layout.decode(octets).value) == str(shown.value)
    assert layout.encode(shown) == octets


@pytest.mark.parametrize(
    ("wire", "field"),
    [
        ("E0 12 34 20 E0", "constant"),
        ("F1 12 34 20 E0", "sign"),
        ("F0 1A 34 20 E0", "digit"),
        ("F0 12 34 40 E0", "point"),
        ("F0 12 34 22 E0", "unit"),
        ("F0 12 34 20 E1", "fill"),
        ("F0 12 34 20", "4 bytes where 5"),
    ],
)
def test_packed_digits_that_cannot_be_are_refused_by_name(wire, field):
    with pytest.raises(FrameError, match=field):
        BcdLayout(**BCD).decode(bytes.fromhex(wire))


@pytest.mark.parametrize(
    ("bits", "order", "wire", "value"),
    [
        (8, "high byte first", "FF", "-0.5"),
        (16, "high byte first", "01 02", "129.0"),
        (16, "low byte first", "02 01", "129.0"),
        (24, "high byte first", "FF FF FE", "-1.0"),
        (24, "low byte first", "00 00 80", "-4194304.0"),
        (32, "high byte first", "7F FF FF FF", "1073741823.5"),
        (40, "low byte first", "01 00 00 00 00", "0.5"),
        (48, "high byte first", "80 00 00 00 00 00", "-70368744177664.0"),
    ],
)
def test_a_count_in_twos_complement(bits, order, wire, value):
    fields = [{"field": "count", "bits": bits, "order": order}]
    layout = CountsLayout(kind="counts", fields=fields, step="0.5", unit="mm")
    assert str(layout.decode(bytes.fromhex(wire)).value) == value
    assert layout.encode(show(value)) == bytes.fromhex(wire)


def test_the_count_that_means_no_number_is_never_sent_as_one():
    fields = [{"field": "count", "bits": 16, "order": "high byte first"}]
    layout = CountsLayout(kind="counts", fields=fields, step="0.001", unit="mm", no_number=-32768)
    assert layout.decode(b"\x80\x00") == Shown(None, Unit.MM, frozenset({Status.ERROR}))
    assert layout.encode(Shown(None)) == b"\x80\x00"
    with pytest.raises(FrameError, match="means that there is none"):
        layout.encode(show("-32.768"))
    with pytest.raises(FrameError, match="does not fit 16 bits"):
        layout.encode(show("32.768"))


def test_a_status_bit_without_a_meaning_is_refused_and_an_unused_one_is_allowed_for():
    fields = [
        {"field": "status", "bits": ["battery-low", "", "error"]},
        {"field": "count", "bits": 8, "order": "high byte first"},
    ]
    layout = CountsLayout(kind="counts", fields=fields, step="1", unit="mm")
    assert layout.decode(b"\x05\x01").status == {Status.BATTERY_LOW, Status.ERROR}
    assert layout.encode(show("1", status=frozenset({Status.ERROR}))) == b"\x04\x01"
    for octets in (b"\x02\x01", b"\x08\x01"):
        with pytest.raises(FrameError, match="has no meaning"):
            layout.decode(octets)


def registers(kind: str, **more: object) -> RegistersLayout:
    size = 1 if kind in ("int16", "uint16") else 2
    plain = {"kind": "registers", "registers": size, "type": kind, "step": "0.25", "unit": "mm"}
    return RegistersLayout(**plain | more)


@pytest.mark.parametrize(
    ("layout", "wire", "value"),
    [
        (registers("int16"), "FF FF", "-0.25"),
        (registers("uint16"), "FF FF", "16383.75"),
        (registers("int32"), "00 01 00 02", "16384.50"),
        (registers("int32", words="low word first"), "00 02 00 01", "16384.50"),
        # IEEE 754 single: 1.5 is 3FC00000, -0.25 is BE800000, exactly.
        (registers("float32"), "3F C0 00 00", "1.50"),
        (registers("float32"), "BE 80 00 00", "-0.25"),
        (registers("float32", words="low word first"), "00 00 3F C0", "1.50"),
        (registers("float32"), "80 00 00 00", "-0.00"),
    ],
)
def test_a_number_in_registers(layout, wire, value):
    assert str(layout.decode(bytes.fromhex(wire)).value) == value
    assert layout.encode(show(value)) == bytes.fromhex(wire)


@LOOKS
@given(count=st.integers(-(1 << 21), 1 << 21), step=st.sampled_from(["0.001", "0.0001", "0.00005"]))
def test_a_float_worked_out_in_the_gauges_own_single_precision_is_read_on_its_step(count, step):
    """A gauge multiplies its count by a step that single precision holds only roughly."""
    single = struct.Struct(">f")
    rough_step = single.unpack(single.pack(float(step)))[0]
    octets = single.pack(count * rough_step)
    layout = registers("float32", step=step)
    assert layout.decode(octets).value == count * Decimal(step)


@pytest.mark.parametrize("number", [math.inf, -math.inf, 3e38, 12.3455, 2200.0, 1e-10])
def test_a_float_that_is_on_no_step_or_too_long_is_refused(number):
    with pytest.raises(FrameError):
        registers("float32", step="0.001").decode(struct.pack(">f", number))


def test_a_float_that_is_not_a_number_says_that_there_is_none():
    found = registers("float32").decode(struct.pack(">f", math.nan))
    assert found == Shown(None, Unit.MM, frozenset({Status.ERROR}))


def test_registers_that_nothing_is_said_about_may_hold_anything():
    layout = registers("int16", registers=3, value_at=1)
    assert layout.decode(bytes.fromhex("12 34 00 04 56 78")).value == Decimal("1.00")


def test_a_register_tells_the_unit_and_each_unit_has_its_own_step():
    unit = {"at": 1, "mm": 0, "in": 1}
    steps = {"mm": "0.001", "in": "0.00005"}
    layout = registers("int16", registers=2, unit=unit, step=steps)
    assert layout.decode(bytes.fromhex("30 39 00 00")) == show("12.345")
    assert layout.decode(bytes.fromhex("25 F9 00 01")) == show("0.48605", Unit.INCH)
    with pytest.raises(FrameError, match="register holds 2, which is no unit"):
        layout.decode(bytes.fromhex("30 39 00 02"))


def test_reading_long_rubbish_takes_linear_time():
    """No pattern may run away: the longest frame that a profile can allow, in milliseconds."""
    wide = {"field": "number", "sign": "minus only", "whole": [1, 9], "decimals": {"mm": 9}}
    fields = [wide, {"field": "status", "codes": {"+": [], "-": ["held"]}}]
    layout = {"kind": "text", "fields": fields, "unit": "mm"}
    frame = {"kind": "line", "end": "\n", "max_bytes": 4096}
    profiles = [*BUILTIN, profile_of(layout, frame, {"mm": "0.000000001"})]
    for profile in profiles:
        for rubbish in (b"0", b"+", b" ", b"0.", b"+0", b"9E", b"A", b"0.0.", b"\xff"):
            began_s = time.process_time()
            for size in (4000, 4095):
                with pytest.raises(FrameError):
                    profile.decode((rubbish * 4096)[:size])
            assert time.process_time() - began_s < 0.1


def test_a_number_beyond_the_travel_is_refused():
    """A profile that knows its gauge's travel sees a digit turned into a wild one."""
    made = profile_called("decimal-line").model_dump(by_alias=True)
    short = [sample for sample in made["samples"] if sample["number"] is not None]
    made |= {"travel": {"least_mm": "-1", "most_mm": "13"}, "samples": short}
    profile = type(profile_called("decimal-line"))(**made)
    assert profile.decode_wire(b"+0012.999 mm\r\n").value == Decimal("12.999")
    for wire in (b"+0013.001 mm\r\n", b"-0001.001 mm\r\n", b"+0000.51185 in\r\n"):
        with pytest.raises(FrameError, match="beyond the gauge's travel"):
            profile.decode_wire(wire)
