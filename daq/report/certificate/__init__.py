"""The certificate of a calibration: one model, made from its records, and the files of it.

No clock, port or screen. ``jinja2`` and ``typst`` are imported where a file is made, not before.
"""

from daq.report.certificate.errors import CertificateError, LaboratoryError
from daq.report.certificate.lines import Laboratory
from daq.report.certificate.making import Typed, certificate_of, proof_of
from daq.report.certificate.model import CertificateModel

__all__ = [
    "CertificateError",
    "CertificateModel",
    "Laboratory",
    "LaboratoryError",
    "Typed",
    "certificate_of",
    "proof_of",
]
