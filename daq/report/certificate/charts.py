"""The error curve of a gauge as an SVG chart: both ways, with U, as found above as left.

Errors on the way up are triangles that point up, on the way down triangles that point down, repeats
are crosses; as found is hollow, as left is filled. A bar about each is ±U. All of it can be told
apart without colour.
"""

from collections.abc import Iterator, Sequence
from decimal import Decimal
from itertools import pairwise

from daq.ink.svg import BAD, INK, SOFT, Frame, line, write
from daq.report.certificate.lines import GaugeFacts, PointLine, RunReport
from daq.report.certificate.model import CertificateModel
from daq.report.drawing import OUTSIDE, RULE, picture, ticks

WIDTH = 700
LEFT, RIGHT, TOP, PANEL, BETWEEN, FOOT = 66.0, 96.0, 36.0, 130.0, 30.0, 40.0
ALONE = 190.0
"""Height of a panel that has no other beside it."""


def error_chart(model: CertificateModel) -> str | None:
    """The errors of every run over the travel, in panels of one scale; None without a run."""
    if not model.runs:
        return None
    low, high = _range(model)
    height = ALONE if len(model.runs) == 1 else PANEL
    parts: list[str] = [*_legend(model)]
    top = TOP
    for run in model.runs:
        frame = Frame(LEFT, top, WIDTH - RIGHT, top + height, low, high)
        parts += _panel(run, model, frame)
        top += height + BETWEEN
    bottom = top - BETWEEN
    middle = (LEFT + WIDTH - RIGHT) / 2
    parts.append(write(middle, bottom + 33, "travel, mm", anchor="middle", ink=SOFT))
    title = f"{model.gauge.label}: errors over the travel with U, both ways"
    return picture(WIDTH, bottom + FOOT, title, parts)


def limits_of(run: RunReport, gauge: GaugeFacts) -> tuple[float, float] | None:
    """Between which errors a run keeps the limit over the range; None if the gauge has none.

    With a fixed zero they lie about 0. With a floating one only their distance is fixed, and they
    are laid about the middle of the run's own errors.
    """
    if not gauge.limits:
        return None
    limit = float(gauge.limits[0].limit.exact)
    if gauge.zero == "fixed":
        return -limit, limit
    errors = [float(each.error.value.exact) for each in run.points if each.series != "repeat"]
    if not errors:
        return None
    middle = (min(errors) + max(errors)) / 2
    return middle - limit / 2, middle + limit / 2


def _range(model: CertificateModel) -> tuple[float, float]:
    shown = [0.0]
    for run in model.runs:
        for point in run.points:
            at, expanded = (float(each.exact) for each in (point.error.value, point.error.expanded))
            shown += [at - expanded, at + expanded]
        if ends := limits_of(run, model.gauge):
            shown += ends
    low, high = min(shown), max(shown)
    room = 0.06 * (high - low) or 1e-6
    return low - room, high + room


def _panel(run: RunReport, model: CertificateModel, frame: Frame) -> Iterator[str]:
    yield from _ground(run, model, frame)
    travel = _travel(model)
    inner = frame.left + 14, frame.right - 14

    def x(nominal_mm: Decimal) -> float:
        return inner[0] + float(nominal_mm / travel) * (inner[1] - inner[0])

    for series in ("up", "down"):
        way = sorted(
            (each for each in run.points if each.series == series),
            key=lambda each: each.nominal.exact,
        )
        yield from _joined(way, frame, [x(each.nominal.exact) for each in way], series)
    aside = {"up": -2.2, "down": 2.2}
    for point in run.points:
        at = x(point.nominal.exact)
        if point.series == "repeat":
            yield _cross(at + 6.5, frame.y(float(point.error.value.exact)))
        else:
            yield from _mark(run, point, frame, at + aside[point.series])


def _travel(model: CertificateModel) -> Decimal:
    nominals = [each.nominal.exact for run in model.runs for each in run.points]
    return max(max(nominals), Decimal("0.001"))


def _ground(run: RunReport, model: CertificateModel, frame: Frame) -> Iterator[str]:
    """What lies outside the limits, both scales, the zero and the limits."""
    ends = limits_of(run, model.gauge)
    if ends is not None:
        bottom, top = frame.held(ends[0]), frame.held(ends[1])
        for y, height in ((frame.top, top - frame.top), (bottom, frame.bottom - bottom)):
            if height > 0:
                yield (
                    f'<rect class="outside" x="{frame.left:g}" y="{y:.2f}" '
                    f'width="{frame.right - frame.left:g}" height="{height:.2f}" fill="{OUTSIDE}"/>'
                )
    for at, digits in ticks(frame.low, frame.high, 6):
        y = frame.y(at)
        yield line("tick", (frame.left - 4, y, frame.left, y), f'stroke="{INK}"')
        yield write(frame.left - 7, y + 4, digits, anchor="end")
    middle = (frame.top + frame.bottom) / 2
    yield write(13, middle, "error, mm", anchor="middle", ink=SOFT, turned=True)
    y = frame.y(0)
    yield line("zero", (frame.left, y, frame.right, y), f'stroke="{INK}" stroke-width="0.8"')
    travel = float(_travel(model))
    wide = frame.right - frame.left - 28
    for at, digits in ticks(0, travel, 12):
        x = frame.left + 14 + at / travel * wide
        yield line("tick", (x, frame.bottom, x, frame.bottom + 4), f'stroke="{INK}"')
        yield write(x, frame.bottom + 16, digits.lstrip("+"), anchor="middle")
    if ends is not None:
        yield from _limit_lines(model.gauge, frame, ends)
    yield write(frame.right + 6, frame.top + 11, run.run, bold=True)
    yield write(
        frame.right + 6, frame.top + 26, run.word, ink=INK if run.word == "pass" else BAD, bold=True
    )
    yield (
        f'<path class="frame" d="M{frame.left:g},{frame.top:g} V{frame.bottom:g} '
        f'H{frame.right:g}" fill="none" stroke="{INK}"/>'
    )


def _limit_lines(gauge: GaugeFacts, frame: Frame, ends: tuple[float, float]) -> Iterator[str]:
    look = f'stroke="{BAD}" stroke-width="1.4" stroke-dasharray="7 3"'
    for at in ends:
        y = frame.y(at)
        yield line("limit", (frame.left, y, frame.right, y), look)
    middle = (frame.y(ends[0]) + frame.y(ends[1])) / 2
    limit = gauge.limits[0].limit.shown
    # The first lines of the margin are the run's own.
    y = max(middle, frame.top + 48)
    if gauge.zero == "fixed":
        yield write(frame.right + 6, y, f"limits ±{limit}", ink=BAD)
    else:
        yield write(frame.right + 6, y, f"limit {limit}", ink=BAD)
        yield write(frame.right + 6, y + 13, "wide, the zero", ink=SOFT, size=10)
        yield write(frame.right + 6, y + 25, "floating", ink=SOFT, size=10)


def _joined(
    way: Sequence[PointLine], frame: Frame, xs: Sequence[float], series: str
) -> Iterator[str]:
    """Thin lines from point to point, so that the way can be followed."""
    dashes = "" if series == "up" else ' stroke-dasharray="2 2.5"'
    places = list(zip(way, xs, strict=True))
    for (one, x1), (other, x2) in pairwise(places):
        ends = (x1, frame.y(_error(one)), x2, frame.y(_error(other)))
        yield line(f"way-{series}", ends, f'stroke="{SOFT}" stroke-width="0.8"{dashes}')


def _error(point: PointLine) -> float:
    return float(point.error.value.exact)


def _mark(run: RunReport, point: PointLine, frame: Frame, x: float) -> Iterator[str]:
    """An error and its bar from −U to +U."""
    error, expanded = _error(point), float(point.error.expanded.exact)
    low, high = frame.y(error - expanded), frame.y(error + expanded)
    yield line("u", (x, low, x, high), f'stroke="{INK}" stroke-width="0.9"')
    for y in (low, high):
        yield line("cap", (x - 2.2, y, x + 2.2, y), f'stroke="{INK}" stroke-width="0.9"')
    yield sign(run.run, point.direction, x, frame.y(error))


def sign(run: str, direction: str, x: float, y: float) -> str:
    """A triangle that points the way; hollow for as found."""
    way = -1 if direction == "up" else 1
    fill = "#fff" if run == "as found" else INK
    return (
        f'<path class="{direction}" d="M{x:.2f},{y + way * 4.6:.2f} l4,{-way * 7.6:g} h-8 z" '
        f'fill="{fill}" stroke="{INK}" stroke-width="1.1"/>'
    )


def _cross(x: float, y: float) -> str:
    return (
        f'<path class="repeat" d="M{x - 2.4:.2f},{y - 2.4:.2f} l4.8,4.8 m0,-4.8 l-4.8,4.8" '
        f'fill="none" stroke="{INK}" stroke-width="1"/>'
    )


def _legend(model: CertificateModel) -> Iterator[str]:
    x, y = LEFT, TOP - 14
    yield '<g class="legend">'
    for run in model.runs:
        for direction in ("up", "down"):
            if any(each.series == direction for each in run.points):
                yield sign(run.run, direction, x + 5, y - 4)
                words = f"{run.run}, {direction}"
                yield write(x + 14, y, words)
                x += 14 + 6 * len(words) + 12
    if any(each.series == "repeat" for run in model.runs for each in run.points):
        yield _cross(x + 4, y - 4)
        yield write(x + 12, y, "repeats")
        x += 66
    yield line("key", (x + 4, y - 10, x + 4, y + 2), f'stroke="{INK}" stroke-width="0.9"')
    yield write(x + 11, y, "bar: ±U")
    yield line("rule", (LEFT, y + 7, WIDTH - 6, y + 7), f'stroke="{RULE}" stroke-width="0.6"')
    yield "</g>"
