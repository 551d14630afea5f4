"""What the report of a study says, whole: HTML and PDF are made from this and nothing else.

Figures are text already, rounded for the eye; the data table has every value as it came.
"""

import hashlib
from typing import Literal, Self

from daq.logbook.fields import StrictModel, Uid, UtcTime, Words

Align = Literal["left", "right"]


class Column(StrictModel):
    """One column of a table."""

    head: Words
    align: Align = "right"


class TableView(StrictModel):
    """A table; every row has a cell for every column."""

    columns: tuple[Column, ...]
    rows: tuple[tuple[Words, ...], ...]
    loud: tuple[int, ...] = ()
    """Rows that stand out, from 0."""


class Picture(StrictModel):
    """A picture with what to look for in it."""

    name: Words
    says: Words
    svg: str


class KeyFigure(StrictModel):
    """A figure that a study is read for, with what common practice makes of it."""

    name: Words
    value: Words
    practice: Words
    """Where it lies by common practice, or empty where there is none."""


class Section(StrictModel):
    """One part of the results."""

    heading: Words
    said: tuple[Words, ...] = ()
    tables: tuple[TableView, ...] = ()
    pictures: tuple[Picture, ...] = ()
    remarks: tuple[Words, ...] = ()
    pictures_first: bool = False
    """Whether the tables only say what the pictures show."""


class FileSource(StrictModel):
    """The values came from a file."""

    kind: Literal["file"] = "file"
    name: Words
    sha256: Words
    size: int
    """In bytes."""

    @classmethod
    def of(cls, name: str, raw: bytes) -> Self:
        """The source for a file's name and content."""
        return cls(name=name, sha256=hashlib.sha256(raw).hexdigest(), size=len(raw))


class LogSource(StrictModel):
    """The values were captured in a guided study, and lie in a logbook."""

    kind: Literal["logbook"] = "logbook"
    logbook_id: Uid
    study: Uid
    """The uid of the study's first record."""
    title: Words
    station: Words
    operators: tuple[Words, ...]
    gauge: Words
    begun: UtcTime
    last: UtcTime
    ended: Words
    """How it ended, or that it has not."""
    first_record: int
    last_record: int
    log_records: int
    last_hash: Words
    verify: Words


Source = FileSource | LogSource


class StudyReport(StrictModel):
    """A whole report."""

    title: Words
    kind: Words
    what: Words
    """What was studied, in one line."""
    figures: tuple[KeyFigure, ...]
    has_two_ways: bool
    """Whether a figure stands for two methods, one after the other."""
    sections: tuple[Section, ...]
    method: tuple[Words, ...]
    references: tuple[Words, ...]
    asked: tuple[tuple[Words, Words], ...]
    """How the study was asked to be made, where that was not as usual."""
    data: TableView
    source: Source
    cautions: tuple[Words, ...]
