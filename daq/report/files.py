"""Writing a report's files: each new, whole, and flushed to the disk; none over another."""

from collections.abc import Mapping
from pathlib import Path

from daq.logbook import disk
from daq.report.errors import ReportExistsError


def write_new(contents: Mapping[Path, bytes]) -> None:
    """Write files that were not there before, each in a folder that is made if need be.

    Raises:
        ReportExistsError: one of them is already there, and none was written; or one cannot be
            written, and those written before it are taken away again.
    """
    for path in contents:
        if path.exists():
            raise ReportExistsError(
                f"{path} is already there, and no report is written over a file. Give another name."
            )
    written: list[Path] = []
    try:
        for path, content in contents.items():
            disk.make_folder(path.parent)
            disk.write_new(path, [content])
            written.append(path)
    except BaseException as error:
        for path in written:
            path.unlink(missing_ok=True)
        if isinstance(error, OSError):
            raise ReportExistsError(f"The report cannot be written: {error}") from error
        raise
