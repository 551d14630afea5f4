"""The report as PDF for A4 paper, by the extra ``pdf``; fonts that are built in, no network."""

import re

from daq.report.charts import charts_of
from daq.report.drawing import in_font
from daq.report.model import JobReport
from daq.report.tally import tally
from daq.report.typeset import FONT, typeset

_WIDTH = re.compile(r'viewBox="0 0 ([0-9.]+) ')


def typst_data(report: JobReport) -> dict[str, object]:
    """What the template is given: the model as JSON has it, and the charts as SVG."""
    squares = tally(report.steps)
    found = _WIDTH.search(squares)
    assert found is not None  # every picture has one
    return {
        "report": report.model_dump(mode="json"),
        "tally": in_font(squares, FONT),
        "tally_width": float(found[1]),
        "charts": [[in_font(each, FONT) for each in charts_of(step)] for step in report.steps],
    }


def pdf_of(report: JobReport) -> bytes:
    """The report as a tagged PDF; the same report gives the same bytes.

    Raises:
        PdfError: the extra ``pdf`` is not installed, or the report cannot be set.
    """
    return typeset("report.typ", typst_data(report), report.heading.last.utc, "report")
