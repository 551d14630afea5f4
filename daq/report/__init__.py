"""The report of a job: one model, made from its records, and the files that show all of it.

No clock, port or screen. ``jinja2`` and ``typst`` are imported where a file is made, not before.
"""

from daq.report.errors import (
    JobUnreadableError,
    NoJobError,
    PdfError,
    ReportError,
    ReportExistsError,
)
from daq.report.log_facts import LogFacts, facts_of, jobs_in, sheet_of
from daq.report.making import report_of
from daq.report.model import JobReport

__all__ = [
    "JobReport",
    "JobUnreadableError",
    "LogFacts",
    "NoJobError",
    "PdfError",
    "ReportError",
    "ReportExistsError",
    "facts_of",
    "jobs_in",
    "report_of",
    "sheet_of",
]
