"""Draws a trace of each hard family, the truth behind it, and what our settler said of it."""

from itertools import pairwise
from pathlib import Path

import numpy as np

from . import svg
from .compare import OURS, SETTLERS
from .scoring import is_false, reports_of
from .trace import make_trace

WIDTH, HEIGHT, LEFT, RIGHT, TOP, FOOT = 460, 190, 34, 12, 26, 24
COLUMNS = 2
LEGEND_HEIGHT = 48
# Family, readings a second, coarse display, seed, from and to (s), from and to (tolerances).
HARD = (
    ("exponential creep", 50, False, 9001, (0.5, 9.0), (-3, 2)),
    ("logarithmic creep", 50, False, 9003, (0.5, 8.0), (-1, 3)),
    ("slow vibration", 10, False, 9002, (0.5, 22.0), (-4, 4)),
    ("beating vibration", 50, False, 9001, (0.5, 14.0), (-4, 4)),
    ("hand that adjusts", 50, False, 9002, (1.5, 11.0), (-2, 6)),
    ("stick slip", 50, True, 9004, (3.0, 14.0), (-4, 16)),
    ("correlated noise", 50, False, 9003, (0.5, 9.0), (-2, 2)),
    ("lost frames", 50, False, 9002, (0.5, 7.0), (-2, 2)),
    ("lock nut", 50, True, 9002, (0.5, 14.0), (-8, 8)),
    ("hand that never rests", 50, False, 9001, (0.0, 15.0), (-25, 25)),
)


def draw_traces(folder: Path) -> None:
    """Write the sheet of hard families into ``folder``."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "settling-hard-families.svg").write_text(sheet(), "utf-8")


def sheet() -> str:
    """All panels of `HARD`, with what their signs mean above them."""
    parts = _legend()
    for place, (family, hz, coarse, seed, times_s, lengths) in enumerate(HARD):
        x = WIDTH * (place % COLUMNS)
        y = LEGEND_HEIGHT + HEIGHT * (place // COLUMNS)
        panel = Panel(make_trace(family, hz, coarse, seed), times_s, lengths)
        inside = "\n".join(panel.parts())
        parts.append(f'<g transform="translate({x},{y})">\n{inside}\n</g>')
    rows = -(-len(HARD) // COLUMNS)
    return svg.page(WIDTH * COLUMNS, LEGEND_HEIGHT + HEIGHT * rows, parts)


def _legend():
    y = 28
    return [
        svg.dots([(24, y - 4), (30, y - 6), (36, y - 3)], svg.DOTS, 2.6),
        svg.words(44, y, "readings, in tolerances"),
        svg.line(206, y - 4, 232, y - 4, svg.INK, 1.2, "4 3"),
        svg.words(238, y, "true rest"),
        svg.box(316, y - 11, 26, 14, svg.PALE_GREEN),
        svg.line(316, y - 4, 342, y - 4, svg.GREEN, 2),
        svg.words(348, y, "reported value ± 2 u"),
        svg.box(492, y - 11, 26, 14, svg.PALE_RED),
        svg.line(492, y - 4, 518, y - 4, svg.RED, 2),
        svg.words(524, y, "reported too early"),
    ]


class Panel:
    """One trace, from and to ``times_s``, from and to ``lengths`` about its last position."""

    def __init__(self, trace, times_s, lengths):
        self.trace = trace
        self.begin_s, self.end_s = times_s[0], min(times_s[1], float(trace.t_s[-1]))
        last = 0.0 if trace.never_rests else float(trace.stretches[-1].x(trace.t_s[-1:])[0])
        self.zero, self.low, self.high = last, last + lengths[0], last + lengths[1]

    def x_of(self, t_s):
        share = (min(max(t_s, self.begin_s), self.end_s) - self.begin_s) / (
            self.end_s - self.begin_s
        )
        return LEFT + share * (WIDTH - LEFT - RIGHT)

    def y_of(self, y):
        share = (min(max(y, self.low), self.high) - self.low) / (self.high - self.low)
        return HEIGHT - FOOT - share * (HEIGHT - TOP - FOOT)

    def shows(self, t_s, y):
        return self.begin_s <= t_s <= self.end_s and self.low <= y <= self.high

    def parts(self):
        """Everything in it, back to front."""
        bands, values = self._reported()
        trace = self.trace
        lengths = (trace.value_mm / trace.tolerance_mm).tolist()
        readings = zip(trace.t_s.tolist(), lengths, strict=True)
        points = [(self.x_of(t), self.y_of(y)) for t, y in readings if self.shows(t, y)]
        dots = svg.dots(points, svg.DOTS, 2.6)
        return [*self._frame(), *bands, dots, *values, *self._truth()]

    def _frame(self):
        trace = self.trace
        display = "coarse" if trace.coarse else "fine"
        title = f"{trace.family}, {trace.hz} readings a second, {display} display"
        parts = [svg.words(LEFT, 18, title, bold=True)]
        for y in (self.low, self.zero, self.high):
            at, said = self.y_of(y), f"{y - self.zero:+g}" if y != self.zero else "0"
            parts.append(svg.line(LEFT, at, WIDTH - RIGHT, at, svg.PALE_GREY))
            parts.append(svg.words(LEFT - 5, at + 4, said, svg.GREY, "end", 11))
        step_s = 1 if self.end_s - self.begin_s < 10 else 2
        for s in range(int(np.ceil(self.begin_s)), int(self.end_s) + 1, step_s):
            parts.append(svg.words(self.x_of(s), HEIGHT - 8, f"{s} s", svg.GREY, "middle", 11))
        return parts

    def _reported(self):
        """Bands and lines of what was said; readings that brought nothing new share a box."""
        trace = self.trace
        settler = SETTLERS[OURS](trace.step_mm, trace.tolerance_mm, trace.hz)
        reports, said, _ = reports_of(settler, trace)
        wrong = [(r.told_s, r.withdrawn_s or np.inf) for r in reports if is_false(trace, r)]
        runs = []
        for t, rest in zip(trace.t_s.tolist(), said, strict=True):
            news = None if rest is None else (rest.value_mm, rest.u_mm)
            if not runs or runs[-1][1] != news:
                runs.append((t, news))
        bands, values = [], []
        for (t, news), (until, _) in pairwise([*runs, (self.end_s, None)]):
            if news is None:
                continue
            level, u = (length / trace.tolerance_mm for length in news)
            left, wide = self.x_of(t), self.x_of(until) - self.x_of(t)
            top, tall = (
                self.y_of(level + 2 * u),
                self.y_of(level - 2 * u) - self.y_of(level + 2 * u),
            )
            if wide <= 0 or tall <= 0:
                continue
            too_early = any(told <= t < given_up for told, given_up in wrong)
            pale, strong = (svg.PALE_RED, svg.RED) if too_early else (svg.PALE_GREEN, svg.GREEN)
            bands.append(svg.box(left, top, wide + 0.1, tall, pale))
            values.append(svg.box(left, self.y_of(level) - 0.9, wide + 0.1, 1.8, strong))
        return bands, values

    def _truth(self):
        parts = []
        for stretch in self.trace.stretches:
            if stretch.rest is None:
                continue
            t = np.linspace(stretch.settled_s, stretch.end_s, 60)
            rows = zip(t.tolist(), stretch.rest(t).tolist(), strict=True)
            points = [(self.x_of(a), self.y_of(b)) for a, b in rows if self.shows(a, b)]
            if points:
                parts.append(svg.curve(points, svg.INK, 1.2, "4 3"))
        return parts
