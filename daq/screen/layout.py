"""How a terminal's rows and columns are shared out. Sizes only; no words, no drawing.

The shares follow from the terminal's size and the number's places, never from the value or the
state, so nothing on the screen moves while somebody turns a screw.
"""

from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache

from daq.screen.glyphs import FIGURES, MARKS, TALL, Font, Zoom, width_of
from daq.screen.scale import FEWEST_COLUMNS

NARROWEST = Fraction(2, 3)
"""Letters may be set as narrow as this against their height."""

LONG_HEADLINE_COLUMNS = 80
"""Columns of CLOCKWISE 3/16 as drawn."""

FEWEST_HEADLINE_COLUMNS = 50
"""Below this hardly a headline fits in block letters, and it is set as plain text."""

BLOCK_HEADLINE_ROWS = 6
"""Letters 5 rows high and half a row over and under them."""

_THIRDS = tuple(Fraction(thirds, 3) for thirds in range(12, 1, -1))
HALVES = tuple(Fraction(halves, 2) for halves in range(8, 1, -1))
_ONE = Fraction(1)


@dataclass(frozen=True, slots=True)
class NumberSize:
    """How the number is set: in which font and scale; no font for plain text."""

    font: Font | None
    scale: Zoom
    width: int
    """Columns of the number."""

    rows: int
    """Rows, with half a row at least between it and the floor."""

    has_mark: bool = False
    """Whether there is room for the sign to the left of it."""


@dataclass(frozen=True, slots=True)
class Layout:
    """The rows of each part from top to bottom; 0 for a part that has no room."""

    title: int
    number: int
    floor: int
    headline: int
    gate: int
    words: int
    foot: int
    number_size: NumberSize = NumberSize(None, (_ONE, _ONE), 0, 1)
    letters: Fraction = _ONE
    """Scale of the headline's letters."""

    blanks: tuple[int, int, int, int] = (0, 0, 0, 0)
    """Empty rows after the title, the floor, the headline and the gate."""

    @property
    def rows(self) -> int:
        """All rows together."""
        parts = (self.title, self.number, self.floor, self.headline, self.gate, self.words)
        return sum(parts) + self.foot + sum(self.blanks)


_GRADES = (
    Layout(title=1, number=10, floor=1, headline=BLOCK_HEADLINE_ROWS, gate=3, words=2, foot=1),
    Layout(title=1, number=7, floor=1, headline=BLOCK_HEADLINE_ROWS, gate=3, words=1, foot=1),
    Layout(title=1, number=7, floor=1, headline=1, gate=3, words=1, foot=1),
    Layout(title=1, number=4, floor=1, headline=1, gate=2, words=1, foot=1),
    Layout(title=1, number=1, floor=0, headline=1, gate=1, words=1, foot=1),
    Layout(title=1, number=1, floor=0, headline=1, gate=0, words=0, foot=1),
    Layout(title=0, number=1, floor=0, headline=1, gate=0, words=0, foot=1),
    Layout(title=0, number=1, floor=0, headline=1, gate=0, words=0, foot=0),
    Layout(title=0, number=0, floor=0, headline=1, gate=0, words=0, foot=0),
)
"""What is given up as rows get fewer, down to the headline alone in a single row."""


@lru_cache(maxsize=64)
def layout_for(width: int, height: int, number: str) -> Layout:
    """The layout for a terminal of ``width`` columns and ``height`` rows, 1 or more each.

    Args:
        width: columns.
        height: rows.
        number: the usual shape of the number, a figure before the point: ``"+0.000"``.
    """
    block_fits = width >= FEWEST_HEADLINE_COLUMNS
    grades = [grade for grade in _GRADES if block_fits or grade.headline == 1]
    plan = next(grade for grade in grades if grade.rows <= height)
    if width < FEWEST_COLUMNS:
        plan = replace(plan, gate=0)
    spare = height - plan.rows
    if plan.number:
        most = max(plan.number, min(plan.number + spare, height * 9 // 20))
        size = number_size(number, width, most)
        plan = replace(plan, number=size.rows, number_size=size)
        spare = height - plan.rows
    if plan.headline > 1:
        most = max(plan.headline, min(plan.headline + spare, height // 4))
        # No larger than a long headline can follow, set as narrow as letters go.
        widest = max(Fraction(width, LONG_HEADLINE_COLUMNS) / NARROWEST, _ONE)
        letters = next(
            scale for scale in HALVES if BLOCK_HEADLINE_ROWS * scale <= most and scale <= widest
        )
        plan = replace(plan, letters=letters, headline=int(BLOCK_HEADLINE_ROWS * letters))
        spare = height - plan.rows
    return replace(plan, blanks=_spread(spare))


@lru_cache(maxsize=64)
def number_size(number: str, width: int, rows: int) -> NumberSize:
    """The largest setting of a number of this shape in ``width`` columns and ``rows`` rows.

    A size at which the sign has room beside the number goes before a larger one without.
    """
    for wide in _THIRDS:
        for high in _THIRDS:
            size = _sized(number, TALL, (wide, high))
            if size.rows > rows or not Fraction(3, 4) <= high / wide <= Fraction(4, 3):
                continue
            mark = width_of("↷", MARKS, wide) + 2
            if size.width + mark <= width - 2:
                return replace(size, has_mark=True)
            if size.width <= width and wide <= 1:
                return size
    small = Fraction(1, 3)
    for font, scale in ((FIGURES, (_ONE, _ONE)), (TALL, (small, small))):
        size = _sized(number, font, scale)
        if size.width <= width and size.rows <= rows:
            return size
    return NumberSize(None, (_ONE, _ONE), len(number), 1)


def _sized(number: str, font: Font, scale: Zoom) -> NumberSize:
    pixels = int(font.height * scale[1] + Fraction(1, 2))
    return NumberSize(font, scale, width_of(number, font, scale[0]), (pixels + 2) // 2)


def _spread(spare: int) -> tuple[int, int, int, int]:
    """Empty rows shared out, the gap under the number first."""
    return ((spare + 1) // 4, (spare + 3) // 4, (spare + 2) // 4, spare // 4)
