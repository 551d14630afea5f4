"""The drift of each gauge with its interval, as an SVG chart that is read like a table."""

from collections.abc import Iterator, Sequence

from daq.ink.svg import BAD, INK, SOFT, Frame, fitted, line, write
from daq.report.audit.marks import WIDTH, dot, faint, spread
from daq.report.audit.model import DriftLine, DriftReport
from daq.report.drawing import picture, ticks

ROW, HEAD, FOOT = 19.0, 34.0, 30.0
NAME, RUNS, SHOWN, INTERVAL, PLOT = 0.0, 128.0, 144.0, 210.0, 340.0
LIMIT, LEAVES, PLOT_END = 574.0, 700.0, 524.0
"""Where each column begins or, of those set to the right (runs, limit, leaves), ends."""

FAR = 1.5
"""An interval that reaches further than so many times the largest slope ends in an arrow."""


def drift_chart(drift: DriftReport) -> str:
    """A row a gauge: a disc is a drift whose interval leaves out 0, a ring is one that does not."""
    low, high = _range(drift.lines)
    bottom = HEAD + len(drift.lines) * ROW
    frame = Frame(PLOT, HEAD, PLOT_END, bottom, low, high)
    parts = [*_ground(frame)]
    for place, each in enumerate(drift.lines):
        parts += _row(each, frame, HEAD + (place + 0.5) * ROW)
    return picture(WIDTH, bottom + FOOT, "Drift of gauges with its interval of 95 %", parts)


def _range(lines: Sequence[DriftLine]) -> tuple[float, float]:
    far = FAR * max(max(abs(each.slope) for each in lines), 1e-7)
    ends = [0.0]
    for each in lines:
        ends += [max(each.low, -far), min(each.high, far), each.slope]
    low, high = min(ends), max(ends)
    room = 0.06 * (high - low) or 1e-6
    return low - room, high + room


def _x(frame: Frame, value: float) -> float:
    return frame.x((value - frame.low) / (frame.high - frame.low))


def _ground(frame: Frame) -> Iterator[str]:
    for x, words, anchor in (
        (NAME, "gauge", "start"),
        (RUNS, "calibrations", "end"),
        (SHOWN, "mm a year", "start"),
        (INTERVAL, "95 %", "start"),
        (LIMIT, "limit", "end"),
        (LEAVES, "leaves it", "end"),
    ):
        yield write(x, 14, words, size=10.5, ink=SOFT, anchor=anchor)
    yield line("head", (0, 21, WIDTH, 21), f'stroke="{INK}" stroke-width="1.2"')
    zero = _x(frame, 0)
    yield line("zero", (zero, HEAD - 6, zero, frame.bottom), f'stroke="{INK}" stroke-width="0.8"')
    yield line("axis", (frame.left, frame.bottom, frame.right, frame.bottom), f'stroke="{INK}"')
    for at, digits in ticks(frame.low, frame.high, 6):
        x = _x(frame, at)
        yield line("tick", (x, frame.bottom, x, frame.bottom + 4), f'stroke="{INK}"')
        yield write(x, frame.bottom + 16, digits, size=10, anchor="middle")


def _row(each: DriftLine, frame: Frame, y: float) -> Iterator[str]:
    yield faint(y, frame.left, frame.right)
    base = y + 4
    yield write(NAME, base, fitted(each.gauge, 84, 11), bold=each.is_clear)
    yield write(RUNS, base, each.calibrations, anchor="end")
    yield write(SHOWN, base, each.shown, bold=each.is_clear)
    yield write(INTERVAL, base, f"({each.interval})", size=9.5, ink=SOFT)
    ends = [_x(frame, min(max(end, frame.low), frame.high)) for end in (each.low, each.high)]
    yield spread("interval", (ends[0], ends[1], 3.5), y, 1.8 if each.is_clear else 1.0)
    for end, x, way in ((each.low, ends[0], -1), (each.high, ends[1], 1)):
        if not frame.low <= end <= frame.high:
            yield (
                f'<path class="far" d="M{x + way * 5:.2f},{y:.2f} l{-way * 7},-4 v8 z" '
                f'fill="{INK}"/>'
            )
    yield dot("slope", _x(frame, each.slope), y, filled=each.is_clear)
    yield write(LIMIT, base, each.limit, anchor="end")
    is_past = each.leaves.endswith(", past")
    yield write(LEAVES, base, each.leaves, anchor="end", ink=BAD if is_past else INK, bold=is_past)
