"""Rows of text with roles, fitted to a width in terminal columns.

Text from outside (labels, notices) may hold anything: wide characters, control characters, more
words than there is room for. Here it is made harmless and cut at a word, never in a number.
"""

from functools import lru_cache
from typing import Literal

from rich.cells import cell_len, set_cell_size

Role = Literal["ground", "number", "ink", "small", "faint", "wall", "turn", "wait", "good", "stop"]
"""What a piece of text is for. A palette gives each a style; the words do without."""

Row = tuple[tuple[str, Role], ...]
Rows = tuple[Row, ...]

JOINT = "  ·  "
CUT = "…"

_VARIATION_SELECTORS = {*range(0xFE00, 0xFE10), *range(0xE0100, 0xE01F0)}


def line(phrases: list[str], width: int, role: Role = "small") -> Row:
    """As many phrases as fit, in order, a column in from the left. Only the first may be cut."""
    text = _joined(phrases, max(width - 2, 0))
    return ((" ", "ground"), (text, role)) if text else ()


def ends(left: list[str], right: list[str], width: int) -> Row:
    """Phrases at both ends of a row. The left ones go first when there is no room for all."""
    head = _joined(left, max(width - 2, 0))
    room = width - 2 - cell_len(head) - 3
    tail = _joined(right, room) if right and cell_len(clean(right[0])) <= room else ""
    gap = width - 2 - cell_len(head) - cell_len(tail)
    return ((" ", "ground"), (head, "small"), (" " * max(gap, 0), "ground"), (tail, "faint"))


@lru_cache(maxsize=1024)
def filled(row: Row, width: int) -> Row:
    """The row made exactly ``width`` columns wide, without empty pieces."""
    pieces: list[tuple[str, Role]] = []
    room = width
    for text, role in row:
        if cell_len(text) > room:
            text = set_cell_size(text, room)
        room -= cell_len(text)
        if text:
            pieces.append((text, role))
    if room > 0:
        pieces.append((" " * room, "ground"))
    return tuple(pieces)


@lru_cache(maxsize=256)
def clean(text: str) -> str:
    """``text`` with nothing in it that moves the cursor or whose width is uncertain."""
    return "".join(
        char if char.isprintable() else "?"
        for char in text
        if ord(char) not in _VARIATION_SELECTORS
    )


def ascii_phrases(phrases: list[str]) -> list[str]:
    """Phrases in ASCII, spelled out where one character will not do."""
    return [
        "".join(char if char.isascii() else _SPELLED.get(char, "?") for char in phrase)
        for phrase in phrases
    ]


def ascii_row(row: Row) -> Row:
    """A drawn row in ASCII, of the same width; ``?`` for what has no likeness in it."""
    return tuple(
        ("".join(char if char.isascii() else _likeness(char) for char in text), role)
        for text, role in row
    )


def _likeness(char: str) -> str:
    return _DRAWN.get(char) or "?" * cell_len(char)


_SPELLED = {"±": "+/-", "°": " deg", "×": "x", "µ": "u", "−": "-", "…": "...", "·": "-"}
_DRAWN = dict(zip("█▀▄▌▐▒│─◄►·…↷↶↑↓↕✓‖×", '#".##%|-<>-~><^vX*=x', strict=True))


def _joined(phrases: list[str], width: int) -> str:
    text = ""
    for phrase in map(clean, phrases):
        longer = f"{text}{JOINT}{phrase}" if text else _cut(phrase, width)
        if cell_len(longer) <= width:
            text = longer
    return text


def _cut(text: str, width: int) -> str:
    """``text``, or as many whole words of it as fit, with a sign that it was cut."""
    if cell_len(text) <= width:
        return text
    kept = text.split(" ")
    while kept and cell_len(" ".join(kept)) + 1 > width:
        kept.pop()
    return " ".join(kept) + CUT if kept else ""
