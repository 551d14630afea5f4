"""A study's values from CSV text; every mistake at once, by file and line.

The first line names the columns, in any order. Which columns there are says which kind of study it
is. A column ``unit`` is for lengths: mm, in, µm and the like. Without it, the figures are taken as
they are and the results have no unit.
"""

import csv
import difflib
import io
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Literal, get_args

from daq.calibration.study.errors import StudyError
from daq.spec import SpecError, length_mm

Kind = Literal["crossed", "bias", "stability", "levels", "check", "reliability"]
KINDS: tuple[Kind, ...] = get_args(Kind)

COLUMNS: dict[Kind, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "crossed": (("part", "operator", "trial", "value"), ("unit",)),
    "bias": (("reference", "value"), ("unit",)),
    "stability": (("at", "value"), ("unit",)),
    "levels": (("part", "run", "day", "value"), ("sd", "dof", "unit")),
    "check": (("day", "value"), ("sd", "dof", "unit")),
    "reliability": (("gauge", "found"), ()),
}
"""By kind: the columns that must be there, and those that may be."""

_NUMBERS = ("value", "reference", "sd")
_NO_UNIT = "{!r} is not a unit of length used here; the units are mm, cm, m, µm (um), nm, in, thou"
_FOUND = ("within", "near", "beyond")
_NUMBER = re.compile(
    r"[+\-−]?(?:[0-9]{1,15}(?:\.[0-9]{0,15})?|\.[0-9]{1,15})(?:[eE][+-]?[0-9]{1,2})?"
)
_COMMA = re.compile(r"[+\-−]?[0-9]*,[0-9]+")


@dataclass(frozen=True, slots=True)
class Row:
    """One line of a table: its text by column, and its numbers in the table's unit."""

    line: int
    text: dict[str, str]
    numbers: dict[str, float]


@dataclass(frozen=True, slots=True)
class Table:
    """What a CSV file holds. ``unit`` is that of every line, mm if they differ, empty for none."""

    name: str
    kind: Kind
    columns: tuple[str, ...]
    rows: tuple[Row, ...]
    unit: str

    def amount(self, text: str, *, what: str) -> float:
        """A figure written elsewhere, such as a tolerance, in the unit of this table.

        Raises:
            StudyError: it is no such figure; or it has a unit and the table none, or the other way.
        """
        squeezed = " ".join(text.split())
        if _NUMBER.fullmatch(squeezed):
            if self.unit:
                raise StudyError(f"{what} {text!r} has no unit; write {squeezed} {self.unit}")
            return float(squeezed.replace("−", "-"))
        try:
            mm = length_mm(text, signed=True)
        except SpecError as error:
            raise StudyError(f"{what}: {error}") from error
        if not self.unit:
            raise StudyError(
                f"{what} {text!r} has a unit and {self.name} none; add a column unit to the file, "
                "or leave the unit out here"
            )
        return float(mm / length_mm(f"1 {self.unit}"))


def read_table(text: str, name: str, kind: Kind | None = None) -> Table:
    """The table that ``text`` holds.

    Args:
        text: the CSV, columns separated by commas.
        name: of the file, for messages.
        kind: of study; None: from the columns.

    Raises:
        StudyError: its mistakes, each with file and line.
    """
    lines = list(_lines(text, name))
    if not lines:
        raise StudyError(f"{name}: it is empty; the first line must name the columns")
    head, body = lines[0], lines[1:]
    columns = tuple(cell.strip().casefold() for cell in head[1])
    kind = _kind(f"{name}:{head[0]}", columns, kind)
    if not body:
        raise StudyError(f"{name}:{head[0]}: there is no value beneath the names of the columns")
    problems: list[str] = []
    rows = []
    for line, cells in body:
        try:
            rows.append(_row(line, columns, cells))
        except StudyError as error:
            problems += (f"{name}:{line}: {problem}" for problem in error.problems)
    problems += _twice(name, kind, columns, rows)
    if problems:
        raise StudyError(*problems)
    return _in_one_unit(Table(name, kind, columns, tuple(rows), ""))


def _lines(text: str, name: str) -> Iterator[tuple[int, list[str]]]:
    """Every line that holds something, with its number."""
    reader = csv.reader(io.StringIO(text.removeprefix("\ufeff"), newline=""), strict=True)
    first = 1
    try:
        for cells in reader:
            if any(cell.strip() for cell in cells):
                yield first, cells
            first = reader.line_num + 1
    except csv.Error as error:
        raise StudyError(f"{name}:{reader.line_num}: it is not CSV: {error}") from error


def _kind(where: str, columns: Sequence[str], asked: Kind | None) -> Kind:
    """Which study these columns are for; every mistake in their names."""
    if len(columns) == 1 and re.search(r"[;\t]", columns[0]):
        raise StudyError(f"{where}: the columns must be separated by commas")
    problems = [
        f"{where}: column {name!r} is there twice"
        for name in dict.fromkeys(columns)
        if columns.count(name) > 1
    ]
    kind = max(KINDS, key=lambda each: _likeness(each, columns)) if asked is None else asked
    if asked is None and _likeness(kind, columns) <= 0:
        told = "; ".join(f"{each}: {','.join(COLUMNS[each][0])}" for each in KINDS)
        raise StudyError(f"{where}: these columns are for no study. The studies are {told}")
    must, may = COLUMNS[kind]
    of = f"a study of kind {kind}"
    problems += [
        f"{where}: column {name} is missing; {of} has {','.join(must)}"
        for name in must
        if name not in columns
    ]
    for name in dict.fromkeys(columns):
        if name not in must + may:
            near = difflib.get_close_matches(name, must + may, n=1)
            hint = f"did you mean {near[0]}?" if near else f"{of} has {','.join(must + may)}"
            problems.append(f"{where}: column {name!r} is not known; {hint}")
    if ("sd" in columns) != ("dof" in columns):
        problems.append(f"{where}: columns sd and dof go together; one of them is missing")
    if problems:
        raise StudyError(*problems)
    return kind


def _likeness(kind: Kind, columns: Sequence[str]) -> int:
    must, may = COLUMNS[kind]
    own = [name for name in must if name != "value"]
    if not any(name in columns for name in own):
        return 0
    return 100 + 3 * sum((1 if n in columns else -1) for n in must) + sum(n in columns for n in may)


def _row(line: int, columns: Sequence[str], cells: Sequence[str]) -> Row:
    """One line; its numbers as they are written, whatever their unit."""
    if len(cells) != len(columns):
        raise StudyError(
            f"{len(cells)} cells where there are {len(columns)} columns; a decimal comma makes two "
            "cells of one"
        )
    text = {name: cell.strip() for name, cell in zip(columns, cells, strict=True)}
    problems = []
    numbers = {}
    for name, cell in text.items():
        try:
            if name in _NUMBERS:
                numbers[name] = _number(cell)
            elif name == "dof":
                numbers[name] = _degrees(cell)
            elif name == "unit":
                length_mm(f"1 {cell}")
            elif name == "found" and cell not in _FOUND:
                raise StudyError(f"{cell!r} is none of {', '.join(_FOUND)}")
            elif not cell:
                raise StudyError("the cell is empty")
        except (StudyError, SpecError) as error:
            said = _NO_UNIT.format(cell) if isinstance(error, SpecError) else error
            problems.append(f"{name}: {said}")
    if numbers.get("sd", 0.0) < 0:
        problems.append(f"sd: {text['sd']} is below zero, and a standard deviation is not")
    if problems:
        raise StudyError(*problems)
    return Row(line, text, numbers)


def _number(cell: str) -> float:
    if _NUMBER.fullmatch(cell):
        return float(cell.replace("−", "-"))
    if not cell:
        raise StudyError("the cell is empty")
    if _COMMA.fullmatch(cell):
        raise StudyError(f"{cell!r} has a decimal comma; write {cell.replace(',', '.')}")
    raise StudyError(f"{cell!r} is not a number such as 12.705; the unit goes into a column unit")


def _degrees(cell: str) -> float:
    if re.fullmatch(r"[1-9][0-9]{0,5}", cell):
        return int(cell)
    raise StudyError(f"{cell!r} is not a whole number from 1: how many values, less one")


_KEYS: dict[Kind, tuple[str, ...]] = {
    "crossed": ("part", "operator", "trial"),
    "levels": ("part", "run", "day"),
    "check": ("day",),
}
"""By kind: what names a value. Where no standard deviation is given, an occasion has several."""


def _twice(name: str, kind: Kind, columns: Sequence[str], rows: Sequence[Row]) -> list[str]:
    """Lines whose value is already there."""
    if kind not in _KEYS or (kind != "crossed" and "sd" not in columns):
        return []
    seen: dict[tuple[str, ...], int] = {}
    problems = []
    for row in rows:
        key = tuple(row.text[each] for each in _KEYS[kind])
        if key in seen:
            named = ", ".join(f"{n} {k}" for n, k in zip(_KEYS[kind], key, strict=True))
            problems.append(f"{name}:{row.line}: {named} is already on line {seen[key]}")
        seen.setdefault(key, row.line)
    return problems


def _in_one_unit(table: Table) -> Table:
    """The table with all numbers in one unit: their own if they share it, else millimetres."""
    units = dict.fromkeys(row.text["unit"] for row in table.rows if "unit" in row.text)
    if len(units) <= 1:
        return Table(table.name, table.kind, table.columns, table.rows, next(iter(units), ""))
    rows = []
    for row in table.rows:
        ratio = length_mm(f"1 {row.text['unit']}")
        numbers = {
            # Multiplied as decimals: 0.5 in is 12.7 mm, to the last digit.
            n: float(Decimal(row.text[n].replace("−", "-")) * ratio) if n in _NUMBERS else number
            for n, number in row.numbers.items()
        }
        rows.append(Row(row.line, row.text, numbers))
    return Table(table.name, table.kind, table.columns, tuple(rows), "mm")
