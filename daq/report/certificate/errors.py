"""Errors about certificates a caller can act on."""

from daq.report.errors import ReportError


class CertificateError(ReportError):
    """A certificate could not be made; the message says of what, why, and what to do."""


class LaboratoryError(CertificateError):
    """The file that says who the laboratory is has mistakes; all are told, each at its line."""
