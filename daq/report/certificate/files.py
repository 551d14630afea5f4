"""The files of a certificate, made in memory from its model before any is written."""

import re
from collections.abc import Callable, Iterable
from pathlib import Path

from daq.report.certificate.csv import csv_of, schema_text
from daq.report.certificate.errors import CertificateError
from daq.report.certificate.html import html_of
from daq.report.certificate.model import CertificateModel
from daq.report.certificate.pdf import pdf_of

Maker = Callable[[CertificateModel], bytes]

FORMATS: dict[str, dict[str, Maker]] = {
    "html": {".html": lambda model: html_of(model).encode()},
    "pdf": {".pdf": pdf_of},
    "csv": {
        ".csv": lambda model: csv_of(model).encode(),
        ".schema.json": lambda _: schema_text().encode(),
    },
    "json": {".json": lambda model: (model.model_dump_json(indent=2) + "\n").encode()},
}
"""By the name of a format: the files it has, by what their names end in."""


def stem_of(model: CertificateModel) -> str:
    """What the names of a certificate's files begin with: the state, then number or gauge."""
    if model.state == "issued":
        return f"certificate-{plain_name(model.number)}"
    return f"{model.state}-{plain_name(model.gauge.label)}-{model.calibration[:8]}"


def files_for(model: CertificateModel, formats: Iterable[str], folder: Path) -> dict[Path, bytes]:
    """Every file that is asked for, whole, by the path it is to be written to.

    Args:
        model: the certificate.
        formats: names in ``FORMATS``.
        folder: where the files are to stand.

    Raises:
        CertificateError: there is no such format.
        PdfError: a PDF is asked for, and cannot be made here.
    """
    wanted = list(dict.fromkeys(formats))
    if unknown := [each for each in wanted if each not in FORMATS]:
        raise CertificateError(
            f"A certificate cannot be made as {', '.join(unknown)}; it can be {', '.join(FORMATS)}."
        )
    stem = stem_of(model)
    return {
        folder / f"{stem}{ending}": make(model)
        for each in wanted
        for ending, make in FORMATS[each].items()
    }


def plain_name(words: str) -> str:
    """Words as a part of a file's name, on any system."""
    return re.sub(r"[^A-Za-z0-9._-]+", "-", words).strip("-.") or "unnamed"
