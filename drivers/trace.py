"""Recorded traces: what a gauge sent and when, to be run again later.

A trace is CSV with a header. ``t_s,value`` holds readings in millimetres (or in the unit of a third
column ``unit``); ``t_s,bytes`` holds raw bytes in hex, as they arrived, and the words ``opened``
and ``lost`` where the port was opened or went away. Times are seconds and need not begin at zero.
Numbers have a decimal point, whatever the country.
"""

import csv
import math
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from decimal import Decimal
from typing import Literal, TextIO

from drivers.errors import TraceError
from drivers.reading import Reading, Unit

NUMBER = re.compile(r"[+-]?[0-9]{1,12}(?:\.[0-9]{1,12})?", re.ASCII)
TIME = re.compile(r"[+-]?[0-9]{1,15}(?:\.[0-9]{1,15})?(?:[eE][+-]?[0-9]{1,2})?", re.ASCII)


@dataclass(frozen=True, slots=True)
class RawBytes:
    """Bytes as they arrived at ``t_s``."""

    t_s: float
    data: bytes


@dataclass(frozen=True, slots=True)
class LinkMark:
    """The port was opened at ``t_s``, or went away; what came before says nothing of the rest."""

    t_s: float
    happened: Literal["opened", "lost"]


Row = Reading | RawBytes | LinkMark


def read_trace(lines: Iterable[str], name: str) -> Iterator[Row]:
    """The trace's rows in order.

    Args:
        lines: the file's lines.
        name: the file's name, for the messages.

    Raises:
        TraceError: a row is not what the header promises; the rows before it have been yielded.
    """
    rows = _cells(lines, name)
    header = [cell.strip() for cell in next(rows, (1, []))[1]]
    if header not in (["t_s", "value"], ["t_s", "value", "unit"], ["t_s", "bytes"]):
        raise TraceError(
            f'{name}:1: the header is {",".join(header)!r}; a trace begins with "t_s,value", '
            '"t_s,value,unit" or "t_s,bytes"'
        )
    for line, row in rows:
        where = f"{name}:{line}"
        if not row:
            continue
        if len(row) != len(header):
            raise TraceError(f"{where}: {len(row)} cells where the header has {len(header)}")
        t_s = _time(row[0].strip(), where)
        if header[1] == "bytes":
            yield _raw(t_s, row[1].strip(), where)
        else:
            yield _reading(t_s, row, where)


def _cells(lines: Iterable[str], name: str) -> Iterator[tuple[int, list[str]]]:
    """The number of each row's last line, and its cells."""
    rows = csv.reader(lines)
    try:
        for row in rows:
            yield rows.line_num, row
    except csv.Error as error:
        raise TraceError(f"{name}:{rows.line_num}: is no line of a table ({error})") from None


def write_raw(file: TextIO, rows: Iterable[RawBytes | LinkMark], header: bool = True) -> None:
    """Write what came over the wire as a trace; times lose no digit, so that it replays alike."""
    if header:
        file.write("t_s,bytes\n")
    for row in rows:
        cell = row.happened if isinstance(row, LinkMark) else row.data.hex()
        file.write(f"{row.t_s!r},{cell}\n")


def _time(text: str, where: str) -> float:
    if not TIME.fullmatch(text) or not math.isfinite(float(text)):
        raise TraceError(f"{where}: t_s is {text!r}; write seconds such as 12.345")
    return float(text)


def _raw(t_s: float, text: str, where: str) -> RawBytes | LinkMark:
    if text in ("opened", "lost"):
        return LinkMark(t_s, "opened" if text == "opened" else "lost")
    try:
        return RawBytes(t_s, bytes.fromhex(text))
    except ValueError:
        raise TraceError(
            f"{where}: bytes are {text!r}; write hex such as 2B30, opened or lost"
        ) from None


def _reading(t_s: float, row: list[str], where: str) -> Reading:
    text = row[1].strip()
    if not NUMBER.fullmatch(text):
        raise TraceError(f"{where}: value is {text!r}; write a number such as 12.345")
    unit = row[2].strip() if len(row) > 2 else "mm"
    if unit not in ("mm", "in"):
        raise TraceError(f"{where}: unit is {unit!r}; write mm or in")
    return Reading(Decimal(text), Unit(unit), t_s, text.encode("ascii"))
