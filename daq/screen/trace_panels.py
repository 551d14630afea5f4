"""The settled spans of a trace drawn large, side by side, in steps of the display."""

from collections.abc import Iterator
from decimal import Decimal

import numpy as np

from daq.measure.events import AtRest
from daq.screen import trace_ink as ink
from daq.screen.trace_course import Facts, verdict_words
from daq.screen.trace_scale import Array, Frame, distance, padded_span, reach, span_words, ticks

MOST_PANELS = 24
COLUMNS, HEIGHT, GAP = 3, 150, 30
SIZE, SMALL, LINE = 12, 10.5, 15

MOST_TICKS = 8

LEAST_STEPS = 2.6
"""A panel reaches so many display steps to both sides of the value, or further."""

NEAR_STEPS = 4
"""A reading of the span not further from the others than so many steps is never left outside."""

MARGIN, LEAST_MARGIN_S = 0.25, 0.8
"""How much of the course before and after the span is shown: a share of it, and seconds."""


def panels(facts: Facts, left: float, right: float, y: float) -> tuple[list[str], float]:
    """A panel for each of the first ``MOST_PANELS`` rests, and the height they end at.

    Args:
        facts: the trace.
        left: left edge, pixels.
        right: right edge, pixels.
        y: where what stands above ends, pixels.
    """
    rests = facts.rests[:MOST_PANELS]
    columns = 2 if len(rests) == 4 else min(len(rests), COLUMNS)
    width = (right - left - (columns - 1) * GAP) / columns
    y += 2.6 * LINE
    words = f"full dots: readings of the span; one display step is {facts.step_words}; times in s"
    drawn = [
        ink.text(left, y, "The settled spans, large", size=SIZE + 1, more=ink.BOLD),
        ink.text(left + 195, y, words, size=SMALL),
    ]
    full = 4.2 * LINE + HEIGHT + 1.9 * LINE
    for place, rest in enumerate(rests):
        x, top = left + place % columns * (width + GAP), y + place // columns * full
        drawn += _panel(facts, rest, (x, top, width))
    return drawn, y + -(-len(rests) // columns) * full - LINE


def _panel(facts: Facts, rest: AtRest, at: tuple[float, float, float]) -> Iterator[str]:
    """One settled span; ``at``: left edge, upper edge and width, pixels."""
    x, y, width = at
    t_s, value = facts.course.t_s, facts.course.value
    is_span = (t_s >= rest.since_s) & (t_s <= rest.until_s)
    low, high, apart = _height(facts, rest, value[is_span])
    missing = np.flatnonzero(is_span & ((value < low) | (value > high)))
    yield '<g class="panel">'
    yield from _caption(facts, rest, (x, y), len(missing), round(apart / facts.step))
    digits = ticks(low, high, apart)
    left = x + 8 + ink.width_of(max((tick.digits for tick in digits), key=len), SMALL)
    marks = [mark for mark in facts.marks if low < mark.at < high]
    right = x + width - max((10 + ink.width_of(mark.name, SMALL) for mark in marks), default=0)
    frame = Frame(left, y + 4.2 * LINE, right - left, HEIGHT, *_times(facts, rest), low, high)
    clip = f"panel-{rest.number}"
    yield ink.clip(clip, frame)
    yield ink.span(frame, rest.since_s, rest.until_s)
    apart_s = distance(frame.from_s, frame.until_s, max(int(frame.width / 50), 2))
    times = ticks(frame.from_s, frame.until_s, apart_s)
    yield from ink.axes(frame, digits, times, SMALL, 0)
    yield from ink.marks(frame, [(mark.name, mark.name, mark.at) for mark in marks], SMALL)
    yield ink.readings(frame, facts.course, clip, is_span)
    yield ink.interval(frame, rest, facts.interval(rest), facts.words(rest))
    yield from ink.outside(frame, facts.course, missing)
    yield "</g>"


def _caption(
    facts: Facts, rest: AtRest, at: tuple[float, float], missing: int, steps: int
) -> Iterator[str]:
    """Number and value; verdict and readings; times and the distance of the lines."""
    x, y = at
    verdict = verdict_words(rest)
    words = f"<tspan {ink.BOLD}>{verdict}</tspan>, " if verdict else ""
    words += f"n {rest.n}" + f", {missing} outside the picture" * (missing > 0)
    lines = f"lines {steps} display step{'s' * (steps != 1)} apart"
    yield ink.text(x, y + 1.5 * LINE, f"{rest.number}: {facts.value_words(rest)}", more=ink.BOLD)
    yield ink.text(x, y + 2.5 * LINE, words, size=SMALL)
    yield ink.text(
        x, y + 3.5 * LINE, f"{span_words(rest.since_s, rest.until_s)}, {lines}", size=SMALL
    )


def _height(facts: Facts, rest: AtRest, value: Array) -> tuple[float, float, Decimal]:
    """The lengths at both edges, as far from the value, and the distance of the lines between."""
    step = float(facts.step)
    lowest, settled, highest = facts.interval(rest)
    if len(value):
        low, high = reach(value, NEAR_STEPS * step)
        lowest, highest = min(lowest, low), max(highest, high)
    half = max(1.25 * (settled - lowest), 1.25 * (highest - settled), LEAST_STEPS * step)
    low, high = settled - half, settled + half
    return low, high, distance(low, high, MOST_TICKS, facts.step)


def _times(facts: Facts, rest: AtRest) -> tuple[float, float]:
    """The span and what came before and after it, as far as there are readings."""
    margin_s = max(MARGIN * (rest.until_s - rest.since_s), LEAST_MARGIN_S)
    t_s = facts.course.t_s
    first_s, last_s = (t_s.min(), t_s.max()) if len(t_s) else (rest.since_s, rest.until_s)
    from_s, until_s = rest.since_s - margin_s, rest.until_s + margin_s
    return padded_span(max(from_s, float(first_s)), min(until_s, float(last_s)))
