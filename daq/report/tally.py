"""Everything that a job sets or measures as one square each: what passed, and what did not."""

from collections.abc import Iterator, Sequence

from daq.ink.svg import BAD, GOOD, INK, SOFT, clean, fitted, write
from daq.report.drawing import OUTSIDE, Group, grouped, picture
from daq.report.model import State, StepReport

NAMES, CELL, GAP, SMALL = 150, 21, 5, 9
ROW = CELL + SMALL + 10
MOST = 16
"""Squares in a row, at the most."""

LEAST_WIDTH = 300

STATES: tuple[State, ...] = (
    "passed",
    "not passed",
    "overruled",
    "skipped",
    "in doubt",
    "not done",
)


def tally(steps: Sequence[StepReport]) -> str:
    """A row of squares for each step, wrapped where there are many, and what the signs mean."""
    rows = [(step, group) for step in steps for group in _groups(step)]
    across = max((len(group.names) for _, group in rows), default=1)
    width = max(NAMES + across * (CELL + GAP), LEAST_WIDTH)
    parts: list[str] = []
    for number, (step, group) in enumerate(rows):
        parts += _row(step, group, ROW * number, width)
    legend, bottom = _legend(steps, ROW * len(rows) + 8, width)
    return picture(width, bottom, "What passed and what did not", [*parts, *legend])


def _groups(step: StepReport) -> tuple[Group, ...]:
    return grouped([each.words for each in step.targets], MOST)


def _row(step: StepReport, group: Group, y: float, width: float) -> Iterator[str]:
    """A step's name and its squares, each with its target's name beneath."""
    base, edge = y + CELL + SMALL + 1, NAMES - 12
    if group.first == 0:
        name = fitted(step.name, edge / 1.1, 11.5)
        yield write(edge, y + 0.62 * CELL, name, size=11.5, anchor="end", bold=True)
    kind = fitted(group.kind, edge, SMALL)
    yield write(edge, base, kind, size=SMALL, anchor="end", ink=SOFT)
    alone = len(group.names) == 1
    for number, name in enumerate(group.names):
        target, x = step.targets[group.first + number], NAMES + number * (CELL + GAP)
        told = f"<title>{clean(f'{target.words}: {target.state}')}</title>"
        yield f"<g>{told}{square(x, y, target.state)}</g>"
        middle, anchor = (x, "start") if alone else (x + CELL / 2, "middle")
        short = fitted(name, width - x if alone else CELL + GAP, SMALL)
        yield write(middle, base, short, size=SMALL, anchor=anchor, ink=SOFT)


def square(x: float, y: float, state: State) -> str:
    """The sign of a state in a square of ``CELL`` pixels, its corner at ``x``, ``y``."""

    def box(fill: str, stroke: str, more: str = "") -> str:
        return (
            f'<rect class="{state.replace(" ", "-")}" x="{x + 0.75:.2f}" y="{y + 0.75:.2f}" '
            f'width="{CELL - 1.5}" height="{CELL - 1.5}" rx="2.5" fill="{fill}" '
            f'stroke="{stroke}" stroke-width="1.3"{more}/>'
        )

    def sign(path: str, ink: str) -> str:
        return (
            f'<path d="M{x:.2f},{y:.2f} {path}" fill="none" stroke="{ink}" stroke-width="2.2" '
            'stroke-linecap="round" stroke-linejoin="round"/>'
        )

    match state:
        case "passed":
            return box("#fff", SOFT) + sign("m5.5,11 l3.6,3.8 l6.6,-8", GOOD)
        case "not passed":
            return box(BAD, BAD) + sign("m6,6 l9,9 m0,-9 l-9,9", "#fff")
        case "overruled":
            side = CELL - 2
            half = f"M{x + 1:.2f},{y + CELL - 1:.2f} h{side} v-{side} z"
            return box("#fff", INK) + f'<path d="{half}" fill="{INK}"/>'
        case "skipped":
            return box(OUTSIDE, INK) + sign("m6,10.5 h9", INK)
        case "in doubt":
            middle, base = x + CELL / 2, y + CELL * 0.74
            return box(OUTSIDE, INK) + write(middle, base, "?", size=15, anchor="middle", bold=True)
    return box("#fff", SOFT, ' stroke-dasharray="2 2.4"')


def _legend(steps: Sequence[StepReport], y: float, width: float) -> tuple[list[str], float]:
    """Every state that there is, with how many, and where the picture ends."""
    states = [target.state for step in steps for target in step.targets]
    drawn, x = [], 0.0
    for state in STATES:
        if count := states.count(state):
            words = f"{count} {state}"
            wide = CELL + 6 + 6.6 * len(words) + 14
            if x + wide - 14 > width:
                x, y = 0.0, y + CELL + GAP
            drawn += [square(x, y, state), write(x + CELL + 6, y + 0.7 * CELL, words, size=12)]
            x += wide
    return drawn, y + CELL + 2
