"""Records in open formats: CSV for people and analysts, JSON lines for proof.

CSV after RFC 4180: UTF-8, a decimal point whatever the locale, the unit in the column's name, times
in UTC after ISO 8601; beside it a Table Schema (JSON) that says what each column is. One row a
record of whatever kind; what a kind does not have is left empty. Lists are JSON in one cell.

JSON lines: one entry a line as canonical JSON, the record byte for byte as it was hashed. A file
that holds a whole logbook can be verified again by itself: `daq.logbook.proof.verify_jsonl`.
"""

import csv
import io
import json
import re
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import NamedTuple

from daq.logbook.book import Entry
from daq.logbook.canonical import canonical
from daq.logbook.disk import write_new
from daq.logbook.errors import ExportError
from daq.logbook.records import UnknownRecord

_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")
_PLAIN_NUMBER = re.compile(r"[+-]?[0-9]+(\.[0-9]+)?")


class Column(NamedTuple):
    """A column: its name, Table Schema type and meaning, and where in the record it stands."""

    name: str
    type: str
    description: str
    at: tuple[str, ...]


COLUMNS: tuple[Column, ...] = (
    Column("sequence", "integer", "number of the record in the logbook", ("sequence",)),
    Column("kind", "string", "what the record is: logbook, capture or note", ("kind",)),
    Column("format", "integer", "version of this kind of record", ("format",)),
    Column("intact", "boolean", "whether the record fits its own hash", ("intact",)),
    Column("at_utc", "datetime", "when it was made, ISO 8601, UTC", ("at",)),
    Column("monotonic_s", "number", "reader's monotonic clock at the capture", ("monotonic_s",)),
    Column("uid", "string", "the record's own id", ("uid",)),
    Column("station", "string", "bench or computer", ("station",)),
    Column("operator", "string", "who was at it", ("operator",)),
    Column("gauge_label", "string", "what is written on the gauge", ("gauge", "label")),
    Column("gauge_profile", "string", "profile its frames were read by", ("gauge", "profile")),
    Column("gauge_identity", "string", "identity of its adapter", ("gauge", "identity")),
    Column("gauge_port", "string", "port it was on, a hint only", ("gauge", "port")),
    Column("spec_name", "string", "the characteristic", ("spec", "name")),
    Column("nominal_mm", "number", "specified length", ("spec", "nominal_mm")),
    Column("lower_mm", "number", "lower limit of the deviation", ("spec", "lower_mm")),
    Column("upper_mm", "number", "upper limit of the deviation", ("spec", "upper_mm")),
    Column("spec_unit", "string", "unit the spec was written in", ("spec", "unit")),
    Column("spec_source", "string", "where the spec comes from", ("spec", "source")),
    Column("value_mm", "number", "the settled length", ("value_mm",)),
    Column("u_mm", "number", "its standard uncertainty, k = 1", ("u_mm",)),
    Column("n", "integer", "readings averaged", ("n",)),
    Column("rest_seen", "boolean", "whether the part was seen to be at rest", ("rest_seen",)),
    Column("since_s", "number", "start of the settled span, monotonic clock", ("since_s",)),
    Column("until_s", "number", "end of the settled span, monotonic clock", ("until_s",)),
    Column("span_readings", "integer", "readings within the span", ("span_readings",)),
    Column("resolution_mm", "number", "display step of the gauge", ("resolution_mm",)),
    Column("deviation_mm", "number", "value minus nominal", ("deviation_mm",)),
    Column("outcome", "string", "in, low, high or too close to call", ("verdict", "outcome")),
    Column("rule", "string", "decision rule", ("verdict", "rule")),
    Column("guard_mm", "number", "guard band of the rule", ("verdict", "guard_mm")),
    Column("trigger", "string", "what took it: settled, data key or key", ("trigger",)),
    Column("unit_shown", "string", "unit on the gauge's display", ("unit_shown",)),
    Column("readings", "array", "the newest numbers as received", ("readings", "text")),
    Column("readings_t_s", "array", "their times, monotonic clock", ("readings", "t_s")),
    Column("readings_status", "array", "their status words", ("readings", "status")),
    Column("frames_hex", "array", "the bytes they came in", ("frames",)),
    Column("bad_frames", "integer", "bad frames since the last capture", ("bad_frames",)),
    Column("note", "string", "note on the capture", ("note",)),
    Column("purpose", "string", "of a note: remark or withdrawal", ("purpose",)),
    Column("about_uid", "string", "the record a note is about", ("about",)),
    Column("text", "string", "the text of a note", ("text",)),
    Column("logbook_id", "string", "of the cover: the logbook's own id", ("id",)),
    Column("unreadable", "string", "why this program cannot read the record", ("unreadable",)),
    Column("previous_hash", "string", "hash of the record before", ("previous",)),
    Column("hash", "string", "hash of this record", ("hash",)),
)
"""The columns of an export, in order. New ones are added at the end."""


def table_schema() -> dict[str, object]:
    """The Table Schema of the CSV: a JSON object that says what each column is."""
    return {
        "fields": [
            {"name": column.name, "type": column.type, "description": column.description}
            for column in COLUMNS
        ],
        "primaryKey": "sequence",
        "missingValues": [""],
    }


def csv_lines(entries: Iterable[Entry]) -> Iterator[str]:
    """The entries as CSV, the header first; lines end in CR LF."""
    yield _csv_line([column.name for column in COLUMNS])
    for entry in entries:
        said = _said(entry)
        yield _csv_line([_cell(column, said) for column in COLUMNS])


def jsonl_lines(entries: Iterable[Entry]) -> Iterator[bytes]:
    """The entries as JSON lines in UTF-8; lines end in LF.

    ``{"hash":...,"previous":...,"record":{...},"sequence":...}``. Taking ``"hash":...,`` out of a
    line leaves what the hash was taken over. A record somebody made into something other than one
    line of JSON is carried as a JSON text, so that the file stays readable; it fits no hash.
    """
    for entry in entries:
        body = entry.body.encode()
        if not _is_one_line_of_json(entry.body):
            body = canonical(entry.body)
        digest, previous = canonical(entry.hash), canonical(entry.previous)
        yield b'{"hash":%b,"previous":%b,"record":%b,"sequence":%d}\n' % (
            digest,
            previous,
            body,
            entry.sequence,
        )


def write_csv(entries: Iterable[Entry], path: Path) -> int:
    """Write the entries to ``path`` as CSV, and what its columns are beside it.

    The Table Schema goes to the same name ending in ``.schema.json``.

    Returns:
        How many entries were written.

    Raises:
        ExportError: a file of that name is already there, or it cannot be written.
    """
    schema = json.dumps(table_schema(), indent=2, ensure_ascii=False) + "\n"
    beside = path.with_suffix(".schema.json")
    write_lines([schema.encode()], beside)
    try:
        return write_lines((line.encode() for line in csv_lines(entries)), path) - 1
    except BaseException:
        beside.unlink()
        raise


def write_jsonl(entries: Iterable[Entry], path: Path) -> int:
    """Write the entries to ``path`` as JSON lines; returns how many, raises as `write_csv`."""
    return write_lines(jsonl_lines(entries), path)


def _said(entry: Entry) -> dict[str, object]:
    """All that is known of an entry, by the names the columns look for."""
    record = entry.record
    if isinstance(record, UnknownRecord):
        said: dict[str, object] = {
            "kind": record.kind,
            "format": record.format,
            "at": record.at,
            "unreadable": record.why,
        }
    else:
        said = record.model_dump(mode="json")
    said |= {
        "sequence": entry.sequence,
        "previous": entry.previous,
        "hash": entry.hash,
        "intact": entry.intact,
    }
    return said


def _cell(column: Column, said: dict[str, object]) -> str:
    value: object = said
    for name in column.at:
        if isinstance(value, dict):
            value = value.get(name)
        elif isinstance(value, list):
            value = [item.get(name) for item in value]
    if value is None:
        return ""
    if column.type == "string":
        return _harmless(str(value))
    # A decimal is text in a record already; the rest is a number, a boolean or a list.
    return value if isinstance(value, str) else canonical(value).decode()


def _harmless(text: str) -> str:
    """``text`` so that no spreadsheet takes it for a formula: an apostrophe before such a start."""
    if text.startswith(_FORMULA_STARTS) and not _PLAIN_NUMBER.fullmatch(text):
        return "'" + text
    return text


def _csv_line(cells: list[str]) -> str:
    line = io.StringIO()
    csv.writer(line).writerow(cells)  # the default dialect writes what RFC 4180 says
    return line.getvalue()


def _is_one_line_of_json(body: str) -> bool:
    try:
        json.loads(body)
    except (ValueError, RecursionError):
        return False
    return "\n" not in body and "\r" not in body


def write_lines(lines: Iterable[bytes], path: Path) -> int:
    """Write a file that was not there before; none is left if that fails. Returns the lines.

    Raises:
        ExportError: the file is there already, or cannot be written.
    """
    try:
        return write_new(path, lines)
    except FileExistsError as error:
        raise ExportError(path, "it is already there") from error
    except OSError as error:
        raise ExportError(path, str(error)) from error
