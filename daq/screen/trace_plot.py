"""A trace as an SVG picture: readings, states, settled spans with their intervals, and limits.

It is for somebody who checks by eye whether the settled span was chosen right. The plot shows the
whole course. Where it is too high for an interval to be seen in it, each settled span is drawn
large beneath, with lines at the digits that the display can show.
"""

from collections.abc import Iterator, Sequence
from decimal import Decimal

from daq.measure.events import AtRest
from daq.screen import trace_ink as ink
from daq.screen import trace_strip as strip
from daq.screen.trace_course import Facts, Height, Seen, facts_of, height_of, is_flat, verdict_words
from daq.screen.trace_labels import Shelf
from daq.screen.trace_panels import MOST_PANELS, panels
from daq.screen.trace_scale import Frame, Tick, decimals, distance, padded_span, span_words, ticks
from daq.spec import Spec

WIDTH, EDGE = 1000, 24
PLOT_HEIGHT, STRIP_HEIGHT = 340, 20
SIZE, SMALL, LINE = 12, 11, 17

MOST_LINES = 40
"""Rests that are listed beneath the plot for want of room in it, at the most."""


def trace_plot(
    title: str,
    seen: Sequence[Seen],
    rests: Sequence[AtRest],
    *,
    step_mm: Decimal,
    spec: Spec | None = None,
) -> str:
    """The picture of a trace, as the text of an SVG file that needs no other file.

    It is in the unit of the specification, or in millimetres. However many readings there are, it
    draws four for each column of pixels at the most, among them the lowest and the highest. A
    reading that would flatten the plot is left outside, and the picture says so.

    Args:
        title: the name of the trace.
        seen: its readings in order, finite, and the state told with each.
        rests: each rest as it was known last.
        step_mm: the display step, above 0.
        spec: what the length should be.
    """
    facts = facts_of(seen, rests, step_mm, spec)
    height = height_of(facts)
    is_large = is_flat(facts, height.low, height.high)
    head, y = _head(title, facts, height, spec)
    frame = _frame(facts, height, y)
    labels, unsaid = _labels(frame, facts, is_large)
    parts = [*head, *_plot(frame, facts, height), *labels]
    drawn, y = _strip(frame, facts)
    parts += drawn
    if is_large:
        drawn, y = panels(facts, EDGE, WIDTH - EDGE, y)
        parts += drawn
        unsaid = list(rests[MOST_PANELS:])
    drawn, y = _list(facts, unsaid, y)
    parts += drawn
    return "\n".join([*_opening(title, round(y) + EDGE), *parts, "</svg>", ""])


def _opening(title: str, height: int) -> Iterator[str]:
    yield (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {height}" '
        f'width="{WIDTH}" height="{height}" font-family="DejaVu Sans, Verdana, sans-serif">'
    )
    yield f"<title>{ink.clean(title)}</title>"
    yield f'<rect width="{WIDTH}" height="{height}" fill="#fff"/>'
    yield from strip.hatches()


def _head(title: str, facts: Facts, height: Height, spec: Spec | None) -> tuple[list[str], float]:
    """Name, specification, size, what is not in the picture, and what the signs mean."""
    room = WIDTH - 2 * EDGE
    name = ink.clean(ink.fitted(title, 0.9 * room, LINE))  # bold letters are wider
    y = EDGE + 12.0
    drawn = [ink.text(EDGE, y, name, size=LINE, more=f'class="title" {ink.BOLD}')]
    for line in (*_words(facts, spec, room), *_left_out(facts, height)):
        y += LINE
        drawn.append(
            ink.text(EDGE, y, ink.clean(ink.fitted(line, room, SIZE)), more='class="note"')
        )
    y += LINE + 8
    drawn += ink.legend(
        EDGE, y, SMALL, has_rests=bool(facts.rests), has_outside=len(height.outside) > 0
    )
    return drawn, y + 2 * LINE


def _words(facts: Facts, spec: Spec | None, room: float) -> Iterator[str]:
    """What was to be measured, and what the trace holds; ``room``: pixels."""
    if spec is not None:
        lengths = ", ".join(f"{mark.name} {mark.digits} {facts.unit}" for mark in facts.marks)
        rules = sorted({rest.verdict.rule_text for rest in facts.rests if rest.verdict})
        figures = f": {lengths}" + (f"; rule: {', '.join(rules)}" if rules else "")
        # Of a name too long for the line something may go, of a figure nothing.
        yield ink.fitted(spec.name, room - ink.width_of(figures, SIZE), SIZE) + figures
        yield ink.fitted(f"limits from: {spec.source}", room, SIZE)
    t_s = facts.course.t_s
    sizes = [f"{len(t_s)} reading{'s' * (len(t_s) != 1)}"]
    if len(t_s):
        sizes.append(span_words(float(t_s.min()), float(t_s.max())))
    sizes += [f"display step {facts.step_words}", f"{len(facts.rests)} settled"]
    yield ", ".join(sizes)


def _left_out(facts: Facts, height: Height) -> Iterator[str]:
    """What lies outside the picture, in words: nothing does so in silence."""
    for where in ("above", "below"):
        marks = [mark for mark in height.beyond if (mark.at > height.high) == (where == "above")]
        if marks:
            names = ", ".join(f"{mark.name} {mark.digits} {facts.unit}" for mark in marks)
            yield f"{names}: {where} the picture"
    value = facts.course.value[height.outside]
    if len(value):
        low, high = (f"{end:.{decimals(facts.step)}f}" for end in (value.min(), value.max()))
        ends = low if low == high else f"{low} to {high}"
        plural = "s" * (len(value) != 1)
        yield f"{len(value)} reading{plural} outside the picture: {ends} {facts.unit}"


def _frame(facts: Facts, height: Height, top: float) -> Frame:
    words = ["state", *(tick.digits for tick in _lengths(height))]
    left = EDGE + 8 + round(ink.width_of(max(words, key=len), SMALL))
    names = [name for _, name, _ in _named(facts, height)]
    margin = 10 + round(ink.width_of(max(names, key=len), SMALL)) if names else 0
    right = WIDTH - EDGE - margin
    t_s = facts.course.t_s
    from_s, until_s = padded_span(float(t_s.min()), float(t_s.max())) if len(t_s) else (0.0, 1.0)
    return Frame(left, top, right - left, PLOT_HEIGHT, from_s, until_s, height.low, height.high)


def _lengths(height: Height) -> list[Tick]:
    return ticks(height.low, height.high, distance(height.low, height.high, 9))


def _named(facts: Facts, height: Height) -> list[tuple[str, str, float]]:
    """Name, label and length of the limits and the nominal that are in the plot."""
    return [
        (mark.name, f"{mark.name} {mark.digits}", mark.at)
        for mark in facts.marks
        if mark not in height.beyond
    ]


def _plot(frame: Frame, facts: Facts, height: Height) -> Iterator[str]:
    """The plot without its labels: spans, grid, limits, readings, intervals."""
    yield '<g class="trace">'
    yield ink.clip("plot", frame)
    for rest in facts.rests:
        yield ink.span(frame, rest.since_s, rest.until_s)
    times = ticks(frame.from_s, frame.until_s, distance(frame.from_s, frame.until_s, 10))
    yield from ink.axes(frame, _lengths(height), times, SMALL, 6 + STRIP_HEIGHT)
    yield ink.text(frame.left, frame.top - 8, f"reading ({facts.unit})", size=SMALL, anchor="start")
    yield from ink.marks(frame, _named(facts, height), SMALL)
    if len(facts.course.t_s):
        yield ink.readings(frame, facts.course, "plot")
    else:
        middle = frame.left + frame.width / 2, frame.top + frame.height / 2
        yield ink.text(*middle, "no readings", size=LINE, anchor="middle", ink=ink.FAINT)
    for rest in facts.rests:
        yield ink.interval(frame, rest, facts.interval(rest), facts.words(rest))
    yield from ink.outside(frame, facts.course, height.outside)
    yield "</g>"


def _labels(frame: Frame, facts: Facts, is_large: bool) -> tuple[list[str], list[AtRest]]:
    """A label at each rest for which there is room, and the rests whose value is not in one.

    ``is_large``: the values stand elsewhere; here the number and the verdict are enough.
    """
    xs, ys, _ = ink.line_of(frame, facts.course)
    shelf = Shelf(frame, xs, ys, [frame.y(mark.at) for mark in facts.marks])
    drawn: list[str] = []
    unsaid: list[AtRest] = []
    for rest in facts.rests:
        number, verdict = str(rest.number), verdict_words(rest)
        full = (number, "" if is_large else facts.value_words(rest), verdict)
        box = ink.box(frame, rest.since_s, rest.until_s, facts.interval(rest))
        for words in (full, (number, "", "")):
            said = " ".join(word for word in words if word)
            spot = shelf.place(box, ink.width_of(said, SIZE) + 6, SIZE + 3)
            if spot is not None:
                drawn.append(ink.label(spot, words, SIZE))
                break
        if spot is None or words != full:
            unsaid.append(rest)
    return drawn, unsaid


def _strip(frame: Frame, facts: Facts) -> tuple[list[str], float]:
    """The states over time, the name of the time axis, and the states that need a legend."""
    drawn, unnamed = strip.strip(frame, frame.bottom + 6, STRIP_HEIGHT, facts.course)
    y = frame.bottom + 6 + STRIP_HEIGHT + 2 * LINE + 8
    drawn.append(ink.text(frame.left - 7, frame.bottom + 20, "state", size=SMALL, anchor="end"))
    drawn.append(ink.text(frame.right, y, "time (s)", size=SMALL, anchor="end"))
    x = frame.left
    for motion in unnamed:
        drawn.append(strip.swatch(motion, x, y - 10, 22, 12))
        drawn.append(ink.text(x + 28, y, motion, size=SMALL))
        x += 28 + ink.width_of(motion, SMALL) + 22
    return drawn, y


def _list(facts: Facts, rests: Sequence[AtRest], y: float) -> tuple[list[str], float]:
    """The rests whose value has found no room in the plot, in two columns."""
    drawn: list[str] = []
    if not rests:
        return drawn, y
    y += 2 * LINE
    drawn.append(ink.text(EDGE, y, "Settled values without room above", more=ink.BOLD))
    rows = (len(rests[:MOST_LINES]) + 1) // 2
    for place, rest in enumerate(rests[:MOST_LINES]):
        x = EDGE + (place // rows) * (WIDTH / 2 - EDGE)
        drawn.append(ink.text(x, y + LINE * (1 + place % rows), facts.words(rest), size=SMALL))
    y += LINE * rows
    if len(rests) > MOST_LINES:
        y += LINE
        more = f"and {len(rests) - MOST_LINES} more, up to number {rests[-1].number}"
        drawn.append(ink.text(EDGE, y, more, size=SMALL))
    return drawn, y
