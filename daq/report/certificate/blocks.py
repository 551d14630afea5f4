"""The pieces that a certificate is laid out with: headings, facts, tables, sentences, pictures.

HTML and PDF are made from the same pieces, so that neither can say what the other does not. All
text is plain; whoever sets it escapes it.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

Tone = Literal["", "loud", "soft", "bad", "good"]
Align = Literal["left", "right"]


@dataclass(frozen=True, slots=True)
class Cell:
    """Some text, how loud it is, and what stands small beneath it."""

    text: str
    tone: Tone = ""
    small: str = ""


@dataclass(frozen=True, slots=True)
class Column:
    """A column of a table: its title, and its cells' side. ``wide`` takes what room is left."""

    title: str
    align: Align = "left"
    wide: bool = False


@dataclass(frozen=True, slots=True)
class Heading:
    """A heading: level 1 begins a part, level 2 a table."""

    words: str
    level: Literal[1, 2] = 1
    kind: Literal["heading"] = "heading"


@dataclass(frozen=True, slots=True)
class Facts:
    """Names with what they stand for."""

    pairs: tuple[tuple[str, Cell], ...]
    kind: Literal["facts"] = "facts"


@dataclass(frozen=True, slots=True)
class Table:
    """A table. ``dense`` is for many digits in little room."""

    columns: tuple[Column, ...]
    rows: tuple[tuple[Cell, ...], ...]
    dense: bool = False
    kind: Literal["table"] = "table"


@dataclass(frozen=True, slots=True)
class Sentence:
    """A paragraph; ``name`` stands before it in bold."""

    words: str
    tone: Tone = ""
    name: str = ""
    kind: Literal["sentence"] = "sentence"


@dataclass(frozen=True, slots=True)
class Code:
    """Something to be copied letter by letter."""

    words: str
    kind: Literal["code"] = "code"


@dataclass(frozen=True, slots=True)
class Picture:
    """An SVG picture, whose text is escaped already; ``FONT`` in it is the setter's to give."""

    svg: str
    kind: Literal["picture"] = "picture"


@dataclass(frozen=True, slots=True)
class PageBreak:
    """On paper, what follows begins a page."""

    kind: Literal["break"] = "break"


Block = Heading | Facts | Table | Sentence | Code | Picture | PageBreak


def facts(*pairs: tuple[str, Cell | str]) -> Facts:
    """Facts from names with text or cells."""
    return Facts(tuple((name, cell(given)) for name, given in pairs))


def table(
    columns: Sequence[Column], rows: Iterable[Sequence[Cell | str]], *, dense: bool = False
) -> Table:
    """A table from rows of text or cells."""
    return Table(tuple(columns), tuple(tuple(map(cell, row)) for row in rows), dense)


def cell(given: Cell | str) -> Cell:
    """A cell from text, or as it is."""
    return given if isinstance(given, Cell) else Cell(given)


def right(*titles: str) -> tuple[Column, ...]:
    """Columns of figures."""
    return tuple(Column(title, "right") for title in titles)


def left(*titles: str) -> tuple[Column, ...]:
    """Columns of words."""
    return tuple(Column(title) for title in titles)
