"""The share of calibrations within limits, by kind and interval, as an SVG chart."""

from collections.abc import Iterator

from daq.ink.svg import INK, SOFT, Frame, fitted, line, write
from daq.report.audit.marks import WIDTH, dot, faint, spread
from daq.report.audit.model import ReliabilityLine, ReliabilityReport
from daq.report.drawing import picture

ROW, HEAD, FOOT = 21.0, 34.0, 32.0
KIND, INTERVAL, COUNTED, PLOT, SHOWN = 0.0, 110.0, 280.0, 300.0, 700.0


def reliability_chart(report: ReliabilityReport) -> str:
    """A row a kind and interval: the share observed, and the interval that holds the true one."""
    bottom = HEAD + len(report.lines) * ROW
    low = min(each.low for each in report.lines)
    # The scale begins at a round share, so that shares near 1 can be told apart.
    begins = next(share for share in (0.9, 0.8, 0.5, 0.0) if low >= share or share == 0.0)
    frame = Frame(PLOT, HEAD, 550.0, bottom, begins, 1.0)
    parts = [*_ground(frame)]
    for place, each in enumerate(report.lines):
        before = report.lines[place - 1].kind if place else ""
        parts += _row(each, before, frame, HEAD + (place + 0.5) * ROW)
    return picture(WIDTH, bottom + FOOT, "Found within limits at the end of the interval", parts)


def _x(frame: Frame, share: float) -> float:
    return frame.x((share - frame.low) / (frame.high - frame.low))


def _ground(frame: Frame) -> Iterator[str]:
    for x, words, anchor in (
        (KIND, "kind", "start"),
        (INTERVAL, "interval", "start"),
        (COUNTED, "within limits", "end"),
        (SHOWN, "share (95 %)", "end"),
    ):
        yield write(x, 14, words, size=10.5, ink=SOFT, anchor=anchor)
    yield line("head", (0, 21, WIDTH, 21), f'stroke="{INK}" stroke-width="1.2"')
    yield line("axis", (frame.left, frame.bottom, frame.right, frame.bottom), f'stroke="{INK}"')
    for part in range(6):
        share = frame.low + part / 5 * (1 - frame.low)
        x = _x(frame, share)
        yield line("tick", (x, frame.bottom, x, frame.bottom + 4), f'stroke="{INK}"')
        words = f"{100 * share:.0f} %"
        yield write(x, frame.bottom + 16, words, size=10, anchor="middle")


def _row(each: ReliabilityLine, before: str, frame: Frame, y: float) -> Iterator[str]:
    yield faint(y, frame.left, frame.right)
    if each.kind != before:
        yield write(KIND, y + 4, fitted(each.kind, 104, 11), bold=True)
    yield write(INTERVAL, y + 4, each.interval)
    yield write(COUNTED, y + 4, each.counted, anchor="end")
    yield spread("interval", (_x(frame, each.low), _x(frame, each.high), 4), y, 1.6)
    yield dot("share", _x(frame, each.share), y, filled=True)
    yield write(SHOWN, y + 4, each.shown, anchor="end")
