"""The certificate as PDF for A4 paper, by the extra ``pdf``; built-in fonts, no network."""

from dataclasses import asdict

from daq.report.certificate.layout import layout_of
from daq.report.certificate.model import CertificateModel
from daq.report.drawing import in_font
from daq.report.typeset import FONT, typeset


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
    return typeset("certificate.typ", typst_data(model), model.dates.last.utc, "certificate")
