"""Whether an export is as it was written: every file, every row, and the chain over all runs."""

import hashlib
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

from daq.audit.errors import AuditError
from daq.audit.export.chain import FIRST_LINK, Coded, Column, digest_of, link_of
from daq.audit.export.exporting import CHAIN
from daq.audit.export.manifest import MANIFEST, manifest_lines
from daq.audit.intake.quoting import literal, quoted
from daq.audit.layout import FORMATS, LARGE, NULL, TABLES, Table

if TYPE_CHECKING:
    import duckdb


def check_export(folder: Path) -> list[str]:
    """What is wrong with an export, a sentence each; empty if it is whole and unedited.

    The chain alone cannot show that its newest runs were taken away; the last link, written down
    elsewhere, can.

    Args:
        folder: where it was exported to.
    """
    problems: list[str] = []
    known: set[Path] = set()
    for manifest in sorted(folder.glob(f"{CHAIN}/*/{MANIFEST}")):
        previous = FIRST_LINK
        try:
            for number, line in enumerate(manifest_lines(manifest.parent), start=1):
                if line["previous"] != previous or link_of(previous, line["facts"]) != line["link"]:
                    problems.append(f"{manifest}:{number}: run {number} does not fit the chain")
                previous = line["link"]
                known |= {folder / each["file"] for each in line["files"]}
                problems += _of_run(folder, line)
        except AuditError as error:
            problems += error.problems
    there = {
        each
        for name in TABLES
        for each in folder.glob(f"{name}/**/*")
        if each.suffix[1:] in FORMATS and not each.name.startswith(".")
    }
    problems += [f"{each}: no run wrote this file" for each in sorted(there - known)]
    return problems


def _of_run(folder: Path, line: dict[str, Any]) -> Iterator[str]:
    listed = {each["file"].rpartition(".")[0]: each["digest"] for each in line["files"]}
    if listed != line["facts"].get("digests"):
        yield f"run {line['facts'].get('run')}: its list of files does not fit its link"
    for each in line["files"]:
        path = folder / each["file"]
        try:
            with open(path, "rb") as file:
                same = hashlib.file_digest(file, "sha256").hexdigest() == each["sha256"]
        except OSError:
            yield f"{path}: the file is gone or cannot be read"
            continue
        if not same:
            yield f"{path}: the file is not the one that was written"
        yield from _of_rows(path, TABLES[each["file"].split("/")[0]], each, line["link"])


def _of_rows(path: Path, table: Table, listed: dict[str, Any], link: str) -> Iterator[str]:
    try:
        columns = read_columns(path, table)
        digest = digest_of(table, columns)
    except AuditError as error:
        yield f"{path}: it cannot be read any more: {error}"
        return
    count = _length(columns[table.names[0]])
    if count != listed["rows"]:
        yield f"{path}: it has {count} rows; {listed['rows']} were written"
    elif digest != listed["digest"]:
        yield f"{path}: rows were edited, or put in another order"
    of_runs = columns.get("link")
    if table.name in LARGE and isinstance(of_runs, Coded) and of_runs.distinct - {link}:
        yield f"{path}: rows are of another run"


def _length(column: Column) -> int:
    return len(column.places) if isinstance(column, Coded) else len(column)


def read_columns(path: Path, table: Table) -> dict[str, Column]:
    """The columns of a file of the open format, all of them, in the order of the file.

    Text comes as numbers: as text, a row costs ten times as much.

    Raises:
        AuditError: it cannot be read, or lacks a column.
    """
    import duckdb

    try:
        with duckdb.connect() as connection:
            connection.execute("SET threads = 1")
            connection.execute(f"CREATE VIEW file AS SELECT * FROM {_reader(path, table)}")
            return _columns(connection, table)
    except duckdb.Error as error:
        raise AuditError(str(error).splitlines()[0]) from error


def _reader(path: Path, table: Table) -> str:
    kinds = ", ".join(
        f"{quoted(each.name)}: '{'VARCHAR' if each.kind == 'text' else 'BIGINT'}'"
        for each in table.columns
    )
    at = literal(str(path))
    return {
        ".parquet": f"read_parquet({at})",
        ".csv": f"read_csv({at}, all_varchar=true, header=true, delim=',')",
        ".jsonl": f"read_json({at}, format='newline_delimited', columns={{{kinds}}})",
    }[path.suffix]


def _columns(connection: "duckdb.DuckDBPyConnection", table: Table) -> dict[str, Column]:
    names: dict[str, list[str]] = {}
    chosen = []
    for place, each in enumerate(table.columns):
        text = f"coalesce({quoted(each.name)}, '')"
        if each.kind != "text":
            chosen.append(f"coalesce(CAST({quoted(each.name)} AS BIGINT), {NULL + 1} - 1)")
            continue
        found = connection.execute(f"SELECT DISTINCT {text} AS name FROM file ORDER BY name")
        names[each.name] = [name for (name,) in found.fetchall()]
        if names[each.name]:
            listed = ", ".join(map(literal, names[each.name]))
            connection.execute(f"CREATE TYPE names_{place} AS ENUM ({listed})")
            chosen.append(f"enum_code(({text})::names_{place})::BIGINT")
        else:
            chosen.append("0::BIGINT")
    given = [f"{sql} AS {quoted(name)}" for sql, name in zip(chosen, table.names, strict=True)]
    rows = connection.execute(f"SELECT {', '.join(given)} FROM file").fetchnumpy()
    return {
        name: Coded(names[name], rows[name]) if name in names else rows[name]
        for name in table.names
    }
