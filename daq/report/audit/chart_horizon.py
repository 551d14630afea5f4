"""How many gauges come due in each month, as an SVG chart."""

from collections.abc import Iterator

from daq.ink.svg import BAD, INK, SOFT, Frame, line, write
from daq.report.audit.marks import GREY, WIDTH, bar
from daq.report.audit.model import Horizon, MonthBar
from daq.report.drawing import picture

LEFT, TOP, PLOT, FOOT = 8.0, 22.0, 120.0, 40.0
APART = 0.7
"""Room between the months and what stands beside them, in widths of a month."""


def horizon_chart(horizon: Horizon) -> str:
    """A bar a month. What is overdue stands before them, solid; what comes later after them."""
    bars = [horizon.overdue, *horizon.months, horizon.later]
    most = max((each.gauges for each in bars), default=0) or 1
    frame = Frame(LEFT, TOP, WIDTH - LEFT, TOP + PLOT, 0, most)
    wide = (frame.right - frame.left) / (len(horizon.months) + 2 * (1.4 + APART))
    x = frame.left
    parts = [*_bar("overdue", horizon.overdue, frame, (x, 1.4 * wide), INK)]
    x += (1.4 + APART) * wide
    begins = x
    for each in horizon.months:
        parts += _bar("month", each, frame, (x, wide), GREY)
        if each.year:
            parts.append(write(x + 2, frame.bottom + 31, each.year, ink=SOFT))
            parts.append(line("year", (x, frame.bottom, x, frame.bottom + 34), f'stroke="{SOFT}"'))
        x += wide
    parts.append(line("axis", (begins, frame.bottom, x, frame.bottom), f'stroke="{INK}"'))
    x += APART * wide
    parts += _bar("later", horizon.later, frame, (x, 1.4 * wide), "#fff")
    return picture(WIDTH, frame.bottom + FOOT, "Gauges that come due, by month", parts)


def _bar(
    kind: str, month: MonthBar, frame: Frame, at: tuple[float, float], fill: str
) -> Iterator[str]:
    x, wide = at
    top = frame.y(month.gauges)
    gap = 3.0
    if month.gauges:
        box = (x + gap, top, wide - 2 * gap, frame.bottom - top)
        yield bar(kind, box, fill)
    middle = x + wide / 2
    is_late = kind == "overdue" and month.gauges > 0
    ink = BAD if is_late else INK if month.gauges else SOFT
    yield write(middle, top - 5, month.shown, anchor="middle", ink=ink, bold=is_late)
    yield write(
        middle, frame.bottom + 15, month.month, size=10.5, anchor="middle", ink=ink, bold=is_late
    )
