"""Errors about reports a caller can act on.

ReportError
├── NoJobError       the logbook holds no such job
├── JobUnreadableError  the job's records, or its sheet, are not whole
├── PdfError         a PDF cannot be made here
└── ReportExistsError   a file of that name is already there, or it cannot be written
"""

from drivers.errors import RestpointError


class ReportError(RestpointError):
    """A report could not be made; the message says of what, why, and what to do."""


class NoJobError(ReportError):
    """The logbook holds no such job."""


class JobUnreadableError(ReportError):
    """The job's records, or the sheet in them, cannot be read or trusted."""


class PdfError(ReportError):
    """A PDF cannot be made here."""


class ReportExistsError(ReportError):
    """A file of that name is already there, or it cannot be written."""
