"""The pieces that the picture of a trace is drawn with, as SVG elements.

Everything can be told apart without colour: by weight, dash and hatch, and by a word beside it.
"""

import re
from collections.abc import Iterator, Sequence
from xml.sax.saxutils import escape

import numpy as np
from numpy.typing import NDArray
from rich.cells import cell_len

from daq.measure.events import AtRest
from daq.screen.trace_course import Course
from daq.screen.trace_labels import Box, Spot, apart
from daq.screen.trace_scale import Array, Frame, Places, Tick, thinned

INK, FAINT, GRID, BAND = "#1c1c1c", "#5c5c5c", "#dedede", "#f0f0f0"
REST, LIMIT = "#15497f", "#7d1d1d"
LETTER = 0.62
"""Width of a letter as a share of the font's size; no usual sans-serif is wider on average."""

LEAST_WIDTH = 3.0
"""Pixels; a settled span that is shorter is drawn so wide."""

DOTS_APART = 3.0
"""Readings nearer to each other than so many pixels, on average, are a line without dots."""

_NOT_IN_XML = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def clean(text: str) -> str:
    """``text`` made fit for a line of XML."""
    return escape(_NOT_IN_XML.sub("\ufffd", " ".join(text.split())))


def width_of(text: str, size: float) -> float:
    """About how many pixels wide a text is, rather too many."""
    return cell_len(text) * LETTER * size


def fitted(text: str, width: float, size: float) -> str:
    """``text``, its middle left out where it is longer than ``width`` pixels."""
    shown, letters = text, len(text)
    while letters > 1 and width_of(shown, size) > width:
        letters -= 1
        tail = letters // 3
        shown = f"{text[: letters - tail]}…{text[len(text) - tail :]}"
    return shown


def text(
    x: float,
    y: float,
    content: str,
    *,
    size: float = 12,
    anchor: str = "start",
    ink: str = INK,
    more: str = "",
) -> str:
    """One line of text; ``content`` is XML already, ``more`` further attributes."""
    extra = f" {more}" if more else ""
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" font-size="{size:g}" text-anchor="{anchor}" '
        f'fill="{ink}"{extra}>{content}</text>'
    )


BOLD = 'font-weight="bold"'


def axes(
    frame: Frame, lengths: Sequence[Tick], times: Sequence[Tick], size: float, drop: float
) -> Iterator[str]:
    """Grid lines and digits; those of the times stand ``drop`` pixels below the frame."""
    for tick in lengths:
        y = frame.y(tick.at)
        yield f'<g class="length-tick"><path d="M{frame.left:g},{y:.2f} H{frame.right:g}" '
        yield f'stroke="{GRID}"/>'
        yield text(frame.left - 7, y + 0.36 * size, tick.digits, size=size, anchor="end") + "</g>"
    for tick in times:
        x, foot = frame.x(tick.at), frame.bottom + drop
        yield f'<g class="time-tick"><path d="M{x:.2f},{foot:g} v5" stroke="{INK}"/>'
        yield text(x, foot + 7 + size, tick.digits, size=size, anchor="middle") + "</g>"
    yield (
        f'<rect class="frame" x="{frame.left:g}" y="{frame.top:g}" width="{frame.width:g}" '
        f'height="{frame.height:g}" fill="none" stroke="{INK}"/>'
    )


def clip(name: str, frame: Frame) -> str:
    """A definition that cuts what refers to it at the frame's edges."""
    return (
        f'<clipPath id="{name}"><rect x="{frame.left:g}" y="{frame.top:g}" '
        f'width="{frame.width:g}" height="{frame.height:g}"/></clipPath>'
    )


def span(frame: Frame, since_s: float, until_s: float) -> str:
    """The settled span as a faint band from the upper edge to the lower."""
    left, _, right, _ = box(frame, since_s, until_s, (frame.low, frame.low, frame.high))
    return (
        f'<rect class="span" x="{left:.2f}" y="{frame.top:g}" width="{right - left:.2f}" '
        f'height="{frame.height:g}" fill="{BAND}"/>'
    )


def box(frame: Frame, since_s: float, until_s: float, ends: tuple[float, float, float]) -> Box:
    """A span of times and lengths in pixels, ``LEAST_WIDTH`` wide at least."""
    left, right = frame.x(since_s), frame.x(until_s)
    spare = max(LEAST_WIDTH - (right - left), 0) / 2
    return left - spare, frame.y(ends[2]), right + spare, frame.y(ends[0])


def interval(frame: Frame, rest: AtRest, ends: tuple[float, float, float], words: str) -> str:
    """The settled mean as a line over its span, and its 95 % interval as a box about it.

    ``words``: what a reader on a screen is told when pointing at it.
    """
    left, top, right, bottom = box(frame, rest.since_s, rest.until_s, ends)
    return (
        f'<g class="rest"><title>{words}</title><rect class="interval" x="{left:.2f}" '
        f'y="{top:.2f}" width="{right - left:.2f}" height="{bottom - top:.2f}" fill="{REST}" '
        f'fill-opacity="0.22" stroke="{REST}" stroke-width="0.8"/>'
        f'<path class="mean" d="M{left:.2f},{frame.y(ends[1]):.2f} H{right:.2f}" '
        f'stroke="{REST}" stroke-width="2"/></g>'
    )


def marks(frame: Frame, named: Sequence[tuple[str, str, float]], size: float) -> Iterator[str]:
    """Limits and nominal as lines across the plot, led to their labels beyond the right edge.

    ``named``: of each its name, its label, and the length.
    """
    heights = [frame.y(at) for _, _, at in named]
    places = apart(heights, size + 3, frame.top + 4, frame.bottom - 2)
    for (name, words, _), y, place in zip(named, heights, places, strict=True):
        is_limit = name != "nominal"
        look = f'stroke="{FAINT}" stroke-width="1" stroke-dasharray="10 3 2 3"'
        if is_limit:
            look = f'stroke="{LIMIT}" stroke-width="1.3" stroke-dasharray="9 4"'
        yield (
            f'<path class="mark" d="M{frame.left:g},{y:.2f} H{frame.right:g} '
            f'l6,{place - y:.2f}" fill="none" {look}/>'
        )
        ink = LIMIT if is_limit else INK
        yield text(frame.right + 9, place + 0.36 * size, words, size=size, ink=ink)


def line_of(frame: Frame, course: Course) -> tuple[Array, Array, Places]:
    """The line of the readings as it is drawn, in pixels, and which readings it goes through."""
    xs = frame.x(course.t_s)
    seen = np.flatnonzero((xs >= frame.left - 1) & (xs <= frame.right + 1))
    if len(seen):
        # A reading before and after, so that the line runs through the edges.
        seen = np.arange(max(seen[0] - 1, 0), min(seen[-1] + 2, len(xs)))
    kept = seen[thinned(xs[seen], course.value[seen])]
    # Beyond the edge no more than the direction matters.
    far, wide = 3 * frame.height, 3 * frame.width
    ys = np.clip(frame.y(course.value[kept]), frame.top - far, frame.bottom + far)
    return np.clip(xs[kept], frame.left - wide, frame.right + wide), ys, kept


def readings(
    frame: Frame, course: Course, clip_name: str, is_span: NDArray[np.bool_] | None = None
) -> str:
    """The readings as a fine line, and as dots where there is room between them.

    ``is_span``: for each reading whether it is of the settled span; the others' dots are hollow.
    """
    xs, ys, kept = line_of(frame, course)
    has_dots = len(kept) <= frame.width / DOTS_APART
    # Where readings crowd, a paler line leaves the interval over them to be seen.
    look = 'stroke-width="0.9"' if has_dots else f'stroke="{FAINT}" stroke-width="0.8"'
    drawn = f'<path class="readings" d="{_joined(xs, ys, course.stretch[kept])}" {look}/>'
    if has_dots:
        is_full = np.ones(len(kept), bool) if is_span is None else is_span[kept]
        drawn += _dots("dots", xs, ys, 3.6) + _dots(
            "hollow", xs[~is_full], ys[~is_full], 2.0, "#fff"
        )
    return (
        f'<g clip-path="url(#{clip_name})" stroke="{INK}" fill="none" stroke-linejoin="round" '
        f'stroke-linecap="round">{drawn}</g>'
    )


def _joined(xs: Array, ys: Array, stretch: Places) -> str:
    parts: list[str] = []
    before = -1
    for x, y, number in zip(xs.tolist(), ys.tolist(), stretch.tolist(), strict=True):
        # h0: a reading alone in its stretch is a line without length, and its round cap a dot.
        parts.append(f"L{x:.1f},{y:.1f}" if number == before else f"M{x:.1f},{y:.1f}h0")
        before = number
    return " ".join(parts)


def _dots(name: str, xs: Array, ys: Array, width: float, ink: str = INK) -> str:
    # A line without length under a round cap is a dot, in few bytes.
    path = " ".join(f"M{x:.1f},{y:.1f}h0" for x, y in zip(xs.tolist(), ys.tolist(), strict=True))
    return (
        f'<path class="{name}" d="{path}" stroke="{ink}" stroke-width="{width}"/>' if path else ""
    )


def outside(frame: Frame, course: Course, places: Places) -> Iterator[str]:
    """A triangle at the upper or the lower edge for each reading that lies beyond it."""
    seen: set[tuple[int, bool]] = set()
    for x, value in zip(
        frame.x(course.t_s[places]).tolist(), course.value[places].tolist(), strict=True
    ):
        above = value > frame.high
        if (round(x), above) not in seen:
            seen.add((round(x), above))
            yield triangle(x, frame.top if above else frame.bottom, above)


def triangle(x: float, y: float, above: bool) -> str:
    """The sign of a reading outside the picture, its tip towards it."""
    high = 8 if above else -8
    return f'<path class="outside" d="M{x:.1f},{y:.1f} l-4.5,{high} h9 z" fill="{INK}"/>'


def label(spot: Spot, words: tuple[str, str, str], size: float) -> str:
    """A rest's number, value and verdict; number and verdict stand out."""
    number, value, verdict = (escape(word) for word in words)
    parts = [
        f"<tspan {BOLD}>{number}</tspan>",
        value,
        verdict and f"<tspan {BOLD}>{verdict}</tspan>",
    ]
    wide = width_of(" ".join(word for word in words if word), size) + 2
    # On a plain ground: what is left of a dashed line between two digits would be a minus.
    drawn = (
        f'<rect x="{spot.middle - wide / 2:.1f}" y="{spot.base - 0.95 * size:.1f}" '
        f'width="{wide:.1f}" height="{1.25 * size:g}" fill="#fff" fill-opacity="0.9"/>'
    )
    content = " ".join(part for part in parts if part)
    drawn += text(spot.middle, spot.base, content, size=size, anchor="middle", more='class="label"')
    if spot.lead is not None:
        x, near, at = spot.lead
        drawn += f'<path d="M{x:.1f},{near:.1f} V{at:.1f}" stroke="{INK}" stroke-width="0.6"/>'
    return drawn


def legend(x: float, y: float, size: float, *, has_rests: bool, has_outside: bool) -> list[str]:
    """What the signs in the plot mean, in one row from ``x`` at the base line ``y``."""
    middle, upper = y - 0.36 * size, y - 0.36 * size - 6
    signs = [(f'<path d="M{{x}},{middle:g} h24" stroke="{INK}" stroke-width="0.9"/>', "readings")]
    if has_rests:
        area = f'x="{{x}}" y="{upper:g}" width="24" height="12"'
        mean = f'<path d="M{{x}},{middle:g} h24" stroke="{REST}" stroke-width="2"/>'
        framed = f'fill="{REST}" fill-opacity="0.22" stroke="{REST}" stroke-width="0.8"'
        signs += [
            (f'<rect {area} fill="{BAND}"/>', "settled span"),
            (f'<rect {area} fill="{BAND}"/>{mean}', "its mean"),
            (f"<rect {area} {framed}/>", "95 % interval (mean ± 2 u)"),
        ]
    if has_outside:
        sign = f'<g transform="translate({{x}} {upper:g})">{triangle(12, 2, True)}</g>'
        signs.append((sign, "reading outside the picture"))
    drawn = []
    for sign, words in signs:
        drawn.append(sign.replace("{x}", f"{x:g}"))
        drawn.append(text(x + 31, y, words, size=size))
        x += 31 + width_of(words, size) + 18
    return drawn
