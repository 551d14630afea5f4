"""A profile's frames as shapes that can be read in blocks.

There is no shape where a block could not be sure to say what ``Decoder`` says, and none for a frame
without a number: such frames are read one by one.
"""

from collections.abc import Iterator
from itertools import combinations

import numpy as np

from drivers.blocks.binary import bcd_sketches, counts_sketches, only, registers_sketches
from drivers.blocks.numeric import numeric_sketches
from drivers.blocks.rows import Flags, Rows
from drivers.blocks.shape import ANY_BYTE, Shape, Sketch, can_be_both
from drivers.blocks.sums import SumFits, summing
from drivers.blocks.text import text_sketches
from drivers.check import Check
from drivers.framing import READ_HOLDING_REGISTERS, FixedFraming, LineFraming, MarkFraming
from drivers.layouts import BcdLayout, CountsLayout, NumericLayout, RegistersLayout, TextLayout
from drivers.profile import GaugeProfile
from drivers.reading import Unit

HEX = {"hex": frozenset(b"0123456789ABCDEF"), "small hex": frozenset(b"0123456789abcdef")}

MODBUS_CHECK = Check(
    kind="crc",
    crc={  # type: ignore[arg-type]
        "width": 16,
        "poly": 0x8005,
        "init": 0xFFFF,
        "refin": True,
        "refout": True,
        "xorout": 0,
    },
    written="low byte first",
    covers=("start", "payload"),
)
"""``MODBUS_CRC`` as a checksum over the frame's first three bytes and its registers."""


MOST_SHAPES = 255
"""A block says which of them a frame has in one byte."""


def shapes_of(profile: GaugeProfile) -> list[Shape]:
    """The shapes of ``profile``'s frames; empty if it must be read frame by frame."""
    shapes = [
        Shape(sketch, profile)
        for unit, step in profile.resolution.items()
        for sketch in _payloads(profile, unit)
        if sketch.decimals == -int(step.as_tuple().exponent)
        and _framed(sketch, profile)
        and not _may_be_the_question(sketch, profile.request)
    ]
    if len(shapes) > MOST_SHAPES or any(can_be_both(*pair) for pair in combinations(shapes, 2)):
        return []
    return shapes


def start_and_end(profile: GaugeProfile) -> tuple[bytes, bytes]:
    """What stands before and behind the payload, but for a checksum."""
    frame = profile.frame
    if isinstance(frame, LineFraming | MarkFraming | FixedFraming):
        return frame.marks
    return bytes([frame.address, READ_HOLDING_REGISTERS, 2 * frame.registers]), b""


def _payloads(profile: GaugeProfile, unit: Unit) -> Iterator[Sketch]:
    """Sketches of all payloads in ``unit``, without checksum."""
    before = len(start_and_end(profile)[0])
    decimals = -int(profile.resolution[unit].as_tuple().exponent)
    match profile.layout:
        case TextLayout() as layout:
            yield from text_sketches(layout, unit, before)
        case BcdLayout() as layout:
            yield from bcd_sketches(layout, unit, decimals, before)
        case NumericLayout(unit=own) as layout if own is unit:
            yield from numeric_sketches(layout, before)
        case CountsLayout(unit=own) as layout if own is unit:
            yield from counts_sketches(layout, before)
        case RegistersLayout() as layout:
            yield from registers_sketches(layout, unit, before)


def _framed(sketch: Sketch, profile: GaugeProfile) -> bool:
    """Put marks and checksum around a payload's sketch; whether that makes a frame."""
    frame = profile.frame
    start, end = start_and_end(profile)
    check = MODBUS_CHECK if frame.kind == "modbus" else profile.check
    body = sketch.places
    payload = body + (_check_places(check) if check else [])
    split = len(payload) - (frame.tail_bytes if isinstance(frame, MarkFraming) else 0)
    lead = len(check.lead) if check else 0
    if split not in (len(body), len(body) + lead, len(payload)):
        return False  # the end mark stands inside the checksum
    marks = [only(byte) for byte in start], [only(byte) for byte in end]
    sketch.places = [*marks[0], *payload[:split], *marks[1], *payload[split:]]
    end_at = len(start) + split
    where = [at + len(start) + (len(end) if at >= split else 0) for at in range(len(payload))]
    if check:
        parts = {
            "start": list(range(len(start))),
            "payload": where[check.skip : len(body)],
            "end": list(range(end_at, end_at + len(end))),
        }
        covered = [place for name in check.covers for place in parts[name]]
        constants = {
            at: next(iter(allowed)) for at, allowed in enumerate(sketch.places) if len(allowed) == 1
        }
        written = where[len(body) + lead :]
        sketch.known |= set(written)
        sketch.conditions.append(SumFits(check, summing(check, covered, constants), written))
    return _ends_where_due(sketch, profile, len(start), end_at)


def _check_places(check: Check) -> list[frozenset[int]]:
    """The bytes of a checksum, its lead included."""
    allowed = HEX.get(check.written, ANY_BYTE)
    return [only(byte) for byte in check.lead] + [allowed] * (check.size - len(check.lead))


def _ends_where_due(sketch: Sketch, profile: GaugeProfile, begin: int, end_at: int) -> bool:
    """Make sure that the framing would cut where the sketch ends, and not before."""
    frame = profile.frame
    if isinstance(frame, FixedFraming):
        return len(sketch.places) == frame.length
    if not isinstance(frame, LineFraming | MarkFraming):
        return True
    sought = frame.end
    if isinstance(frame, LineFraming):
        # A line is cut at the last byte of its end alone.
        begin, end_at, sought = 0, len(sketch.places) - 1, frame.end[-1:]
    if end_at + len(sought) > frame.max_bytes:
        return False
    for at in range(begin, end_at):
        ahead = sketch.places[at : at + len(sought)]
        if all(byte in allowed for byte, allowed in zip(sought, ahead, strict=False)):
            sketch.conditions.append(_IsNot(at, sought))
    return True


class _IsNot:
    """That ``sought`` does not stand at a place: the framing would take it for the end."""

    def __init__(self, at: int, sought: bytes) -> None:
        self._at, self._sought = at, sought

    def __call__(self, rows: Rows) -> Flags:
        found: Flags = np.ones(rows.count, np.bool_)
        for at, byte in enumerate(self._sought, self._at):
            found &= rows.byte(at) == byte
        return ~found


def _may_be_the_question(sketch: Sketch, request: bytes | None) -> bool:
    """Whether a frame could begin like the question that a two-wire adapter echoes."""
    if not request:
        return False
    return all(byte in allowed for byte, allowed in zip(request, sketch.places, strict=False))
