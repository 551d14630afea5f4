"""The plot: what reading costs against the number of gauges, beside the floor and the peers."""

import math

from tests.benchmarks.settling.svg import (
    GREEN,
    GREY,
    INK,
    PALE_GREY,
    RED,
    curve,
    dot,
    line,
    page,
    words,
)
from tests.benchmarks.wire.delays import LINE, compared
from tests.benchmarks.wire.ways import PEERS, Asyncio, Floor, Lines, Ours, Pattern, Waiting

GAUGES = (1, 16, 64, 128)
WIDTH, HEIGHT, LEFT, RIGHT, TOP, BOTTOM = 760, 420, 60, 470, 40, 50
LOOKS = {
    Floor: (INK, "4 3", "floor: read and split, no values"),
    Ours: (GREEN, "", "restpoint: every frame checked"),
    Pattern: (GREY, "", "regular expression, unchecked"),
    Asyncio: (GREY, "6 3", "asyncio, unchecked"),
    Waiting: (RED, "6 3", "pyserial, what is waiting, threads"),
    Lines: (RED, "", "pyserial readline, threads"),
}


def costs(profile, seconds, rounds):
    """By way, CPU per cent and the share that was lost, for each of ``GAUGES`` at line rate."""
    found = {}
    for count in GAUGES:
        load = {**LINE, "seconds": seconds}
        for name, each in compared(profile, count, load, (Floor, Ours, *PEERS), rounds).items():
            lost = each["lost"] / rounds
            share = lost / max(lost + each["frames"], 1)
            found.setdefault(name, []).append((count, each["cpu_percent"], share))
    return found


def drawn(found):
    """The plot as SVG: both axes in steps of ten; a ring where frames were lost or late."""

    def across(count):
        return LEFT + (RIGHT - LEFT) * math.log10(count) / math.log10(GAUGES[-1])

    def up(percent):
        share = (math.log10(max(percent, 1.0)) - 0) / 2
        return HEIGHT - BOTTOM - (HEIGHT - BOTTOM - TOP) * min(share, 1.0)

    parts = [
        words(
            LEFT, 22, "CPU of the reader, % of one core; each gauge 823 frames a second", bold=True
        )
    ]
    for percent in (1, 2, 5, 10, 20, 50, 100):
        parts.append(line(LEFT, up(percent), RIGHT, up(percent), PALE_GREY))
        parts.append(words(LEFT - 8, up(percent) + 4, f"{percent}", anchor="end"))
    for count in GAUGES:
        parts.append(line(across(count), TOP, across(count), HEIGHT - BOTTOM, PALE_GREY))
        parts.append(words(across(count), HEIGHT - BOTTOM + 18, f"{count}", anchor="middle"))
    parts.append(words(RIGHT, HEIGHT - 10, "gauges", anchor="end"))
    ends = []
    for way, (colour, dashes, said) in LOOKS.items():
        points = [(across(count), up(percent)) for count, percent, _ in found[way.name]]
        parts.append(curve(points, colour, 2.0 if way is Ours else 1.4, dashes))
        for (x, y), (_, _, share) in zip(points, found[way.name], strict=True):
            parts.append(dot(x, y, 3, colour))
            if share > 0.001:
                parts.append(words(x, y - 7, f"{100 * share:.0f} % lost", colour, "middle", 10))
        ends.append((points[-1][1], colour, said))
    below = 0.0
    for y, colour, said in sorted(ends):
        below = max(y + 4, below + 16)
        parts.append(words(RIGHT + 12, below, said, colour))
    return page(WIDTH, HEIGHT, parts)
