"""The report of a study as PDF for A4 paper, by the extra ``pdf``; fonts that are built in."""

from datetime import UTC, datetime
from typing import Any

from daq.report.study.html import in_family
from daq.report.study.model import LogSource, StudyReport
from daq.report.typeset import FONT, typeset

_NO_TIME = datetime(1970, 1, 1, tzinfo=UTC)
"""Stamped into a report whose values have no time, so that it comes out the same every time."""


def typst_data(report: StudyReport) -> dict[str, Any]:
    """What the template is given: the model as JSON has it, its pictures in the paper's font."""
    data = report.model_dump(mode="json")
    for section in data["sections"]:
        for each in section["pictures"]:
            each["svg"] = in_family(each["svg"], FONT)
    return {"report": data}


def pdf_of(report: StudyReport) -> bytes:
    """The report as a tagged PDF; the same report gives the same bytes.

    Raises:
        PdfError: the extra ``pdf`` is not installed, or the report cannot be set.
    """
    source = report.source
    at = source.last if isinstance(source, LogSource) else _NO_TIME
    return typeset("study.typ", typst_data(report), at, "report")
