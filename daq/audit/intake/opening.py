"""Opening a log: which files are of which table, and what can be wrong before anything is read."""

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Final

import duckdb

from daq.audit.errors import IntakeError, MappingError
from daq.audit.intake.convert import reader_for
from daq.audit.intake.limits import Limits
from daq.audit.intake.mapping import ChainFrom, Mapping, TableFrom, load_chain
from daq.audit.intake.own import own_files
from daq.audit.intake.rejects import Rejects
from daq.audit.intake.source import LogSource
from daq.audit.layout import TABLES, Table

CHAIN: Final = "chain.toml"
"""The file in the folder of a converted log that says how its rows are chained."""

REJECTED: Final = "rejected.csv"
"""The file in the folder of a converted log with the rows that were not taken into it."""


def open_source(
    paths: Sequence[Path],
    mapping: Mapping | None = None,
    *,
    limits: Limits | None = None,
    rejects_to: Path | None = None,
) -> LogSource:
    """The log in ``paths``, files or folders; ready when this returns, its rejects complete.

    Args:
        paths: what to read.
        mapping: which column is what; None if the files are in the open format.
        limits: what it may use.
        rejects_to: a CSV file for every rejected row.

    Raises:
        IntakeError: a path or all files are not there, or there is no room for sorting.
        MappingError: a constant of the mapping is no value of its column; or what is written of
            the log's chain has mistakes.
    """
    for path in paths:
        if not path.exists():
            raise IntakeError(f"There is no {path}. Check the name of the log.")
    if mapping is not None:
        _check_constants(mapping)
    chain = _chain_beside(paths) if mapping is None else None
    source = LogSource(limits or Limits(), Rejects(rejects_to), mapping, chain)
    try:
        source.take(_own(paths) if mapping is None else _mapped(paths, mapping))
        for path in paths if mapping is None else ():
            if (left_out := path / REJECTED).is_file():
                source.rejects.add_from(left_out)
        if not source.files and not source.rejects:
            raise IntakeError(
                f"There is no log in {', '.join(map(str, paths))}: no file has the name of a table "
                "or fits the mapping's patterns."
            )
    except duckdb.OutOfMemoryException as error:
        source.close()
        raise IntakeError(
            f"There is not enough memory or room on the disk to sort the log ({error}). Allow more."
        ) from error
    except BaseException:
        source.close()
        raise
    return source


def _chain_beside(paths: Sequence[Path]) -> ChainFrom | None:
    """How the log is chained, if that is written in one of the folders."""
    for path in paths:
        if (file := path / CHAIN).is_file():
            return load_chain(file)
    return None


def _own(paths: Sequence[Path]) -> Iterator[tuple[Table, Path, TableFrom | None]]:
    for path in paths:
        for name, file in own_files(path):
            yield TABLES[name], file, None


def _mapped(
    paths: Sequence[Path], mapping: Mapping
) -> Iterator[tuple[Table, Path, TableFrom | None]]:
    for name, table in TABLES.items():
        given = mapping.table(name)
        for path in paths if given is not None else ():
            assert given is not None
            if path.is_file():
                found = {path} if any(path.match(each) for each in given.files) else set()
            else:
                found = {f for each in given.files for f in path.glob(each) if f.is_file()}
            for file in sorted(found):
                yield table, file, given


def _check_constants(mapping: Mapping) -> None:
    problems = []
    for name, table in TABLES.items():
        given = mapping.table(name)
        for column, each in ({} if given is None else given.columns).items():
            if each.value is not None:
                try:
                    reader_for(table.column(column), each, ".")(each.value)
                except ValueError as error:
                    problems.append(f"{name}.columns.{column}: value {each.value!r} {error}")
    if problems:
        raise MappingError(*problems)
