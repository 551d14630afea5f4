"""Pieces of an SVG picture.

Everything can be told apart without colour: by form, by weight, or by a word beside it.
"""

import re
from dataclasses import dataclass
from xml.sax.saxutils import escape

INK, SOFT = "#15191e", "#4d555e"
GOOD, BAD = "#14532d", "#8c1414"
LETTER = 0.6
"""Width of a letter as a share of the font's size; a usual sans-serif is no wider on average."""

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

    def x(self, share: float) -> float:
        """A place from the left edge (0) to the right one (1)."""
        return self.left + share * (self.right - self.left)

    def shows(self, value: float) -> bool:
        """Whether a value lies between the edges."""
        return self.low <= value <= self.high
