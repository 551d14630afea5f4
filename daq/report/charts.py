"""How far off every target of a step was found and left, against its limits, as an SVG chart."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from daq.ink.svg import BAD, INK, LETTER, SOFT, Frame, fitted, line, write
from daq.report.amounts import in_unit
from daq.report.drawing import OUTSIDE, Group, grouped, picture, ticks
from daq.report.lines import Measured
from daq.report.model import State, StepReport, TargetReport

WIDTH = 700
LEFT, TOP, PLOT, FOOT, RIGHT = 62.0, 30.0, 190.0, 46.0, 112.0
STRIP = 34.0
"""Room within the frame, on the right, for the bracket that shows the spread."""

MOST = 20
"""Targets side by side in one chart; more go into a further one."""

FAR = 2.5
"""A value further from nominal than so many times the farther limit is shown at the edge."""


SIGNS: dict[State, str] = {
    "not passed": "✕",
    "overruled": "◢",
    "skipped": "–",
    "in doubt": "?",
    "not done": "…",
}
"""What stands for a state where there is no room for the word; as in the tally."""


@dataclass(frozen=True, slots=True)
class Mark:
    """A deviation with its expanded uncertainty, in the unit of the chart."""

    at: float
    expanded: float
    shown: str


@dataclass(frozen=True, slots=True)
class Slot:
    """One target in a chart. ``left`` is final; ``newest`` stands where nothing is."""

    target: TargetReport
    found: Mark | None
    left: Mark | None
    newest: Mark | None

    @property
    def marks(self) -> list[Mark]:
        """All there are."""
        return [each for each in (self.found, self.left, self.newest) if each is not None]


def charts_of(step: StepReport) -> tuple[str, ...]:
    """The charts of a step, none if nothing on it has a deviation in millimetres.

    As found is hollow, as left is filled; a bar about each is ±U. Limits are lines, what lies
    outside them is grey. A value too far off to be drawn is an arrow at the edge with its digits.
    """
    slots = [_slot(each, step) for each in step.targets]
    if not any(slot.marks for slot in slots):
        return ()
    low, high = _range(step, slots)
    groups = grouped([each.words for each in step.targets], MOST)
    return tuple(_chart(step, slots, group, (low, high)) for group in groups)


def _slot(target: TargetReport, step: StepReport) -> Slot:
    def mark(of: Measured | None) -> Mark | None:
        if of is None or of.deviation is None or of.deviation.unit != "mm":
            return None
        at, expanded = (in_unit(each.exact, step.unit) for each in (of.deviation, of.expanded))
        return Mark(float(at), float(expanded), of.deviation.shown)

    found, left, newest = target.as_found, target.as_left, target.latest
    last = left or newest
    same = found is not None and last is not None and found.record == last.record
    return Slot(target, None if same else mark(found), mark(left), mark(newest))


def _limits(step: StepReport) -> dict[str, float]:
    ends = {"lower limit": step.lower_mm, "upper limit": step.upper_mm}
    return {name: float(in_unit(end, step.unit)) for name, end in ends.items() if end is not None}


def _range(step: StepReport, slots: Sequence[Slot]) -> tuple[float, float]:
    """From which deviation to which the charts of a step go."""
    limits = list(_limits(step).values())
    far = FAR * max(abs(each) for each in (*limits, 1e-9))
    shown = [0.0, *limits]
    for slot in slots:
        for mark in slot.marks:
            if abs(mark.at) <= far:
                shown += [mark.at - mark.expanded, mark.at + mark.expanded]
    low, high = min(shown), max(shown)
    room = 0.1 * (high - low)
    return low - room, high + room


def _chart(step: StepReport, every: Sequence[Slot], group: Group, ends: tuple[float, float]) -> str:
    """The chart of one group; ``every`` slot of the step counts for the spread."""
    slots = every[group.first : group.first + len(group.names)]
    frame = Frame(LEFT, TOP, WIDTH - RIGHT, TOP + PLOT, *ends)
    spread = next((each for each in step.across if each.name == "spread"), None)
    right = frame.right - (STRIP if spread else 0)
    wide = min((right - frame.left) / len(slots), 160)
    parts = [*_ground(step, frame)]
    for number, (slot, name) in enumerate(zip(slots, group.names, strict=True)):
        x = frame.left + (number + 0.5) * wide
        parts += _drawn(slot, frame, x, min(wide / 5, 9))
        parts += _named(slot, name, frame, x, wide)
    kind = fitted(group.kind, RIGHT - 8, 11)
    parts.append(write(frame.right + 6, frame.bottom + 16, kind, ink=SOFT))
    if spread:
        label = f"spread {spread.value.shown} {spread.value.shown_unit}"
        parts += _bracket(every, frame, label)
    parts += _legend(slots, frame)
    title = f"{step.what}: deviation from {step.nominal}, found and left"
    return picture(WIDTH, frame.bottom + FOOT, title, parts)


def _ground(step: StepReport, frame: Frame) -> Iterator[str]:
    """What lies outside the limits, the scale, the nominal and the limits."""
    limits = _limits(step)
    top = frame.y(limits["upper limit"]) if "upper limit" in limits else frame.top
    bottom = frame.y(limits["lower limit"]) if "lower limit" in limits else frame.bottom
    for y, height in ((frame.top, top - frame.top), (bottom, frame.bottom - bottom)):
        if height > 0:
            yield (
                f'<rect class="outside" x="{frame.left:g}" y="{y:.2f}" '
                f'width="{frame.right - frame.left:g}" height="{height:.2f}" fill="{OUTSIDE}"/>'
            )
    for at, digits in ticks(frame.low, frame.high):
        y = frame.y(at)
        yield line("tick", (frame.left - 4, y, frame.left, y), f'stroke="{INK}"')
        yield write(frame.left - 7, y + 4, digits, anchor="end")
    middle, words = (frame.top + frame.bottom) / 2, f"deviation, {step.unit}"
    yield write(13, middle, words, anchor="middle", ink=SOFT, turned=True)
    y = frame.y(0)
    yield line("nominal", (frame.left, y, frame.right, y), f'stroke="{INK}" stroke-width="0.8"')
    yield write(frame.right + 6, y + 4, f"{step.nominal}", bold=True)
    for name, at in limits.items():
        y = frame.y(at)
        look = f'stroke="{BAD}" stroke-width="1.6" stroke-dasharray="7 3"'
        yield line(name, (frame.left, y, frame.right, y), look)
        yield write(frame.right + 6, y + 4, name, ink=BAD)
    yield (
        f'<path class="frame" d="M{frame.left:g},{frame.top:g} V{frame.bottom:g} '
        f'H{frame.right:g}" fill="none" stroke="{INK}"/>'
    )


def _drawn(slot: Slot, frame: Frame, x: float, aside: float) -> Iterator[str]:
    """A target's values: found to the left of the middle, left to the right of it."""
    last = slot.left or slot.newest
    if slot.found is not None and last is not None:
        ends = (x - aside, frame.held(slot.found.at), x + aside, frame.held(last.at))
        yield line("moved", ends, f'stroke="{SOFT}" stroke-width="0.9" stroke-dasharray="1.5 2.5"')
    if slot.found is not None:
        yield from _mark("found", slot.found, frame, x - aside)
    if last is not None:
        kind = "left" if slot.left is not None else "newest"
        yield from _mark(kind, last, frame, x if slot.found is None else x + aside)


def _mark(kind: str, mark: Mark, frame: Frame, x: float) -> Iterator[str]:
    """A value and its bar from -U to +U; an arrow where it lies outside the frame."""
    if not frame.shows(mark.at):
        is_up = mark.at > frame.high
        y, way = (frame.top, 9) if is_up else (frame.bottom, -9)
        fill = "#fff" if kind == "found" else INK
        yield (
            f'<path class="{kind} far" d="M{x:.2f},{y:.2f} l-5,{way} h10 z" fill="{fill}" '
            f'stroke="{INK}" stroke-width="1.2"/>'
        )
        yield write(x + 7, y + (9 if is_up else -3), mark.shown, size=9)
        return
    heavy = 1.1 if kind == "found" else 2.2
    look = f'stroke="{INK}" stroke-width="{heavy}"'
    low, high = frame.y(mark.at - mark.expanded), frame.y(mark.at + mark.expanded)
    yield line(f"u-{kind}", (x, low, x, high), look)
    for y in (low, high):
        yield line(f"cap-{kind}", (x - 3.5, y, x + 3.5, y), f'stroke="{INK}" stroke-width="1.1"')
    yield sign(kind, x, frame.y(mark.at))


def sign(kind: str, x: float, y: float) -> str:
    """The sign of a value: found is a hollow ring, left a disc, the newest a hollow square."""
    if kind == "newest":
        return (
            f'<rect class="newest" x="{x - 4:.2f}" y="{y - 4:.2f}" width="8" height="8" '
            f'fill="#fff" stroke="{INK}" stroke-width="1.8"/>'
        )
    fill, size = ("#fff", 3.8) if kind == "found" else (INK, 4.6)
    return (
        f'<circle class="{kind}" cx="{x:.2f}" cy="{y:.2f}" r="{size}" fill="{fill}" '
        f'stroke="{INK}" stroke-width="1.4"/>'
    )


def _named(slot: Slot, name: str, frame: Frame, x: float, wide: float) -> Iterator[str]:
    """The target's name, and beneath it what it comes to unless it passed."""
    size = 11 if len(name) * LETTER * 11 <= wide else 8.5
    yield write(x, frame.bottom + 16, fitted(name, wide, size), size=size, anchor="middle")
    state = slot.target.state
    if state != "passed":
        # In a narrow slot there is room for the sign only.
        words = state if len(state) * LETTER * 10 <= wide else SIGNS[state]
        yield write(x, frame.bottom + 31, words, size=10, anchor="middle", ink=BAD, bold=True)


def _bracket(slots: Sequence[Slot], frame: Frame, label: str) -> Iterator[str]:
    """From the lowest of what was left to the highest, with how much it is."""
    left = [slot.left.at for slot in slots if slot.left and slot.target.state != "skipped"]
    if len(left) < 2:
        return
    high, low = frame.held(max(left)), frame.held(min(left))
    x = frame.right - STRIP + 12
    yield (
        f'<path class="spread" d="M{x:.2f},{high:.2f} h8 V{low:.2f} h-8" fill="none" '
        f'stroke="{INK}" stroke-width="1.5"/>'
    )
    yield write(frame.right, frame.top - 14, label, anchor="end")


def _legend(slots: Sequence[Slot], frame: Frame) -> Iterator[str]:
    """What the signs mean, in one row above the frame."""
    x, y = frame.left, frame.top - 14
    yield '<g class="legend">'
    for kind, words, is_there in (
        ("found", "as found", any(slot.found for slot in slots)),
        ("left", "as left", any(slot.left for slot in slots)),
        ("newest", "newest, not final", any(slot.newest for slot in slots)),
    ):
        if is_there:
            yield sign(kind, x + 5, y - 4)
            yield write(x + 15, y, words)
            x += 15 + 6.2 * len(words) + 18
    yield line("key", (x + 5, y - 10, x + 5, y + 2), f'stroke="{INK}" stroke-width="1.6"')
    yield write(x + 13, y, "bar: ±U")
    if any(not frame.shows(mark.at) for slot in slots for mark in slot.marks):
        yield f'<path d="M{x + 68:.2f},{y - 9:.2f} l-5,9 h10 z" fill="none" stroke="{INK}"/>'
        yield write(x + 79, y, "arrow: beyond the picture")
    yield "</g>"
