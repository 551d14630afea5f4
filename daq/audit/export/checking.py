"""Whether an export is as it was written: every file, every row, and the chain over all runs."""

import hashlib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from daq.audit.errors import AuditError
from daq.audit.export.chain import FIRST_LINK, digest_of, link_of
from daq.audit.export.exporting import CHAIN
from daq.audit.export.manifest import MANIFEST, manifest_lines
from daq.audit.layout import FORMATS, LARGE, NULL, TABLES, Table


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
    count = len(columns[table.names[0]])
    if count != listed["rows"]:
        yield f"{path}: it has {count} rows; {listed['rows']} were written"
    elif digest != listed["digest"]:
        yield f"{path}: rows were edited, or put in another order"
    if table.name in LARGE and {*columns["link"]} - {link}:
        yield f"{path}: rows are of another run"


def read_columns(path: Path, table: Table) -> dict[str, list[Any]]:
    """The columns of a file of the open format, all of them, in the order of the file.

    Raises:
        AuditError: it cannot be read, or lacks a column.
    """
    import duckdb

    from daq.audit.intake.quoting import literal, quoted

    readers = {
        ".parquet": f"read_parquet({literal(str(path))})",
        ".csv": f"read_csv({literal(str(path))}, all_varchar=true, header=true, delim=',')",
        ".jsonl": f"read_json({literal(str(path))}, format='newline_delimited', columns="
        + "{"
        + ", ".join(
            f"{quoted(each.name)}: '{'VARCHAR' if each.kind == 'text' else 'BIGINT'}'"
            for each in table.columns
        )
        + "})",
    }
    chosen = ", ".join(
        f"coalesce({quoted(each.name)}, '')"
        if each.kind == "text"
        else f"coalesce(CAST({quoted(each.name)} AS BIGINT), {NULL + 1} - 1)"
        for each in table.columns
    )
    try:
        with duckdb.connect() as connection:
            rows = connection.execute(f"SELECT {chosen} FROM {readers[path.suffix]}").fetchall()
    except duckdb.Error as error:
        raise AuditError(str(error).splitlines()[0]) from error
    columns = list(zip(*rows, strict=True)) or [()] * len(table.columns)
    return {name: list(column) for name, column in zip(table.names, columns, strict=True)}
