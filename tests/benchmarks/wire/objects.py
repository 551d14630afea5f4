"""What one object a reading costs, and a length in millimetres: rows W3 and W9.

    python -m tests.benchmarks.wire.objects [--profile NAME ...] [--rounds N]

Bytes of 16 gauges are decoded in sweeps, without ports: W1 says what reading them costs. Figures
are medians of rounds, in nanoseconds of this thread's CPU a frame.
"""

import argparse
import statistics
import time
from decimal import Decimal

from drivers.blocks import Block, BlockDecoder
from drivers.decoder import Decoder
from drivers.profiles import builtin_profiles
from drivers.reading import Reading, Shown, Unit
from tests.benchmarks.wire.reading import NUMBERS, patient

GAUGES = 16
UNITS_READ = 100_000
"""Readings whose property is asked for; each is as quick as the next."""


def numbered_in(profile, unit):
    """Frames that show 1000, 1001, ... steps of ``unit``."""
    step = profile.resolution[unit]
    shown = [Shown(step * (1000 + n), unit, sequence=1, label="07") for n in range(NUMBERS)]
    return [profile.encode(each) for each in shown]


def blocks_of(profile, unit, rounds):
    """The blocks of each round, and what decoding it took a frame, in nanoseconds."""
    decoder, data = BlockDecoder(), b"".join(numbered_in(profile, unit))
    for number in range(GAUGES):
        decoder.add(f"G-{number}", profile)
    for turn in range(rounds + 1):
        sweep = [(f"G-{number}", data, 1.0 + turn / 1000) for number in range(GAUGES)]
        began_s = time.thread_time()
        found = [each for each in decoder.receive(sweep) if isinstance(each, Block)]
        took_s = time.thread_time() - began_s
        if turn:  # the first is not believed: a stream may have been joined inside a frame
            rows = sum(map(len, found))
            assert rows >= GAUGES * NUMBERS - 1, f"{rows} of {GAUGES * NUMBERS} came in blocks"
            yield found, took_s / rows * 1e9


def objects(profile, rounds=25):
    """W3: CPU a frame with one ``Reading`` each, by block and one by one, in nanoseconds."""
    profile, took = patient(profile), []
    for found, decoding_ns in blocks_of(profile, Unit.MM, rounds):
        began_s = time.thread_time()
        kept = [reading for block in found for reading in block.readings()]
        took.append(decoding_ns + (time.thread_time() - began_s) / len(kept) * 1e9)
    return {"objects_ns": statistics.median(took), "one_by_one_ns": one_by_one(profile)}


def one_by_one(profile, rounds=5):
    """What ``Decoder`` takes for a frame, in nanoseconds."""
    decoder, data, took = Decoder(profile), b"".join(numbered_in(profile, Unit.MM)), []
    for turn in range(rounds):
        began_s = time.thread_time()
        events = decoder.receive(data, 1.0 + turn / 1000)
        took.append((time.thread_time() - began_s) / len(events) * 1e9)
    return statistics.median(took)


def conversion(profile, rounds=25):
    """W9: a length in millimetres from the gauge's inches, or millimetres if it has no other."""
    profile = patient(profile)
    unit = Unit.INCH if Unit.INCH in profile.resolution else Unit.MM
    took = []
    for found, _ in blocks_of(profile, unit, rounds):
        began_s = time.thread_time()
        rows = sum([len(block.value_mm) for block in found])
        took.append((time.thread_time() - began_s) / rows * 1e9)
    return {"unit": unit.value, "conversion_ns": statistics.median(took)}


def property_ns(unit, rounds=5):
    """What ``Reading.value_mm`` takes, the loop around it taken off, in nanoseconds."""
    readings = [Reading(Decimal("0.50000"), unit, 1.0, b"")] * UNITS_READ
    took = []
    for _ in range(rounds):
        began_s = time.thread_time()
        for reading in readings:
            reading.value_mm  # noqa: B018
        middle_s = time.thread_time()
        for reading in readings:
            reading  # noqa: B018
        took.append(2 * middle_s - began_s - time.thread_time())
    return statistics.median(took) / UNITS_READ * 1e9


def main():
    profiles = {profile.name: profile for profile in builtin_profiles()}
    asked = argparse.ArgumentParser()
    asked.add_argument("--profile", nargs="+", choices=profiles, default=list(profiles))
    asked.add_argument("--rounds", type=int, default=25)
    given = asked.parse_args()
    for name in given.profile:
        found = objects(profiles[name], given.rounds) | conversion(profiles[name], given.rounds)
        cells = [f"{key} {v if isinstance(v, str) else round(v, 1)}" for key, v in found.items()]
        print(f"W3, W9 {name}: {', '.join(cells)}", flush=True)
    for unit in Unit:
        print(f"W9 one object, {unit.value}: {property_ns(unit):.1f} ns")


if __name__ == "__main__":
    main()
