"""Setting a document as PDF by the extra ``pdf``: built-in fonts, no network, always the same."""

import json
from collections.abc import Mapping
from datetime import datetime
from importlib.resources import files

from daq.report.errors import PdfError

FONT = "Libertinus Serif"
"""Comes with typst."""


def typeset(template: str, data: Mapping[str, object], at: datetime, what: str) -> bytes:
    """A tagged PDF for A4 paper; the same data give the same bytes.

    Args:
        template: its file's name in the room's folder of templates.
        data: what the template is given, as JSON can hold it.
        at: stamped into the file; aware, and cut to whole seconds.
        what: what is set, for the messages: ``report``.

    Raises:
        PdfError: the extra ``pdf`` is not installed, or the document cannot be set.
    """
    try:
        import typst
    except ImportError as error:
        raise PdfError(
            "A PDF needs the extra pdf, and it is not installed. Install restpoint[pdf], or open "
            f"the HTML {what} in a browser and print it."
        ) from error
    source = files("daq.report") / "templates" / template
    try:
        made = typst.compile(
            source.read_bytes(),
            format="pdf",
            ignore_system_fonts=True,
            sys_inputs={"data": json.dumps(data, ensure_ascii=False)},
            timestamp=at.replace(microsecond=0),
        )
    except typst.TypstError as error:
        raise PdfError(
            f"The {what} could not be set as a PDF: {error}. The HTML {what} has everything that "
            "is in it."
        ) from error
    assert isinstance(made, bytes)  # one file was asked for
    return made
