"""The bench screen as an SVG picture, for pages that show what it looks like.

Blocks are drawn as shapes, not as text, so the picture has no seams, and needs no font but the
reader's own monospace for the small print.
"""

import re
from collections.abc import Iterator
from xml.sax.saxutils import escape

from rich.cells import cell_len

from daq.screen.drawing import rows_of
from daq.screen.rows import Role, Row
from daq.screen.terminal import GROUND, INKS
from daq.screen.view import BenchView

CELL_WIDTH, CELL_HEIGHT = 10, 20
BASELINE = 15
BORDER = 12

# What part of its cell a block character covers: x, y, width, height.
_SHAPES = {
    "█": (0, 0, 10, 20),
    "▀": (0, 0, 10, 10),
    "▄": (0, 10, 10, 10),
    "▌": (0, 0, 5, 20),
    "▐": (5, 0, 5, 20),
    "▒": (0, 0, 10, 20),
    "│": (4, 0, 2, 20),
    "─": (0, 9, 10, 2),
}
_HALF_TONE = {"▒": ' fill-opacity="0.55"'}
_ARROWS = {"◄": "1,10 9,4 9,16", "►": "9,10 1,4 1,16"}
_RUNS = re.compile(r"([█▀▄▌▐▒│─])\1*|[◄►]|[^█▀▄▌▐▒│─◄► ]+(?: [^█▀▄▌▐▒│─◄► ]+)*| +")


def picture(view: BenchView, width: int, height: int) -> str:
    """The screen of ``width`` columns and ``height`` rows, as the text of an SVG file."""
    wide, high = width * CELL_WIDTH, height * CELL_HEIGHT
    frame = f"{wide + 2 * BORDER} {high + 2 * BORDER}"
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{-BORDER} {-BORDER} {frame}" '
        'font-family="DejaVu Sans Mono, Consolas, Menlo, monospace" font-size="16" '
        'shape-rendering="crispEdges">',
        f'<rect x="{-BORDER}" y="{-BORDER}" width="{wide + 2 * BORDER}" '
        f'height="{high + 2 * BORDER}" rx="6" fill="{GROUND}"/>',
    ]
    for number, row in enumerate(rows_of(view, width, height)):
        parts.extend(_row(row, number * CELL_HEIGHT))
    return "\n".join([*parts, "</svg>", ""])


def _row(row: Row, y: int) -> Iterator[str]:
    column = 0
    for text, role in row:
        for run in _RUNS.finditer(text):
            cells = cell_len(run[0])
            if run[0].strip():
                yield _run(run[0], cells, column * CELL_WIDTH, y, role)
            column += cells


def _run(text: str, cells: int, x: int, y: int, role: Role) -> str:
    ink = f'fill="{INKS[role]}"'
    if text[0] in _SHAPES:
        left, top, wide, high = _SHAPES[text[0]]
        if wide < CELL_WIDTH:
            cells = 1
        wide += (cells - 1) * CELL_WIDTH
        tone = _HALF_TONE.get(text[0], "")
        return f'<rect x="{x + left}" y="{y + top}" width="{wide}" height="{high}" {ink}{tone}/>'
    if text in _ARROWS:
        return f'<polygon points="{_ARROWS[text]}" transform="translate({x} {y})" {ink}/>'
    length = f'textLength="{cells * CELL_WIDTH}" lengthAdjust="spacingAndGlyphs"'
    weight = "" if role in ("small", "faint") else ' font-weight="bold"'
    return f'<text x="{x}" y="{y + BASELINE}" {length} {ink}{weight}>{escape(text)}</text>'
