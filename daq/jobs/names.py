"""How a sheet writes cylinders, degrees and what is set on a cylinder."""

import math
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator

Kind = Literal["intake", "exhaust", "injector"]
"""What is set on a cylinder."""

KINDS: tuple[Kind, ...] = ("intake", "exhaust", "injector")

_CYLINDER = re.compile(r"[A-Za-z0-9]{1,4}")
_LISTED = re.compile(r"[A-Za-z0-9]{1,4}(?:\.[1-9])?")
_BREAKS = re.compile(r"[\s,;–-]+")
_DEGREES = re.compile(r"-?[0-9]{1,3}(?:\.[0-9]{1,6})?")


@dataclass(frozen=True, slots=True)
class Item:
    """One thing to set: a valve or an injector of one cylinder.

    ``number`` tells several of a kind on one cylinder apart, counted from 1; it is None where
    the cylinder has one only.
    """

    kind: Kind
    cylinder: str
    number: int | None = None

    def __str__(self) -> str:
        """As a fitter says it: ``exhaust 3``, or ``exhaust 3.2`` for the second of several."""
        return f"{self.kind} {self.place}"

    @property
    def place(self) -> str:
        """The cylinder, and which of several: ``3`` or ``3.2``."""
        return self.cylinder if self.number is None else f"{self.cylinder}.{self.number}"


def items_of(kind: Kind, cylinder: str, count: int) -> tuple[Item, ...]:
    """Every item of a kind on one cylinder that has ``count`` of them."""
    if count == 1:
        return (Item(kind, cylinder),)
    return tuple(Item(kind, cylinder, number) for number in range(1, count + 1))


def listed(items: Iterable[Item], cylinders: Sequence[str], counts: dict[Kind, int]) -> str:
    """Items in a few words: ``intake 1 2 4; exhaust 1 3 5``.

    A cylinder whose items of a kind are all there is named once; else each is named: ``3.2``.

    Args:
        items: what to list; empty gives ``nothing``.
        cylinders: every cylinder, in the order to list them.
        counts: how many of each kind a cylinder has.
    """
    there, parts = set(items), []
    for kind in KINDS:
        words: list[str] = []
        for cylinder in cylinders:
            every = items_of(kind, cylinder, counts[kind])
            some = [item.place for item in every if item in there]
            words += [cylinder] if some and len(some) == len(every) else some
        if words:
            parts.append(" ".join((kind, *words)))
    return "; ".join(parts) or "nothing"


def degrees_words(angle: Fraction | Decimal) -> str:
    """An angle to a tenth of a degree, without needless zeros: ``120°``, ``102.9°``."""
    tenths = round(Fraction(angle) * 10)
    whole, tenth = divmod(abs(tenths), 10)
    return ("-" if tenths < 0 else "") + str(whole) + (f".{tenth}" if tenth else "") + "°"


def _cylinder(given: Any) -> str:
    """A cylinder's name, as text; a plain number will do."""
    if isinstance(given, int) and not isinstance(given, bool):
        given = str(given)
    if not isinstance(given, str) or not _CYLINDER.fullmatch(given):
        raise ValueError(f"{given!r} is no cylinder's name; write a number, or text such as 'A1'")
    return given


def _names(given: Any, pattern: re.Pattern[str], example: str) -> tuple[str, ...]:
    if isinstance(given, int) and not isinstance(given, bool):
        given = str(given)
    if isinstance(given, str):
        given = [word for word in _BREAKS.split(given) if word]
    if not isinstance(given, list | tuple):
        raise ValueError(f"{given!r} will not do here; write cylinders in quotes: {example}")
    words = [each if isinstance(each, str) else str(each) for each in given]
    for each, word in zip(given, words, strict=True):
        if isinstance(each, bool | float) or not pattern.fullmatch(word):
            raise ValueError(f"{word!r} is no cylinder; write cylinders in quotes: {example}")
    return tuple(words)


def _cylinders(given: Any) -> tuple[str, ...]:
    """Cylinders in order: ``"1-3-4-2"``, or a list."""
    return _names(given, _CYLINDER, '"1-3-4-2"')


def _places(given: Any) -> tuple[str, ...]:
    """Cylinders of which something is set: ``"1 2 4"``; ``"1.2"`` is the second of several."""
    return _names(given, _LISTED, '"1 2 4"')


def _degrees(given: Any) -> Decimal:
    """Degrees of crank angle as a sheet writes them: a plain number, or one in quotes."""
    if isinstance(given, Decimal):
        given = f"{given:f}"
    if isinstance(given, bool) or not isinstance(given, int | float | str):
        raise ValueError("write degrees as a number, such as 120 or 57.5")
    if isinstance(given, float) and not math.isfinite(given):
        raise ValueError(f"{given} is no angle; write degrees as a number, such as 120")
    word = given.removesuffix("°").strip() if isinstance(given, str) else f"{Decimal(str(given)):f}"
    if not _DEGREES.fullmatch(word):
        raise ValueError(f"{word} is no angle in degrees; write a number such as 120 or 57.5")
    return Decimal(word)


Cylinder = Annotated[str, BeforeValidator(_cylinder)]
"""A cylinder's name: up to four letters and digits."""

Cylinders = Annotated[tuple[str, ...], BeforeValidator(_cylinders)]
"""Cylinders in order."""

Places = Annotated[tuple[str, ...], BeforeValidator(_places)]
"""Cylinders, each perhaps with the number of the item on it."""

Degrees = Annotated[Decimal, BeforeValidator(_degrees)]
"""Degrees of crank angle, exactly as written, up to three digits before the point."""
