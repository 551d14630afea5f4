"""The report of an audit as a file."""

from pathlib import Path

from daq.report.audit.from_audit import Audited, facts_of
from daq.report.audit.html import html_of
from daq.report.audit.making import report_of
from daq.report.audit.sizes import Most
from daq.report.files import write_new


def write_report(audited: Audited, path: Path, most: Most | None = None) -> None:
    """Write the report of an audit as one HTML file; it must not be there yet.

    Args:
        audited: the audit, its log still open.
        path: the file.
        most: how much it shows.

    Raises:
        ReportExistsError: a file of that name is already there, or it cannot be written.
    """
    report = report_of(facts_of(audited, most), most)
    write_new({path: html_of(report).encode()})
