"""Text files as rows of cells, each with its physical line; what is no row is told, never dropped.

A line that cannot be decoded, has too few or too many cells, or has a quote that is not closed is
rejected by itself, and the next line is read as a row again. Blank lines are no rows.
"""

import codecs
import csv
import json
from collections.abc import Callable, Iterator
from itertools import chain
from pathlib import Path
from typing import BinaryIO

from daq.audit.intake.mapping import TableFrom

Row = tuple[int, list[str]]
Reject = Callable[[int, str, str, str], None]
"""Called with line, column, reason and value."""

LONGEST_LINE = 1 << 20
"""Bytes. A longer one is no row of a log, and must not fill the memory."""

_MOST_LINES = 50
"""Physical lines that one quoted cell may go over."""


class NotReadableError(Exception):
    """The file as a whole cannot be read; the reason is its words."""


def csv_rows(path: Path, given: TableFrom, wanted: list[str], reject: Reject) -> Iterator[Row]:
    """The rows of a CSV file with the cells of the ``wanted`` columns, in that order.

    Raises:
        NotReadableError: it has no header, or a wanted column is not in it.
        OSError: it cannot be opened or read.
    """
    lines = _decoded(path, given, reject)
    header = _header(lines, given, wanted)
    places = [header.index(name) for name in wanted]
    width = len(header)
    for number, line in lines:
        if '"' in line:
            cells = _quoted(number, line, lines, given.separator, reject)
            if cells is None:
                continue
        else:
            cells = line.split(given.separator)
        if len(cells) != width:
            reject(number, "", f"has not the {width} cells of the header", line)
        else:
            yield number, [cells[place] for place in places]


def jsonl_rows(path: Path, given: TableFrom, wanted: list[str], reject: Reject) -> Iterator[Row]:
    """The rows of a JSON lines file with the values of the ``wanted`` names as text.

    A name that is not there, and null, are an empty cell. Numbers keep every digit.
    """
    for number, line in _decoded(path, given, reject):
        try:
            row = json.loads(line, parse_float=str, parse_int=str)
        except (ValueError, RecursionError):
            reject(number, "", "is no JSON", line)
            continue
        if not isinstance(row, dict):
            reject(number, "", "is no JSON object", line)
            continue
        cells = [row.get(name) for name in wanted]
        for name, cell in zip(wanted, cells, strict=True):
            if cell is not None and not isinstance(cell, str):
                reject(number, name, "is neither a text nor a number", str(cell))
                break
        else:
            yield number, ["" if cell is None else cell for cell in cells]


def _header(lines: Iterator[tuple[int, str]], given: TableFrom, wanted: list[str]) -> list[str]:
    for _, line in lines:
        try:
            header = [each.strip() for each in next(csv.reader([line], delimiter=given.separator))]
        except csv.Error as error:
            raise NotReadableError(f"its header is no line of a table ({error})") from None
        missing = [name for name in wanted if name not in header]
        if missing:
            there = ", ".join(header)[:200]
            raise NotReadableError(f'it has no column "{missing[0]}"; there are {there}')
        return header
    raise NotReadableError("it has no header line")


def _quoted(
    number: int, line: str, lines: Iterator[tuple[int, str]], separator: str, reject: Reject
) -> list[str] | None:
    """The cells of a line with quotes in it; a quoted cell may go over several lines.

    Where a quote is never closed, its own line is rejected and the others are read for themselves:
    ``lines`` must be a `_Lines`.
    """
    taken: list[tuple[int, str]] = []
    text = line
    while True:
        try:
            found = list(csv.reader(text.splitlines(True), delimiter=separator, strict=True))
        except csv.Error as error:
            more = None
            if "unexpected end" in str(error) and len(taken) < _MOST_LINES:
                more = next(lines, None)
            if more is not None:
                taken.append(more)
                text += "\n" + more[1]
                continue
            assert isinstance(lines, _Lines)
            lines.give_back(taken)
            reject(number, "", "has a quote that is not closed or not doubled", line)
            return None
        return found[0] if len(found) == 1 else []


class _Lines(Iterator[tuple[int, str]]):
    """Lines with their numbers, which can be given back."""

    def __init__(self, lines: Iterator[tuple[int, str]]) -> None:
        self._lines = lines

    def __next__(self) -> tuple[int, str]:
        return next(self._lines)

    def give_back(self, lines: list[tuple[int, str]]) -> None:
        if lines:
            self._lines = chain(lines, self._lines)


def _decoded(path: Path, given: TableFrom, reject: Reject) -> _Lines:
    read = _utf16_lines if given.encoding == ("utf-16",) else _byte_lines
    return _Lines(read(path, given, reject))


def _byte_lines(path: Path, given: TableFrom, reject: Reject) -> Iterator[tuple[int, str]]:
    """The lines of a file in encodings of one byte a character, or UTF-8, blank ones left out."""
    first, *others = given.encoding
    with open(path, "rb") as file:
        if file.read(3) != codecs.BOM_UTF8:
            file.seek(0)
        for number, raw in enumerate(_bounded(file, reject), start=1):
            if raw is None or number <= given.skip_lines:
                continue
            raw = raw.rstrip(b"\r\n")
            if not raw.strip():
                continue
            try:
                yield number, raw.decode(first)
            except UnicodeDecodeError:
                text = _other(raw, others)
                if text is None:
                    known = " or ".join(given.encoding)
                    reject(number, "", f"is not {known} text", raw.decode("latin-1"))
                else:
                    yield number, text


def _bounded(file: BinaryIO, reject: Reject) -> Iterator[bytes | None]:
    """The physical lines; None for one that is far too long, which is rejected."""
    number = 0
    while raw := file.readline(LONGEST_LINE):
        number += 1
        if len(raw) < LONGEST_LINE or raw.endswith(b"\n"):
            yield raw
            continue
        start = raw[:60].decode("latin-1")
        while raw and not raw.endswith(b"\n"):
            raw = file.readline(LONGEST_LINE)
        reject(number, "", f"is longer than {LONGEST_LINE} bytes", start)
        yield None


def _other(raw: bytes, encodings: list[str]) -> str | None:
    for encoding in encodings:
        try:
            return raw.decode(encoding)
        except UnicodeDecodeError:
            continue
    return None


def _utf16_lines(path: Path, given: TableFrom, reject: Reject) -> Iterator[tuple[int, str]]:
    """The lines of a UTF-16 file. Past a place that cannot be decoded nobody knows the lines."""
    number = 0
    with open(path, encoding="utf-16", newline="\n") as file:
        try:
            for number, line in enumerate(file, start=1):
                line = line.rstrip("\r\n")
                if number > given.skip_lines and line.strip():
                    yield number, line
        except UnicodeError:
            why = "is not utf-16 text; from here on the file cannot be read"
            reject(number + 1, "", why, "")
