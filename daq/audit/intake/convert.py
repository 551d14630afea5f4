"""A cell of text as the value of the open format, exactly, or the reason why not.

Lengths and temperatures are read as exact decimals and rounded half to even to whole nanometres and
thousandths of a degree. A wrong number is worse than none: what has the wrong decimal mark is
refused, and never taken for something else.
"""

import re
from collections.abc import Callable
from decimal import ROUND_HALF_EVEN, Context, Decimal
from fractions import Fraction

from daq.audit.intake.mapping import ColumnFrom
from daq.audit.intake.times import time_reader
from daq.audit.layout import NULL, Column

Value = int | str
Reader = Callable[[str], Value]
"""Cell to value; raises ValueError with the reason."""

FACTORS = {
    "mm": Decimal(10**6),
    "in": Decimal(25_400_000),
    "µm": Decimal(1000),
    "nm": Decimal(1),
    "degC": Decimal(1000),
    "m°C": Decimal(1),
    "count": Decimal(1),
}
"""Nanometres (thousandths of a degree) in one of the unit. The inch is 25.4 mm exactly (1959)."""

LARGEST = 2**63 - 1

_NUMBER = re.compile(
    r"[+-]?(?:[0-9]{1,30}(?:\.[0-9]{0,40})?|\.[0-9]{1,40})(?:[eE][+-]?[0-9]{1,2})?"
)
_EXACT = Context(prec=150)
_MOST_REMEMBERED = 100_000


class Remembering(dict[str, Value]):
    """A reader that remembers what it has read: most cells of a log come again and again."""

    def __init__(self, read: Reader) -> None:
        super().__init__()
        self._read = read

    def __missing__(self, cell: str) -> Value:
        value = self._read(cell)
        if len(self) >= _MOST_REMEMBERED:
            self.clear()
        self[cell] = value
        return value


def reader_for(column: Column, given: ColumnFrom, decimal: str) -> Reader:
    """What reads the cells of a column.

    Args:
        column: the column of the open format.
        given: where it comes from.
        decimal: the decimal mark of the file.
    """
    if column.kind == "text":
        read = _text_reader(column, given.words)
    elif column.unit == "µs":
        read = time_reader(given.time, given.zone, last_day=given.last_day, decimal=decimal)
    else:
        read = number_reader(given.unit or "count", decimal)
    return Remembering(_or_missing(column, read)).__getitem__


def _or_missing(column: Column, read: Reader) -> Reader:
    missing: Value = "" if column.kind == "text" else NULL

    def reading(cell: str) -> Value:
        cell = cell.strip()
        if cell:
            return read(cell)
        if column.needed:
            raise ValueError("is empty")
        return missing

    return reading


def _text_reader(column: Column, words: dict[str, str]) -> Reader:
    if words:
        known = {**{word: word for word in column.words}, **words}
    else:
        known = {word: word for word in column.words}
    if not known:
        return lambda cell: cell
    closed = bool(column.words)

    def reading(cell: str) -> Value:
        if cell in known:
            return known[cell]
        if closed:
            raise ValueError("is none of the words it may be")
        return cell

    return reading


def number_reader(unit: str, decimal: str) -> Reader:
    """What reads a number in that unit, to whole nanometres, thousandths of a degree, or counts.

    A count must be a whole number.
    """
    other = "," if decimal == "." else "."

    def reading(cell: str) -> int:
        if other in cell:
            raise ValueError(f'has "{other}" where the decimal mark is "{decimal}"')
        number = decimal_in(cell.replace(",", "."))
        if unit == "count":
            if number != number.to_integral_value():
                raise ValueError("is not a whole number")
            return in_range(int(number))
        if unit == "degF":
            return in_range(round((Fraction(number) - 32) * 5000 / 9))
        return in_range(rounded(number, FACTORS[unit]))

    return reading


def decimal_in(cell: str) -> Decimal:
    """The number in a cell, exactly.

    Raises:
        ValueError: it is none.
    """
    if not _NUMBER.fullmatch(cell):
        raise ValueError("is not a number")
    return Decimal(cell)


def rounded(number: Decimal, factor: Decimal) -> int:
    """``number`` times ``factor`` to a whole number, half to even."""
    return int(_EXACT.multiply(number, factor).to_integral_value(ROUND_HALF_EVEN))


def in_range(number: int) -> int:
    """``number`` if it fits 64 bits.

    Raises:
        ValueError: it does not.
    """
    if abs(number) > LARGEST:
        raise ValueError("is far too large")
    return number
