"""Which files of a path are the log's, on any path that Spark reads."""

import fnmatch
import re
from collections.abc import Sequence
from pathlib import Path, PurePosixPath
from typing import Any

from daq.audit.engine.spark_log import SparkLog
from daq.audit.engine.spark_rows import as_pattern, plain
from daq.audit.errors import IntakeError
from daq.audit.intake.mapping import Mapping
from daq.audit.intake.own import table_of
from daq.audit.intake.rejects import Rejects
from daq.audit.layout import FORMATS, TABLES

_BEFORE_PATH = re.compile(r"^[A-Za-z][A-Za-z0-9+.-]+:(//[^/]*)?(?=/|$)")
"""What an address has before its path."""


def open_on_spark(
    session: Any,
    paths: Sequence[str],
    mapping: Mapping | None = None,
    *,
    rejects_to: Path | None = None,
) -> SparkLog:
    """The log in ``paths``, files or folders that Spark reads, such as ``s3a://BUCKET/log``.

    Args:
        session: from `daq.audit.engine.spark_session.session_for`; the log closes it.
        paths: what to read.
        mapping: which column is what; None if the files are in the open format.
        rejects_to: a CSV file for every rejected row.

    Raises:
        IntakeError: a path or all files are not there, or files cannot be read on a cluster.
    """
    log = SparkLog(session, Rejects(rejects_to), None if mapping is None else mapping.chain)
    found: dict[str, list[str]] = {}
    for path in paths:
        for file, inside in _files(session, path):
            for table in _tables_of(inside, mapping):
                given = None if mapping is None else mapping.table(table)
                form = PurePosixPath(file).suffix[1:] if given is None else given.format
                if form != "parquet":
                    log.rejects.lose(file, "is no Parquet file, and a cluster reads no other")
                else:
                    found.setdefault(table, []).append(file)
    for table, files in found.items():
        given = None if mapping is None else mapping.table(table)
        log.take(table, given, sorted(set(files)))
    if not found and not log.rejects:
        raise IntakeError(
            f"There is no log in {', '.join(paths)}: no file has the name of a table or fits the "
            "mapping's patterns."
        )
    return log


def _files(session: Any, path: str) -> list[tuple[str, PurePosixPath]]:
    """All files at a path, with their places within it."""
    from pyspark.errors import PySparkException

    reader = session.read.format("binaryFile").option("recursiveFileLookup", "true")
    try:
        found = reader.load(as_pattern(path)).select("_metadata.file_path").collect()
    except PySparkException as error:
        raise IntakeError(f"There is no {path}. Check the name of the log.") from error
    return [(file, _inside(file, path)) for file in sorted(plain(row[0]) for row in found)]


def _inside(file: str, root: str) -> PurePosixPath:
    """The place of a file within ``root``, which may lack the scheme and the host."""
    where, begin = _BEFORE_PATH.sub("", file), _BEFORE_PATH.sub("", root)
    if where == file:  # of this machine, where a path may begin with the working folder
        begin = str(Path(begin).absolute())
    inside = where.partition(f"/{begin.strip('/')}/")[2] if begin.strip("/") else where[1:]
    return PurePosixPath(inside or PurePosixPath(where).name)


def _tables_of(inside: PurePosixPath, mapping: Mapping | None) -> list[str]:
    if mapping is not None:
        return [
            name
            for name in TABLES
            if (given := mapping.table(name)) is not None
            and any(_fits(inside.parts, PurePosixPath(each).parts) for each in given.files)
        ]
    if inside.suffix[1:] not in FORMATS or (table := table_of(Path(inside))) is None:
        return []
    return [table]


def _fits(parts: tuple[str, ...], pattern: tuple[str, ...]) -> bool:
    """Whether a file's place fits a pattern; ``**`` stands for any number of folders."""
    if not pattern:
        return not parts
    if pattern[0] == "**":
        return any(_fits(parts[n:], pattern[1:]) for n in range(len(parts) + 1))
    return (
        bool(parts) and fnmatch.fnmatchcase(parts[0], pattern[0]) and _fits(parts[1:], pattern[1:])
    )
