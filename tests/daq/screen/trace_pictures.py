"""Traces to draw, and their pictures read back by the scales of their own axes."""

import math
import re
import xml.etree.ElementTree as ET
from decimal import Decimal

from daq.measure.events import AtRest
from daq.screen.trace_course import Seen
from daq.screen.trace_plot import trace_plot
from daq.spec import SimpleAcceptance, Spec, decide

SVG = "{http://www.w3.org/2000/svg}"
STEP_MM = Decimal("0.001")
SPEC = Spec.of("height", nominal="12.34 mm", limits="± 0.02 mm", source="sheet 1")
MOTIONS = ["moving", "coming to rest", "at rest", "vibrating"]


class Axes:
    """One plot of a picture: its group of elements, and its scales as its ticks tell them."""

    def __init__(self, group):
        self.group = group
        self.mm = self._scale("length-tick", 1)
        self.s = self._scale("time-tick", 0)
        rect = group.find(f"{SVG}rect[@class='frame']")
        self.left, self.top, self.width, self.height = (
            float(rect.get(name)) for name in ("x", "y", "width", "height")
        )

    def _scale(self, name, place):
        """The function from pixels to what the ticks' digits say, through the outermost two."""
        ticks = [
            (coordinates(each.find(f"{SVG}path"))[0][place], float(each.find(f"{SVG}text").text))
            for each in self.group.findall(f"{SVG}g[@class='{name}']")
        ]
        (p1, v1), (p2, v2) = ticks[0], ticks[-1]
        assert p1 != p2, "an axis needs two ticks"
        return lambda pixels: v1 + (pixels - p1) * (v2 - v1) / (p2 - p1)

    @property
    def low(self):
        return self.mm(self.top + self.height)

    @property
    def high(self):
        return self.mm(self.top)

    def boxes(self):
        """Each interval as since_s, until_s, lowest and highest length, and its mean line's."""
        for rest in self.group.findall(f"{SVG}g[@class='rest']"):
            box = rest.find(f"{SVG}rect[@class='interval']")
            x, y, wide, high = (float(box.get(a)) for a in ("x", "y", "width", "height"))
            mean = coordinates(rest.find(f"{SVG}path[@class='mean']"))[0][1]
            yield self.s(x), self.s(x + wide), self.mm(y + high), self.mm(y), self.mm(mean)

    def line(self):
        """The line of the readings as times and lengths."""
        path = self.group.find(f".//{SVG}path[@class='readings']")
        return [(self.s(x), self.mm(y)) for x, y in coordinates(path)]

    def marks(self):
        return [
            self.mm(coordinates(p)[0][1]) for p in self.group.findall(f"{SVG}path[@class='mark']")
        ]


def coordinates(path):
    return [(float(x), float(y)) for x, y in re.findall(r"(-?[\d.]+),(-?[\d.]+)", path.get("d"))]


def plotted(seen, rests=(), spec=None, title="trace.csv", step_mm=STEP_MM):
    return ET.fromstring(trace_plot(title, seen, rests, step_mm=step_mm, spec=spec))


def main_plot(root):
    return Axes(root.find(f"{SVG}g[@class='trace']"))


def panels(root):
    return [Axes(group) for group in root.findall(f"{SVG}g[@class='panel']")]


def texts(root):
    return ["".join(each.itertext()) for each in root.iter(f"{SVG}text")]


def course(*values_mm, gap_s=0.1, motion="moving"):
    return [Seen(k * gap_s, mm, motion) for k, mm in enumerate(values_mm)]


def rest(value_mm=12.3405, u_mm=0.0013, since_s=2.0, until_s=5.0, number=1, spec=None):
    verdict = decide(value_mm, u_mm, spec, SimpleAcceptance()) if spec else None
    return AtRest(number, value_mm, u_mm, 31, since_s, until_s, verdict)


def flicker(count, about_mm=12.34):
    return [about_mm + 0.001 * (k * k % 3 - 1) for k in range(count)]


def spells(root):
    """The strip's rectangles: state, from and until in seconds."""
    axes = main_plot(root)
    for rect in root.findall(f"{SVG}rect[@class]"):
        x, y, wide = (float(rect.get(name)) for name in ("x", "y", "width"))
        if 0 < y - axes.top - axes.height < 10:
            yield rect.get("class"), axes.s(x), axes.s(x + wide)


def moved_far(u_mm=0.0005):
    """A plunger that comes down 5 mm and rests: the interval is 1/2500 of the way."""
    way = [12.34 + 5 * math.exp(-k / 4) for k in range(40)]
    seen = course(*way, *flicker(80))
    return seen, [rest(12.3401, u_mm, 6.0, 11.0, spec=SPEC)]


def staircase(count, rise_mm=0.1):
    seen, rests = [], []
    for k in range(count):
        level_mm = 12 + k * rise_mm
        seen += [Seen(4 * k + t / 10, mm, "at rest") for t, mm in enumerate(flicker(40, level_mm))]
        rests.append(rest(level_mm, 0.0004, 4 * k + 0.5, 4 * k + 3.9, k + 1))
    return seen, rests


def side_by_side(count):
    """Rests of one length so close to each other that few labels have room."""
    rests = [rest(12.34, 0.0013, 0.8 * k, 0.8 * k + 0.6, k + 1) for k in range(count)]
    return course(*flicker(8 * count)), rests
