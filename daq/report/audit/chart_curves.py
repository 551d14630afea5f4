"""The error curves of one gauge over the years, and how its errors went, as one SVG chart."""

import math
from collections.abc import Iterator, Sequence
from itertools import pairwise

from daq.ink.svg import BAD, INK, SOFT, Frame, fitted, line, write
from daq.report.audit.marks import WIDTH, dot
from daq.report.audit.model import Curve, GaugeView
from daq.report.drawing import OUTSIDE, picture, ticks

LEFT, TOP, PLOT, FOOT = 58.0, 22.0, 140.0, 38.0
MIDDLE, SECOND, RIGHT = 380.0, 470.0, 688.0
"""Where the left plot ends, and where the right one begins and ends."""

Spot = tuple[float, float]

OLDEST, NEWEST = 0.75, 2.2
"""Weight of the lines; between them it grows with the runs."""

FAR = 4.0
"""Errors beyond so many times the limit are arrows at the edge, and leave the scale to the rest."""


def curves_chart(gauge: GaugeView) -> str:
    """On the left the error over the travel, a line a run; on the right the errors over time."""
    low, high = _range(gauge)
    frames = (
        Frame(LEFT, TOP, MIDDLE, TOP + PLOT, low, high),
        Frame(SECOND, TOP, RIGHT, TOP + PLOT, low, high),
    )
    parts: list[str] = []
    for frame in frames:
        parts += _ground(gauge, frame)
    parts += _over_travel(gauge.curves, frames[0])
    parts += _over_time(gauge.curves, frames[1])
    title = f"{gauge.gauge}: errors over the travel and over the years"
    return picture(WIDTH, TOP + PLOT + FOOT, title, parts)


def _range(gauge: GaugeView) -> tuple[float, float]:
    ends = [0.0]
    limit = gauge.limit or 0.0
    far = FAR * limit if limit else math.inf
    if limit:
        ends += [-limit, limit]
    for each in gauge.curves:
        ends += [max(each.low, -far), min(each.high, far)]
    low, high = min(ends), max(ends)
    room = 0.08 * (high - low) or 1e-6
    return low - room, high + room


def _ground(gauge: GaugeView, frame: Frame) -> Iterator[str]:
    """What lies outside the limits, the scale, the zero and the limits."""
    if gauge.limit is not None:
        top, bottom = frame.y(gauge.limit), frame.y(-gauge.limit)
        for y, height in ((frame.top, top - frame.top), (bottom, frame.bottom - bottom)):
            yield (
                f'<rect class="outside" x="{frame.left:g}" y="{y:.2f}" '
                f'width="{frame.right - frame.left:g}" height="{height:.2f}" fill="{OUTSIDE}"/>'
            )
        for y in (top, bottom):
            look = f'stroke="{BAD}" stroke-width="1.2" stroke-dasharray="7 3"'
            yield line("limit", (frame.left, y, frame.right, y), look)
    for at, digits in ticks(frame.low, frame.high, 6):
        y = frame.y(at)
        yield line("tick", (frame.left - 4, y, frame.left, y), f'stroke="{INK}"')
        yield write(frame.left - 7, y + 4, digits, size=10, anchor="end")
    y = frame.y(0)
    yield line("zero", (frame.left, y, frame.right, y), f'stroke="{INK}" stroke-width="0.7"')
    yield (
        f'<path class="frame" d="M{frame.left:g},{frame.top:g} V{frame.bottom:g} '
        f'H{frame.right:g}" fill="none" stroke="{INK}"/>'
    )


def _over_travel(curves: Sequence[Curve], frame: Frame) -> Iterator[str]:
    lengths = [each for curve in curves for each in curve.travel]
    first, last = min(lengths), max(lengths)
    long = (last - first) or 1.0

    def x(travel: float) -> float:
        return frame.left + 10 + (travel - first) / long * (frame.right - frame.left - 20)

    for at, digits in ticks(first, first + long, 8):
        yield line("tick", (x(at), frame.bottom, x(at), frame.bottom + 4), f'stroke="{INK}"')
        yield write(x(at), frame.bottom + 15, digits.lstrip("+"), size=10, anchor="middle")
    middle = (frame.left + frame.right) / 2
    yield write(middle, frame.bottom + 31, "travel, mm", size=10.5, anchor="middle", ink=SOFT)
    yield write(frame.left, 12, "error over the travel, mm", size=10.5, ink=SOFT)
    labels, last_place = [], len(curves) - 1
    for place, curve in enumerate(curves):
        places = list(zip(map(x, curve.travel), map(frame.y, curve.errors), strict=True))
        yield from _joined(curve, places, frame, place / last_place if last_place else 1.0)
        labels.append((frame.held(curve.errors[-1]), curve.day[:4], place == last_place))
    for y, year, is_newest in _apart(labels, frame):
        yield write(frame.right + 4, y + 3.5, year, size=10, bold=is_newest)


def _joined(curve: Curve, places: Sequence[Spot], frame: Frame, share: float) -> Iterator[str]:
    """A run's line, cut off where it leaves the frame; ``share`` is 0 for the oldest, 1 newest."""
    is_newest = share == 1.0
    weight = OLDEST + (NEWEST - OLDEST) * share**3
    ink = INK if is_newest else SOFT
    dashes = ' stroke-dasharray="4 2"' if curve.found == "as left" else ""
    look = f'stroke="{ink}" stroke-width="{weight:.2f}"{dashes}'
    for one, other in pairwise(places):
        if ends := _within(one, other, frame):
            yield line("curve", ends, look)
    for (x, y), error in zip(places, curve.errors, strict=True):
        if not frame.shows(error):
            continue
        size = 2.6 if is_newest else 1.4
        yield f'<circle class="point" cx="{x:.2f}" cy="{y:.2f}" r="{size}" fill="{ink}"/>'


def _within(one: Spot, other: Spot, frame: Frame) -> tuple[float, float, float, float] | None:
    """The part of a line that lies in the frame; None if none does."""
    (x1, y1), (x2, y2) = one, other
    if min(y1, y2) > frame.bottom or max(y1, y2) < frame.top:
        return None
    ends = []
    for x, y in (one, other):
        edge = min(max(y, frame.top), frame.bottom)
        ends += [x if edge == y else x1 + (edge - y1) / (y2 - y1) * (x2 - x1), edge]
    return ends[0], ends[1], ends[2], ends[3]


def _apart(
    labels: Sequence[tuple[float, str, bool]], frame: Frame, least: float = 11.0
) -> Iterator[tuple[float, str, bool]]:
    """Labels moved until none stands on another; of one year only the lowest is told."""
    by_year: dict[str, tuple[float, str, bool]] = {}
    for label in labels:
        by_year[label[1]] = label  # the year's newest run
    placed = sorted(by_year.values())
    y = frame.top - least
    spots = []
    for at, *_ in placed:
        y = max(at, y + least)
        spots.append(y)
    over = max(spots[-1] - frame.bottom, 0.0) if spots else 0.0
    for spot, (_, year, is_newest) in zip(spots, placed, strict=True):
        yield spot - over, year, is_newest


def _over_time(curves: Sequence[Curve], frame: Frame) -> Iterator[str]:
    """Least to largest error of each run; a ring at the worst as found, else a disc."""
    years = [each.year for each in curves]
    first, last = min(years), max(years)
    long = (last - first) or 1.0
    wide = frame.right - frame.left - 28

    def x(year: float) -> float:
        share = (year - first) / long if last > first else 0.5
        return frame.left + 14 + share * wide

    yield write(frame.left, 12, "least to largest error, mm", size=10.5, ink=SOFT)
    whole = range(math.ceil(first), math.floor(last) + 1)
    every = max(1, math.ceil(len(whole) / 6))
    for year in whole[::every]:
        yield line("tick", (x(year), frame.bottom, x(year), frame.bottom + 4), f'stroke="{INK}"')
        yield write(x(year), frame.bottom + 15, str(year), size=10, anchor="middle")
    for curve in curves:
        at = x(curve.year)
        low, high = frame.held(curve.low), frame.held(curve.high)
        yield line("span", (at, low, at, high), f'stroke="{INK}" stroke-width="1.6"')
        worst = curve.high if curve.high >= -curve.low else curve.low
        yield from _worst(curve, worst, at, frame)


def _worst(curve: Curve, worst: float, x: float, frame: Frame) -> Iterator[str]:
    if frame.shows(worst):
        yield dot("worst", x, frame.y(worst), filled=curve.found == "as left")
        return
    up = worst > frame.high
    y, way = (frame.top, 9) if up else (frame.bottom, -9)
    yield f'<path class="far" d="M{x:.2f},{y:.2f} l-5,{way} h10 z" fill="{INK}"/>'
    words = fitted(curve.worst, 60, 9)
    is_left = x < (frame.left + frame.right) / 2
    anchor, aside = ("start", 7) if is_left else ("end", -7)
    yield write(x + aside, y + (9 if up else -3), words, size=9, anchor=anchor, bold=True)
