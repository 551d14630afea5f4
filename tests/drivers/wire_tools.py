"""What the drivers' tests share: streams, chopping, and lines that are set wrong."""

import os
from collections.abc import Iterable, Iterator
from decimal import Decimal

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st

from drivers.decoder import Decoder
from drivers.profile import GaugeProfile
from drivers.profiles import builtin_profiles
from drivers.reading import BadFrame, Event, NoNumber, Reading, Shown, Unit

LOOKS = settings(
    max_examples=int(os.environ.get("LOOKS", "20")),
    derandomize="LOOKS" not in os.environ,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow],
)
"""How hard hypothesis looks: the same few examples each time, or as many new ones as LOOKS says."""

BUILTIN = builtin_profiles()
NAMES = [profile.name for profile in BUILTIN]
CHECKED = [p for p in BUILTIN if p.check is not None or p.frame.kind == "modbus"]
UNCHECKED = [p for p in BUILTIN if p not in CHECKED]


def named(profile: GaugeProfile) -> str:
    return profile.name


def profile_called(name: str) -> GaugeProfile:
    return BUILTIN[NAMES.index(name)]


def receive_all(
    profile: GaugeProfile, pieces: Iterable[bytes], t_s: float = 10.0, opened_t_s: float = 0.0
) -> list[Event]:
    """The events of ``pieces``, all read at one time, long after the port was opened."""
    decoder = Decoder(profile, opened_t_s)
    return [event for piece in pieces for event in decoder.receive(piece, t_s)]


def bytewise(wire: bytes) -> Iterator[bytes]:
    return (wire[at : at + 1] for at in range(len(wire)))


def readings(events: Iterable[Event]) -> list[Reading]:
    return [event for event in events if isinstance(event, Reading)]


def bad_frames(events: Iterable[Event]) -> list[BadFrame]:
    return [event for event in events if isinstance(event, BadFrame)]


def shown_by(event: Event) -> Shown | None:
    """What an event says the gauge showed; None for a bad frame.

    A frame without a number keeps no unit, sequence or label.
    """
    match event:
        case Reading():
            return Shown(event.value, event.unit, event.status, event.sequence, event.label)
        case NoNumber():
            return Shown(None, Unit.MM, event.status)
        case BadFrame():
            return None


def as_said(shown: Shown) -> Shown:
    return shown if shown.value is not None else Shown(None, Unit.MM, shown.status)


def number_frame(profile: GaugeProfile) -> bytes:
    """The profile's first sample with a number."""
    return next(sample.wire for sample in profile.samples if sample.number is not None)


def in_step(profile: GaugeProfile, t_s: float = 10.0) -> Decoder:
    """A decoder that has had good frames before, and is ready for the next at ``t_s``."""
    decoder = Decoder(profile)
    for _ in range(3):
        decoder.receive(number_frame(profile), t_s)
    assert decoder.good >= 1
    return decoder


def show(number: str, unit: Unit = Unit.MM, **more: object) -> Shown:
    return Shown(Decimal(number), unit, **more)  # type: ignore[arg-type]


@st.composite
def choppings(draw: st.DrawFn, wire: bytes) -> list[bytes]:
    """``wire`` in pieces of any size, empty ones among them."""
    cuts = sorted(draw(st.lists(st.integers(0, len(wire)), max_size=12)))
    return [wire[a:b] for a, b in zip([0, *cuts], [*cuts, len(wire)], strict=True)]


@st.composite
def dirty_streams(draw: st.DrawFn, frames: list[bytes], data_bits: int = 8) -> bytes:
    """Frames with bytes lost, doubled, flipped, cut out and put in at random places."""
    stream = bytearray()
    for frame in draw(st.lists(st.sampled_from(frames), min_size=1, max_size=6)):
        damaged = bytearray(frame)
        for _ in range(draw(st.integers(0, 2))):
            at = draw(st.integers(0, max(0, len(damaged) - 1)))
            match draw(st.integers(0, 4)):
                case 0:
                    del damaged[at : at + 1]
                case 1:
                    damaged[at:at] = damaged[at : at + 1]
                case 2 if damaged:
                    damaged[at] ^= 1 << draw(st.integers(0, data_bits - 1))
                case 3:
                    del damaged[at:]
                case _:
                    damaged[at:at] = draw(st.binary(max_size=20))
        stream += damaged
    return bytes(stream)


def heard_at_another_rate(wire: bytes, sent_baud: int, heard_baud: int) -> bytes:
    """What a port set to ``heard_baud`` makes of ``wire`` sent at ``sent_baud`` without pauses.

    A UART waits for the line to fall, samples the middle of each bit (one start, eight data, lowest
    first) by its own clock, and takes a low stop bit for a framing error: the byte is dropped.
    """
    levels = [1]
    for byte in wire:
        levels += [0, *(byte >> bit & 1 for bit in range(8)), 1]
    falls = [at for at in range(1, len(levels)) if (levels[at - 1], levels[at]) == (1, 0)]
    ratio = sent_baud / heard_baud
    heard, busy_until = bytearray(), 0.0
    for fall in falls:
        if fall >= busy_until:
            busy_until = fall + 9.5 * ratio
            samples = [_level(levels, fall + (bit + 0.5) * ratio) for bit in range(10)]
            if samples[0] == 0 and samples[9] == 1:
                heard.append(sum(level << bit for bit, level in enumerate(samples[1:9])))
    return bytes(heard)


def _level(levels: list[int], at: float) -> int:
    return levels[int(at)] if at < len(levels) else 1
