"""Writing a report's files: each new, whole, and flushed to the disk; none over another."""

import os
from collections.abc import Mapping
from pathlib import Path

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
            path.parent.mkdir(parents=True, exist_ok=True)
            with open(path, "xb") as file:
                written.append(path)
                file.write(content)
                file.flush()
                os.fsync(file.fileno())
    except BaseException as error:
        for path in written:
            path.unlink(missing_ok=True)
        if isinstance(error, OSError):
            raise ReportExistsError(f"The report cannot be written: {error}") from error
        raise
