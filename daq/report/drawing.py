"""The pieces that a report's charts are drawn with, as SVG elements.

Everything can be told apart without colour: by form, by weight, or by a word beside it. The font is
left to whoever shows the chart.
"""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import groupby
from xml.sax.saxutils import escape

INK, SOFT, RULE, OUTSIDE = "#15191e", "#4d555e", "#c9ced4", "#e9ebee"
GOOD, BAD = "#14532d", "#8c1414"
LETTER = 0.58
"""Width of a letter as a share of the font's size, on average."""

_NOT_IN_XML = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def clean(text: str) -> str:
    """``text`` made fit for a line of XML."""
    return escape(_NOT_IN_XML.sub("\ufffd", " ".join(text.split())), {'"': "&quot;"})


def fitted(text: str, width: float, size: float) -> str:
    """``text``, its end left out where it is wider than ``width`` pixels."""
    most = max(int(width / (LETTER * size)), 1)
    return text if len(text) <= most else f"{text[: max(most - 1, 1)]}…"


def write(
    x: float,
    y: float,
    words: str,
    *,
    size: float = 11,
    anchor: str = "start",
    ink: str = INK,
    bold: bool = False,
    turned: bool = False,
) -> str:
    """One line of text with its base line at ``y``; ``turned`` reads from the bottom up."""
    weight = ' font-weight="bold"' if bold else ""
    turn = f' transform="rotate(-90 {x:.1f} {y:.1f})"' if turned else ""
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" font-size="{size:g}" text-anchor="{anchor}" '
        f'fill="{ink}"{weight}{turn}>{clean(words)}</text>'
    )


def line(kind: str, ends: tuple[float, float, float, float], look: str) -> str:
    """A straight line from (x, y) to (x, y)."""
    x1, y1, x2, y2 = ends
    return f'<line class="{kind}" x1="{x1:.2f}" y1="{y1:.2f}" x2="{x2:.2f}" y2="{y2:.2f}" {look}/>'


def picture(width: float, height: float, title: str, parts: Sequence[str]) -> str:
    """An SVG image that needs nothing else; ``title`` is what it shows, in words."""
    return "\n".join(
        [
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:g} {height:g}" '
            f'width="{width:g}" height="{height:g}" role="img" font-family="FONT">',
            f"<title>{clean(title)}</title>",
            *parts,
            "</svg>",
        ]
    )


def in_font(drawn: str, family: str) -> str:
    """A picture with its font: a name, or names with commas between."""
    return drawn.replace('font-family="FONT"', f'font-family="{clean(family)}"', 1)


@dataclass(frozen=True, slots=True)
class Frame:
    """Where a plot lies, in pixels, and which values its lower and upper edge stand for."""

    left: float
    top: float
    right: float
    bottom: float
    low: float
    high: float

    def y(self, value: float) -> float:
        """The height of a value; beyond an edge it is beyond the frame."""
        share = (value - self.low) / (self.high - self.low)
        return self.bottom - share * (self.bottom - self.top)

    def held(self, value: float) -> float:
        """The height of a value, or the edge that it is beyond."""
        return min(max(self.y(value), self.top), self.bottom)

    def shows(self, value: float) -> bool:
        """Whether a value lies between the edges."""
        return self.low <= value <= self.high


def ticks(low: float, high: float, most: int = 7) -> Iterator[tuple[float, str]]:
    """Round values from ``low`` to ``high``, at most so many, each with its digits and sign."""
    step = next(
        step
        for exponent in range(-9, 6)
        for lead in (1, 2, 5)
        if (high - low) / float(step := Decimal(lead).scaleb(exponent)) <= most
    )
    first, last = -int(-low // float(step)), int(high // float(step))
    for number in range(first, last + 1):
        at = number * step
        yield float(at), f"{at:+f}".replace("-", "−") if number else "0"


@dataclass(frozen=True, slots=True)
class Group:
    """Names side by side that begin alike: ``injector``, and ``1``, ``2``, ``3`` of it.

    ``first`` is the place of the first of them among all names.
    """

    kind: str
    names: tuple[str, ...]
    first: int


def grouped(words: Sequence[str], most: int) -> tuple[Group, ...]:
    """Names in order, grouped by what stands before their number, at most so many in a group.

    A name without a number at its end stands as it is.
    """
    split = []
    for each in words:
        kind, _, number = each.rpartition(" ")
        split.append((kind, number) if any(map(str.isdigit, number)) else ("", each))
    groups: list[Group] = []
    for kind, run in groupby(enumerate(split), key=lambda each: each[1][0]):
        same = list(run)
        size = -(-len(same) // -(-len(same) // most))  # groups of about one size
        for start in range(0, len(same), size):
            part = same[start : start + size]
            groups.append(Group(kind, tuple(name for _, (_, name) in part), part[0][0]))
    return tuple(groups)
