"""The mapping file: which column of a foreign log is what, in which unit and form.

TOML, checked against strict forms; every mistake is told at once with its file and line. The
reference with examples is in ``docs/log-format.md``.
"""

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Annotated, Any, Literal, Self
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from pydantic import AfterValidator, BeforeValidator, Field, model_validator

from daq.audit.errors import MappingError
from daq.audit.layout import TABLES, Column, Table
from daq.calibration.errors import CalibrationError
from daq.calibration.toml_file import form_from
from drivers.form import Form

LENGTH_UNITS = ("mm", "in", "µm", "nm")
TEMPERATURE_UNITS = ("degC", "degF")
UNITS = {"nm": LENGTH_UNITS, "m°C": TEMPERATURE_UNITS}
"""By the unit of a column in the open format: the units that a foreign column may be in."""

ENCODINGS = ("utf-8", "utf-16", "latin-1", "cp1252")
EPOCHS = ("s", "ms", "us")

Problems = Iterator[tuple[tuple[str | int, ...], str]]
Filled = Annotated[str, Field(min_length=1)]


def _as_list(given: Any) -> Any:
    return [given] if isinstance(given, str) else given


def _as_form(given: Any) -> Any:
    return {"column": given} if isinstance(given, str) else given


def _encoding(given: str) -> str:
    if given not in ENCODINGS:
        raise ValueError(f'"{given}" is not known; use one of {", ".join(ENCODINGS)}')
    return given


def _time(given: str) -> str:
    if given not in ("iso", *EPOCHS) and "%" not in given:
        raise ValueError(
            f'"{given}" is no form of a time; write "iso", "s", "ms", "us" or a pattern such as '
            '"%d.%m.%Y %H:%M:%S"'
        )
    return given


def _zone(given: str) -> str:
    if re.fullmatch(r"[+-](0\d|1[0-4]):[0-5]\d", given):
        return given
    try:
        ZoneInfo(given)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        raise ValueError(
            f'"{given}" is no time zone; write "UTC", one such as "+01:00", or its name'
        ) from None
    return given


class ColumnFrom(Form):
    """Where a column comes from: a foreign ``column``, or the same ``value`` in every row."""

    column: Filled | None = None
    value: Filled | None = None
    unit: Filled | None = None
    time: Annotated[
        tuple[Annotated[str, AfterValidator(_time)], ...], BeforeValidator(_as_list)
    ] = ()
    """The forms that the time may have; the first that fits counts."""
    zone: Annotated[str, AfterValidator(_zone)] = "UTC"
    """The time zone of times that do not say theirs."""
    last_day: bool = False
    """Whether it is the last day on which something holds; the moment is the midnight after."""
    words: dict[str, str] = Field(default_factory=dict)


class TableFrom(Form):
    """Where a table comes from: its files, how they are written, and its columns."""

    files: Annotated[tuple[Filled, ...], BeforeValidator(_as_list), Field(min_length=1)]
    """Patterns relative to the path that is read, such as ``calib/*.parquet``."""
    format: Literal["parquet", "csv", "jsonl"]
    separator: Literal[",", ";", "\t", "|"] = ","
    decimal: Literal[".", ","] = "."
    encoding: Annotated[
        tuple[Annotated[str, AfterValidator(_encoding)], ...],
        BeforeValidator(_as_list),
        Field(min_length=1),
    ] = ("utf-8",)
    """Of several, each line is read by the first that fits it."""
    skip_lines: Annotated[int, Field(strict=True, ge=0, le=1000)] = 0
    columns: dict[str, Annotated[ColumnFrom, BeforeValidator(_as_form)]]


class Heading(Form):
    """``[mapping]``: the version of the mapping file's own form, and what it is for."""

    format: Literal[1]
    name: str = ""


class ChainFrom(Form):
    """``[chain]``: how each row of a foreign log is bound to the one before of its gauge.

    The ``link`` column of a row holds the first ``digits`` hex digits of the SHA-256 over the row
    before: the ``columns`` of the open format as text, each followed by ``separator``, then that
    row's own link. The first row of a gauge has ``digits`` zeros.
    """

    table: Literal["points", "captures"]
    columns: Annotated[tuple[Filled, ...], Field(min_length=1)]
    separator: Filled = "|"
    digits: Annotated[int, Field(strict=True, ge=8, le=64)] = 64


class _ChainFile(Form):
    chain: ChainFrom


class Mapping(Form):
    """A mapping file that is sound."""

    mapping: Heading
    points: TableFrom | None = None
    captures: TableFrom | None = None
    gauges: TableFrom | None = None
    standards: TableFrom | None = None
    lengths: TableFrom | None = None
    calibrations: TableFrom | None = None
    checks: TableFrom | None = None
    chain: ChainFrom | None = None

    @model_validator(mode="after")
    def _has_a_table(self) -> Self:
        if not any(self.table(name) for name in TABLES):
            raise ValueError(
                f"mapping: there is no table; give at least one of {', '.join(TABLES)}"
            )
        return self

    def table(self, name: str) -> TableFrom | None:
        """Where that table comes from; None if the mapping does not have it."""
        found = getattr(self, name)
        return found if isinstance(found, TableFrom) else None


def load_mapping(path: Path) -> Mapping:
    """The mapping in a file.

    Raises:
        MappingError: it cannot be read, or has mistakes; each with its file and line.
    """
    return mapping_from(_bytes(path), path.name)


def mapping_from(raw: bytes, name: str) -> Mapping:
    """The mapping in a file's bytes; raises as `load_mapping`."""
    try:
        return form_from(raw, name, Mapping, _between, CalibrationError)
    except CalibrationError as error:
        raise MappingError(*error.problems) from None


def load_chain(path: Path) -> ChainFrom:
    """What a file says of a chain alone, beside a log in the open format; as `load_mapping`."""
    try:
        return form_from(
            _bytes(path), path.name, _ChainFile, lambda _: iter(()), CalibrationError
        ).chain
    except CalibrationError as error:
        raise MappingError(*error.problems) from None


def _bytes(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError as error:
        raise MappingError(f"The mapping {path} cannot be read ({error.strerror}).") from error


def _between(mapping: Mapping) -> Problems:
    """The rules between the parts of a mapping."""
    for name, table in TABLES.items():
        if (given := mapping.table(name)) is not None:
            yield from _of_table(table, given)
    if isinstance(mapping.chain, ChainFrom):
        yield from _of_chain(mapping, mapping.chain)


def _of_table(table: Table, given: TableFrom) -> Problems:
    at = (table.name, "columns")
    for missing in [name for name in table.needed if name not in given.columns]:
        yield at, f"{missing} is missing; the table cannot be read without it"
    for name, each in given.columns.items():
        if name not in table.names:
            yield (
                (*at, name),
                f"{table.name} has no such column; there are {', '.join(table.names)}",
            )
            continue
        for words in _of_column(table.column(name), each):
            yield (*at, name), words
    if len(given.encoding) > 1 and "utf-16" in given.encoding:
        yield (table.name, "encoding"), "utf-16 cannot be mixed with another; give it alone"


def _of_column(column: Column, given: ColumnFrom) -> Iterator[str]:
    if (given.column is None) == (given.value is None):
        yield "give either column or value"
    units = UNITS.get(column.unit, ())
    if units and given.unit not in units:
        yield f"its unit is not said; give unit as one of {', '.join(units)}"
    if not units and given.unit is not None:
        yield "it has no unit; take unit out"
    if (column.unit == "µs") != bool(given.time):
        yield "give time" if column.unit == "µs" else "it is no time; take time out"
    if given.last_day and column.unit != "µs":
        yield "it is no time; take last_day out"
    if given.words and column.kind != "text":
        yield "it is a number; take words out"
    if column.words and (wrong := sorted({*given.words.values()} - {*column.words})):
        allowed = ", ".join(f'"{word}"' for word in column.words)
        yield f'words makes "{wrong[0]}" of something; it may be {allowed}'


def _of_chain(mapping: Mapping, chain: ChainFrom) -> Problems:
    table = mapping.table(chain.table)
    if table is None or "link" not in table.columns:
        yield ("chain", "table"), f"{chain.table} has no link; map its link column"
        return
    for place, name in enumerate(chain.columns):
        if name not in table.columns or name == "link":
            yield ("chain", "columns", place), f"{chain.table}.{name} is not mapped; map it"
