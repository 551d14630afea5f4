"""The report as PDF for A4 paper, by the extra ``pdf``; fonts that are built in, no network."""

import json
import re
from importlib.resources import files

from daq.report.charts import charts_of
from daq.report.drawing import in_font
from daq.report.errors import PdfError
from daq.report.model import JobReport
from daq.report.tally import tally

FONT = "Libertinus Serif"
"""Comes with typst."""

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
    try:
        import typst
    except ImportError as error:
        raise PdfError(
            "A PDF needs the extra pdf, and it is not installed. Install restpoint[pdf], or open "
            "the HTML report in a browser and print it."
        ) from error
    template = files("daq.report") / "templates" / "report.typ"
    try:
        made = typst.compile(
            template.read_bytes(),
            format="pdf",
            ignore_system_fonts=True,
            sys_inputs={"data": json.dumps(typst_data(report), ensure_ascii=False)},
            timestamp=report.heading.last.utc.replace(microsecond=0),
        )
    except typst.TypstError as error:
        raise PdfError(
            f"The report could not be set as a PDF: {error}. The HTML report has everything that "
            "is in it."
        ) from error
    assert isinstance(made, bytes)  # one file was asked for
    return made
