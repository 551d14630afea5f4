"""The pieces that a report's charts are drawn with, as SVG elements.

Everything can be told apart without colour: by form, by weight, or by a word beside it. The font is
left to whoever shows the chart.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import groupby

from daq.ink.svg import clean

RULE, OUTSIDE = "#c9ced4", "#e9ebee"


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
