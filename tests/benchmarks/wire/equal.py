"""That reading in blocks says what the decoder of single frames says: the long form.

    python -m tests.benchmarks.wire.equal [--damaged N] [--seed N]

goes on until N frames were damaged, spread over all built-in profiles and over made-up ones of
every layout, and prints one row a layout. Any difference ends it with an error.
"""

import argparse
import random
import sys
import warnings

from hypothesis.errors import NonInteractiveExampleWarning

from drivers.errors import FrameError
from drivers.profiles import builtin_profiles
from tests.drivers.blocks.block_tools import Tally, compare, dirty_stream, frames_of, sealed
from tests.drivers.layout_tools import PROFILES, shown_values

STREAMS = 20
"""Streams a made-up profile is heard for."""


def frames_and_near(profile, shown, chance):
    """Frames of samples and of what is ``shown``, and a few that only the layout refuses."""
    frames, payloads = frames_of(profile), []
    for each in shown:
        try:
            frames.append(profile.encode(each))
        except FrameError:
            continue
        payloads.append(profile.layout.encode(each))
    return 4 * frames + sealed(profile, payloads, chance)


def profiles_of(layout, chance):
    """Profiles of a layout for ever, each with frames: the built-in ones and made-up ones by turns.

    hypothesis makes them up; it is asked for single examples, which it warns of.
    """
    builtin = [p for p in builtin_profiles() if p.layout.kind == layout]
    while True:
        profile = PROFILES[layout].example()
        yield (
            profile,
            frames_and_near(profile, [shown_values(profile).example() for _ in range(6)], chance),
        )
        for profile in builtin:
            yield profile, frames_and_near(profile, [s.shown for s in profile.samples], chance)


def equal_of(layout, damaged=10_000, seed=1):
    """Both ways over streams of one layout's profiles until so many frames were damaged."""
    chance, tally = random.Random(f"{layout} {seed}"), Tally()
    for profile, frames in profiles_of(layout, chance):
        for _ in range(STREAMS):
            part = chance.choice((0.005, 0.02, 0.1, 0.4))
            streams = [
                dirty_stream(chance, frames, 120, part, profile.serial.data_bits) for _ in range(3)
            ]
            compare([profile] * 3, [stream for stream, _ in streams], chance, tally)
            tally.damaged += sum(count for _, count in streams)
        if tally.differing:
            print(profile, *tally.differing[0], sep="\n")
        if tally.damaged >= damaged or tally.differing:
            return tally
    raise AssertionError("profiles never end")


def equal(damaged=1_000_000, seed=1):
    """By layout, what came out of it: figures, ``differing`` must be 0."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", NonInteractiveExampleWarning)
        found = {layout: equal_of(layout, damaged // len(PROFILES), seed) for layout in PROFILES}
    return {
        layout: vars(tally) | {"differing": len(tally.differing)} for layout, tally in found.items()
    }


def main():
    asked = argparse.ArgumentParser()
    asked.add_argument("--damaged", type=int, default=1_000_000)
    asked.add_argument("--seed", type=int, default=1)
    given = asked.parse_args()
    found = equal(given.damaged, given.seed)
    for layout, figures in found.items():
        print(layout, *(f"{key} {value}" for key, value in figures.items()), flush=True)
    sys.exit(any(figures["differing"] for figures in found.values()))


if __name__ == "__main__":
    main()
