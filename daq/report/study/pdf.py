"""The report of a study as PDF for A4 paper, by the extra ``pdf``; fonts that are built in."""

import json
from datetime import UTC, datetime
from importlib.resources import files
from typing import Any

from daq.report.errors import PdfError
from daq.report.pdf import FONT
from daq.report.study.html import in_family
from daq.report.study.model import LogSource, StudyReport

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
    try:
        import typst
    except ImportError as error:
        raise PdfError(
            "A PDF needs the extra pdf, and it is not installed. Install restpoint[pdf], or open "
            "the HTML report in a browser and print it."
        ) from error
    template = files("daq.report") / "templates" / "study.typ"
    source = report.source
    at = source.last.replace(microsecond=0) if isinstance(source, LogSource) else _NO_TIME
    try:
        made = typst.compile(
            template.read_bytes(),
            format="pdf",
            ignore_system_fonts=True,
            sys_inputs={"data": json.dumps(typst_data(report), ensure_ascii=False)},
            timestamp=at,
        )
    except typst.TypstError as error:
        raise PdfError(
            f"The report could not be set as a PDF: {error}. The HTML report has everything that "
            "is in it."
        ) from error
    assert isinstance(made, bytes)  # one file was asked for
    return made
