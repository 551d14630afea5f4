"""The certificate as PDF for A4 paper, by the extra ``pdf``; built-in fonts, no network."""

import json
from dataclasses import asdict
from importlib.resources import files

from daq.report.certificate.layout import layout_of
from daq.report.certificate.model import CertificateModel
from daq.report.drawing import in_font
from daq.report.errors import PdfError
from daq.report.pdf import FONT


def typst_data(model: CertificateModel) -> dict[str, object]:
    """What the template is given: the layout, with pictures in the font of the PDF."""
    laid = asdict(layout_of(model))
    for block in laid["blocks"]:
        if block["kind"] == "picture":
            block["svg"] = in_font(block["svg"], FONT)
    return laid


def pdf_of(model: CertificateModel) -> bytes:
    """The certificate as a tagged PDF; the same model gives the same bytes.

    Raises:
        PdfError: the extra ``pdf`` is not installed, or the certificate cannot be set.
    """
    try:
        import typst
    except ImportError as error:
        raise PdfError(
            "A PDF needs the extra pdf, and it is not installed. Install restpoint[pdf], or open "
            "the HTML certificate in a browser and print it."
        ) from error
    template = files("daq.report") / "templates" / "certificate.typ"
    try:
        made = typst.compile(
            template.read_bytes(),
            format="pdf",
            ignore_system_fonts=True,
            sys_inputs={"data": json.dumps(typst_data(model), ensure_ascii=False)},
            timestamp=model.dates.last.utc.replace(microsecond=0),
        )
    except typst.TypstError as error:
        raise PdfError(
            f"The certificate could not be set as a PDF: {error}. The HTML certificate has "
            "everything that is in it."
        ) from error
    assert isinstance(made, bytes)  # one file was asked for
    return made
