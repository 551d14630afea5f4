"""The states over time as a strip: moving, coming to rest, vibrating, at rest."""

from collections.abc import Iterator

import numpy as np

from daq.screen.trace_course import MOTIONS, Course
from daq.screen.trace_ink import INK, text, width_of
from daq.screen.trace_scale import Frame
from daq.screen.view import Motion

SIZE = 11

HATCHES: dict[Motion, str] = {
    "moving": '<path d="M-1,7 L7,-1" stroke="#8f8f8f" stroke-width="0.8"/>',
    "coming to rest": '<path d="M-1,2 L1,4 M-1,-1 L7,7 M2,-1 L7,4 M-1,5 L1,7" stroke="#5e5e5e" '
    'stroke-width="1.1"/>',
    "vibrating": '<path d="M0,1.5 L3,4.5 L6,1.5" stroke="#3c3c3c" stroke-width="1.3" fill="none"/>',
    "at rest": '<rect width="6" height="6" fill="#4d4d4d"/>',
}
"""By state, the tile of 6 by 6 pixels that fills the strip: the darker, the nearer to rest."""


def hatches() -> Iterator[str]:
    """The definitions that ``fill="url(#...)"`` refers to."""
    yield "<defs>"
    for motion, tile in HATCHES.items():
        yield (
            f'<pattern id="{_name(motion)}" width="6" height="6" patternUnits="userSpaceOnUse">'
            f"{tile}</pattern>"
        )
    yield "</defs>"


def _name(motion: Motion) -> str:
    return motion.replace(" ", "-")


def strip(
    frame: Frame, top: float, height: float, course: Course
) -> tuple[list[str], list[Motion]]:
    """The states over time as a band, and those that found no room for their word."""
    drawn = [
        f'<rect x="{frame.left:g}" y="{top:g}" width="{frame.width:g}" height="{height:g}" '
        f'fill="none" stroke="{INK}" stroke-width="0.6"/>'
    ]
    told: set[Motion] = set()
    met: set[Motion] = set()
    for begin, end, motion in _spells(frame, course):
        met.add(motion)
        drawn.append(swatch(motion, begin, top, end - begin, height))
        if width_of(motion, SIZE) + 8 <= end - begin:
            told.add(motion)
            drawn.append(_word(motion, (begin + end) / 2, top + height / 2))
    if len(course.t_s) and not met:
        middle = frame.left + frame.width / 2
        drawn.append(text(middle, top + height / 2 + 4, "not known", size=SIZE, anchor="middle"))
    return drawn, [motion for motion in MOTIONS if motion in met - told]


def _word(motion: Motion, x: float, y: float) -> str:
    is_dark = motion == "at rest"
    ink = "#fff" if is_dark else INK
    word = text(x, y + 4, motion, size=SIZE, anchor="middle", ink=ink)
    if is_dark:
        return word
    wide = width_of(motion, SIZE)
    return (
        f'<rect x="{x - wide / 2:g}" y="{y - 7:g}" width="{wide:g}" height="14" fill="#fff"/>{word}'
    )


def swatch(motion: Motion, x: float, y: float, width: float, height: float) -> str:
    """A rectangle with the hatch of a state."""
    return (
        f'<rect class="{_name(motion)}" x="{x:g}" y="{y:g}" width="{width:g}" '
        f'height="{height:g}" fill="url(#{_name(motion)})" stroke="{INK}" stroke-width="0.6"/>'
    )


def _spells(frame: Frame, course: Course) -> Iterator[tuple[int, int, Motion]]:
    """Each state from column to column; one pixel wide at least, so that none vanishes."""
    if len(course.t_s) == 0:
        return
    changes = (np.diff(course.motion) != 0) | (np.diff(course.stretch) != 0)
    begins = np.concatenate(([0], np.flatnonzero(changes) + 1))
    ends = np.append(begins[1:], len(course.t_s) - 1)
    # A state holds until the next reading, but over a gap nobody knows.
    ends = np.where(course.stretch[ends] == course.stretch[begins], ends, ends - 1)
    columns = np.rint(frame.x(course.t_s)).astype(int)
    free = int(columns.min())
    for first, last, code in zip(
        columns[begins].tolist(),
        columns[ends].tolist(),
        course.motion[begins].tolist(),
        strict=True,
    ):
        begin, end = max(first, free), max(last, first + 1)
        if code >= 0 and end > begin:
            yield begin, end, MOTIONS[code]
            free = end
