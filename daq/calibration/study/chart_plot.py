"""The picture of a control chart: points, centre, limits, and every point that breaks a rule."""

import math
from collections.abc import Iterator, Sequence

from daq.calibration.study.charts import Chart
from daq.calibration.study.drawing import apart, halo, path, picture, room, scale, sign
from daq.ink.svg import BAD, INK, LETTER, SOFT, Frame, fitted, line, write

WIDTH = 760
_WIDEST_NAME = 90.0
_MOST_LINES = 8


def chart_picture(chart: Chart, labels: Sequence[str] = (), unit: str = "") -> str:
    """The chart as an SVG image.

    Args:
        chart: what to draw.
        labels: one a value of the data; without them the points are numbered from 1.
        unit: of the values, empty for none.

    A flagged point has a square about it and a letter, which says below the chart what it broke.
    """
    names = list(labels[chart.first :]) or [
        str(i + 1 + chart.first) for i in range(len(chart.values))
    ]
    ends = [*chart.values, *(chart.mirrored or ()), chart.centre]
    ends += [*(chart.lower or ()), *(chart.upper or ())]
    frame = Frame(84, 62, WIDTH - 130, 306, *room(ends))
    n = len(chart.values)
    xs = [frame.x((i + 0.5) / n) for i in range(n)]
    parts = [*scale(frame, f"{_axis(chart)}, {unit}" if unit else _axis(chart))]
    parts += _lines(chart, frame, xs)
    for series in (chart.values, chart.mirrored):
        if series is not None:
            ends_of = [(x, frame.y(value)) for x, value in zip(xs, series, strict=True)]
            parts.append(path("course", ends_of, f'stroke="{INK}" stroke-width="1"'))
            size = 3.2 if n <= 60 else 1.8
            number = 0 if series is chart.values else 1
            parts += [sign(number, x, y, size) for x, y in ends_of]
    letters = _letters(chart)
    parts += _flagged(chart, frame, xs, letters)
    parts += _named(frame, xs, names)
    if chart.mirrored is not None:
        parts += _key(frame)
    y = frame.bottom + 40
    parts.append(write(frame.left, y, f"Rules: {chart.rules}", size=10, ink=SOFT))
    for words in _told(chart, names, letters):
        y += 16
        parts.append(write(frame.left, y, words, ink=BAD))
    if not chart.flags:
        y += 16
        parts.append(write(frame.left, y, "No point breaks a rule."))
    return picture(WIDTH, y + 14, f"Chart of {chart.name}", parts)


def _axis(chart: Chart) -> str:
    return "sum" if chart.mirrored is not None else chart.name.split(",")[0].split(" of the ")[0]


def _lines(chart: Chart, frame: Frame, xs: Sequence[float]) -> Iterator[str]:
    """Centre and limits, each with its figure beyond the right edge."""
    named = [("centre", (chart.centre,) * len(xs), f'stroke="{INK}" stroke-width="1"')]
    look = f'stroke="{BAD}" stroke-width="1.4" stroke-dasharray="8 4"'
    for name, limits in (("upper limit", chart.upper), ("lower limit", chart.lower)):
        if limits is not None:
            named.append((name, limits, look))
    heights = [frame.y(limits[-1]) for _, limits, _ in named]
    places = apart(heights, 27, frame.top - 4, frame.bottom - 10)
    half = (frame.right - frame.left) / len(xs) / 2
    for (name, limits, style), place in zip(named, places, strict=True):
        # A step from point to point, so that each point is seen against its own limit.
        ends = [
            (x + side, frame.y(limit))
            for x, limit in zip(xs, limits, strict=True)
            for side in (-half, half)
        ]
        yield path(name.replace(" ", "-"), [*ends, (frame.right + 6, place)], style)
        ink = INK if name == "centre" else BAD
        yield write(frame.right + 10, place + 1, name, ink=ink)
        yield write(frame.right + 10, place + 14, chart.shown(limits[-1]), ink=ink)


def _named(frame: Frame, xs: Sequence[float], names: Sequence[str]) -> Iterator[str]:
    """Names beneath the points, as many as there is room for side by side."""
    slot = (frame.right - frame.left) / len(xs)
    widest = min(LETTER * 10 * (max(map(len, names)) + 1), _WIDEST_NAME)
    every = max(1, math.ceil(widest / slot))
    for x, name in list(zip(xs, names, strict=True))[::every]:
        yield line("tick", (x, frame.bottom, x, frame.bottom + 4), f'stroke="{INK}"')
        shown = fitted(name, max(every * slot, widest), 10)
        yield write(x, frame.bottom + 16, shown, size=10, anchor="middle")


def _key(frame: Frame) -> Iterator[str]:
    """Which of the two series is which."""
    x, y = frame.left, frame.top - 12
    for number, words in ((0, "sum of what lies above"), (1, "sum of what lies below, downwards")):
        yield sign(number, x + 5, y - 4)
        yield write(x + 15, y, words)
        x += 15 + LETTER * 11 * len(words) + 20


def _letters(chart: Chart) -> dict[str, str]:
    """A letter for each rule that was broken."""
    broken = dict.fromkeys(flag.rule for flag in chart.flags)
    return {rule: chr(ord("a") + number) for number, rule in enumerate(broken)}


def _flagged(
    chart: Chart, frame: Frame, xs: Sequence[float], letters: dict[str, str]
) -> Iterator[str]:
    """A square about every flagged point, and the letters of what it breaks."""
    by_point: dict[tuple[int, bool], list[str]] = {}
    for flag in chart.flags:
        is_low = chart.mirrored is not None and "low side" in flag.rule
        by_point.setdefault((flag.index, is_low), []).append(letters[flag.rule])
    for (index, is_low), broken in by_point.items():
        series = chart.mirrored if is_low and chart.mirrored is not None else chart.values
        x, y = xs[index], frame.y(series[index])
        yield (
            f'<rect class="flagged" x="{x - 6.5:.2f}" y="{y - 6.5:.2f}" width="13" height="13" '
            f'fill="none" stroke="{BAD}" stroke-width="1.8"/>'
        )
        is_above = series[index] >= chart.centre
        down = -10 if is_above else 20
        words = "".join(sorted(broken))
        yield halo(write(x, y + down, words, size=11, anchor="middle", ink=BAD, bold=True))


def _told(chart: Chart, names: Sequence[str], letters: dict[str, str]) -> Iterator[str]:
    """A line for each rule that was broken: by which points."""
    room_for = int((WIDTH - 84 - 14) / (LETTER * 11))
    for rule, letter in list(letters.items())[:_MOST_LINES]:
        points = [names[flag.index] for flag in chart.flags if flag.rule == rule]
        count = f"{len(points)} point{'' if len(points) == 1 else 's'}"
        words = f"{letter}: {rule}; {count}: {', '.join(points)}"
        yield words if len(words) <= room_for else f"{words[: room_for - 1]}…"
