"""Long dirty streams, and what the two decoders make of them."""

import random
from dataclasses import dataclass, field
from itertools import accumulate

from drivers.blocks import Block, BlockDecoder
from drivers.decoder import Decoder
from drivers.reading import BadFrame, Reading


@dataclass
class Tally:
    """What came out of streams, so that a run can say that it looked at something."""

    frames: int = 0
    damaged: int = 0
    in_blocks: int = 0
    one_by_one: int = 0
    bad: int = 0
    differing: list = field(default_factory=list)


def dirty_stream(chance, frames, count, part, data_bits=8):
    """``count`` frames, ``part`` of them damaged in one of seven ways; the bytes, and how many
    were damaged."""
    stream, damaged = [], 0
    while len(stream) < count:
        # Runs of one frame among others: what a gauge at rest sends.
        run = chance.choice((1, 1, 3, 30))
        stream += [chance.choice(frames)] * run if run > 1 else [chance.choice(frames)]
    for at in range(len(stream)):
        if chance.random() < part:
            stream[at] = _damaged(bytearray(stream[at]), chance, data_bits)
            damaged += 1
    return b"".join(stream), damaged


def _damaged(frame, chance, data_bits):
    at = chance.randrange(len(frame))
    match chance.randrange(7):
        case 0:
            del frame[at]
        case 1:
            frame[at:at] = frame[at : at + 1]
        case 2:
            frame[at] ^= 1 << chance.randrange(data_bits)
        case 3:
            del frame[at:]
        case 4:
            frame[at:at] = chance.randbytes(chance.randrange(1, 20))
        case 5:
            frame[at] = chance.choice(frame)
        case _:
            other = chance.randrange(len(frame))
            frame[at], frame[other] = frame[other], frame[at]
    return bytes(frame)


def sealed(profile, payloads, chance):
    """Frames of damaged payloads whose marks and checksum are right: the layout alone can tell."""
    frames = []
    for payload in payloads:
        body = bytearray(payload)
        for _ in range(chance.choice((1, 1, 2))):
            at = chance.randrange(len(body))
            others = (chance.choice(body), body[at] ^ 1 << chance.randrange(8), 0x30, 0x80)
            body[at] = chance.choice(others) & (1 << profile.serial.data_bits) - 1
        whole = bytes(body)
        if profile.check:
            whole = profile.check.append(whole, *profile.frame.marks)
        frames.append(profile.frame.wrap(whole))
    return frames


def arrivals_of(stream, chance, gap_s, most_bytes=600):
    """``stream`` chopped anyhow, with times, pauses, and looks at an idle port in between."""
    t_s, at = 10.0, 0
    while at < len(stream):
        t_s += chance.choice((0.0, 0.001, 0.001, 0.001, gap_s / 2))
        match chance.randrange(40):
            case 0:
                t_s += gap_s
            case 1:
                yield b"", t_s + chance.choice((0.0, gap_s))
                t_s += gap_s
        size = chance.choice((1, 7, 40, most_bytes // 3, most_bytes))
        yield stream[at : at + size], t_s
        at += size
    yield b"", t_s + 2 * gap_s


def exactly(event):
    """An event with everything that ``==`` overlooks: the last digit shown, a zero's sign."""
    if isinstance(event, Reading):
        return (type(event), str(event.value), event)
    return (type(event), event)


def by_blocks(decoder, arrivals, tally):
    """By gauge, the events of ``arrivals`` to a ``BlockDecoder``."""
    events = {}
    for sweep in arrivals:
        for found in decoder.receive(sweep):
            if isinstance(found, Block):
                rows = list(found.readings())
                assert len(rows) == len(found) == sum(part.rows for part in found.parts)
                assert [float(row.value_mm) for row in rows] == found.value_mm.tolist()
                begin = 0
                for part, end in zip(
                    found.parts, accumulate(part.rows for part in found.parts), strict=True
                ):
                    events.setdefault(part.gauge, []).extend(rows[begin:end])
                    begin = end
                tally.in_blocks += len(rows)
            else:
                events.setdefault(found.gauge, []).append(found.event)
                tally.one_by_one += 1
    return events


def compare(profiles, streams, chance, tally):
    """Whether both decoders say the same of the streams of several gauges, read by turns.

    Args:
        profiles: of each gauge.
        streams: of each gauge.
        chance: a ``random.Random``, for chopping and turns.
        tally: added to.
    """
    blocks, singles, expected, waiting = BlockDecoder(), {}, {}, {}
    for number, (profile, stream) in enumerate(zip(profiles, streams, strict=True)):
        gauge = f"G-{number}"
        blocks.add(gauge, profile)
        singles[gauge], expected[gauge] = Decoder(profile), []
        waiting[gauge] = list(arrivals_of(stream, chance, profile.sends.gap_s))[::-1]
    sweeps = []
    while any(waiting.values()):
        sweep = []
        for gauge, left in waiting.items():
            for _ in range(min(len(left), chance.choice((0, 1, 1, 1, 2)))):
                data, t_s = left.pop()
                sweep.append((gauge, data, t_s))
                expected[gauge] += singles[gauge].receive(data, t_s)
        sweeps.append(sweep)
    events = by_blocks(blocks, sweeps, tally)
    for gauge, single in singles.items():
        due, got = expected[gauge], events.get(gauge, [])
        tally.frames += single.good
        tally.bad += sum(isinstance(event, BadFrame) for event in due)
        if list(map(exactly, due)) != list(map(exactly, got)):
            tally.differing.append((gauge, due, got))
        same = blocks.decoder(gauge)
        assert (same.good, same.bad, same.waiting) == (single.good, single.bad, single.waiting)


def frames_of(profile):
    """Sample frames, those with a number more often."""
    return [s.wire for s in profile.samples for _ in range(1 if s.number is None else 5)]


def check_same(profiles, frames, seed, part, count=120):
    """Assert that both decoders say the same of dirty streams of ``frames``; what came out."""
    chance, tally = random.Random(seed), Tally()
    streams = [
        dirty_stream(chance, own, count, part, profile.serial.data_bits)[0]
        for profile, own in zip(profiles, frames, strict=True)
    ]
    compare(profiles, streams, chance, tally)
    assert tally.differing == []
    return tally
