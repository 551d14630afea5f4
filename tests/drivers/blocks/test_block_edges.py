"""Frames that a run of random ones seldom holds, in blocks and one by one."""

from decimal import Decimal

import pytest

from drivers.blocks import Block, BlockDecoder
from drivers.reading import Shown, Unit
from tests.drivers.blocks.block_tools import check_same
from tests.drivers.layout_tools import profile_of
from tests.drivers.wire_tools import profile_called

MM = {"mm": "0.001"}


def wrapped(profile, payload):
    """A frame around ``payload`` with all that belongs to it."""
    if profile.check:
        payload = profile.check.append(payload, *profile.frame.marks)
    return profile.frame.wrap(payload)


def registers(kind, **more):
    layout = {"kind": "registers", "registers": 4, "value_at": 0, "type": kind, "unit": "mm"}
    frame = {"kind": "modbus", "address": 17, "first_register": 107, "registers": 4}
    return profile_of(
        layout | {"step": "0.001"}, frame | more, MM, when="on request", reply_within_s=0.3
    )


def same_of(profile, frames, least_in_blocks=300):
    """Both ways over clean and dirty streams of ``frames``."""
    in_blocks = 0
    for seed in range(5):
        in_blocks += check_same([profile], [frames], seed, 0.0).in_blocks
        check_same([profile], [frames], seed, 0.02)
    assert in_blocks >= least_in_blocks


@pytest.mark.parametrize("number", [0, 1, 0x7FFF, 0x8000, 0xFFFF])
def test_a_register_without_sign_may_hold_any_number(number):
    profile = registers("uint16")
    same_of(profile, [wrapped(profile, number.to_bytes(2, "big") + bytes(6))])


@pytest.mark.parametrize("bits", ["00000000", "80000000", "3DCCCCCD", "BDCCCCCD", "3F800000"])
def test_a_float_on_a_step_is_read_in_a_block_with_the_sign_of_its_zero(bits):
    profile = registers("float32")
    same_of(profile, [wrapped(profile, bytes.fromhex(bits) + bytes(4))])


@pytest.mark.parametrize(
    "bits",
    [
        "7FC00000",
        "7F800000",
        "FF800000",
        "3DCCCCD2",
        "00000001",
        "3A03126F",
        "4CBEBC20",
        "39FFFFFF",
    ],
)
def test_a_float_off_the_steps_or_without_number_is_told_as_ever(bits):
    profile = registers("float32")
    good = [wrapped(profile, bytes.fromhex("3F800000") + bytes(4))] * 9
    same_of(profile, [*good, wrapped(profile, bytes.fromhex(bits) + bytes(4))], 0)


def test_an_answer_that_begins_like_the_question_is_taken_for_its_echo_by_neither():
    """A two-wire adapter echoes the question; this gauge's answer may begin with the same bytes."""
    profile = registers("int32", first_register=0x0800)
    question = profile.request
    answer = wrapped(profile, question[3:8] + bytes(3))
    assert answer.startswith(question)
    other = wrapped(profile, bytes([0, 0, 1, 2, 0, 0, 0, 0]))
    same_of(profile, [question + answer, answer, other, question + other], 0)


def text_profile(whole=3, **frame):
    number = {"field": "number", "sign": "minus only", "whole": whole, "decimals": {"mm": 3}}
    fields = [{"field": "label", "width": 2}, number]
    made = {"kind": "marks", "start": b"<", "end": b">", "max_bytes": 80} | frame
    return profile_of({"kind": "text", "fields": fields, "unit": "mm"}, made, MM)


def test_a_frame_is_cut_at_the_first_end_mark_in_both_ways():
    profile = text_profile(end=b"Z")
    frames = [
        profile.encode(Shown(Decimal("1.234"), Unit.MM, label=label))
        for label in ("AB", "09", "CD")
    ]
    # What stands in this one's label is its end.
    same_of(profile, [*frames, b"<AZ012.345Z", b"<ZA012.345Z", *frames])


def test_a_frame_longer_than_the_profile_allows_is_refused_in_both_ways():
    profile = text_profile(whole=[1, 6], max_bytes=10)
    frames = [b"<AB%s.234>" % (b"1" * size) for size in range(1, 7)]
    same_of(profile, frames[:2] * 15 + frames)


def test_a_number_is_refused_in_both_ways_if_it_is_written_with_a_zero_too_many():
    layout = {"kind": "numeric", "form": "NR2", "unit": "mm", "step": "0.001"}
    profile = profile_of(layout, {"kind": "line", "end": b"\n", "max_bytes": 80}, MM)
    good = [b"+1.25\n", b"+12.5\n", b"-0.5\n", b"+0.125\n", b"-0.0\n", b"+123.4\n"]
    bad = [b"+1.250\n", b"+01.25\n", b"+0.500\n", b"+1.00\n", b"+0.0005\n"]
    same_of(profile, good * 4 + bad)


def test_numbers_with_an_exponent_are_read_in_blocks_from_the_smallest_to_the_largest():
    profile = profile_called("numeric-query")
    shown = [Decimal(1).scaleb(p).quantize(Decimal("0.0001")) for p in range(-4, 5)]
    shown += [Decimal("0.0000"), Decimal("-0.0000"), Decimal("-9999.9999"), Decimal("0.0300")]
    frames = [profile.encode(Shown(value, Unit.MM)) for value in shown]
    beyond = [b"+1.00000001E+01\n", b"+1.23456789E-02\n", b"+0.12345600E-01\n", b"9.91E37\n"]
    same_of(profile, frames * 3 + beyond)


def test_lengths_are_rounded_once_even_where_no_float_can_count():
    profile = profile_of(
        {
            "kind": "counts",
            "fields": [
                {"field": "constant", "value": b"\xa5"},
                {"field": "count", "bits": 48, "order": "high byte first"},
            ],
            "step": "0.0000001",
            "unit": "in",
        },
        {"kind": "fixed", "length": 7},
        {"in": "0.0000001"},
    )
    counts = [(1 << 47) - 1 - 7919 * n for n in range(12)] + [-(1 << 47) + 3 * n for n in range(12)]
    wire = b"".join(b"\xa5" + count.to_bytes(6, "big", signed=True) for count in counts)
    decoder = BlockDecoder()
    decoder.add("g", profile)
    decoder.receive([("g", wire, 1.0)])
    (block,) = decoder.receive([("g", wire, 1.001)])
    assert isinstance(block, Block)
    exact = [Decimal(count) * Decimal("0.0000001") * Decimal("25.4") for count in counts]
    assert block.value_mm.tolist() == [float(each) for each in exact]
    assert [each.value_mm for each in block.readings()] == exact
