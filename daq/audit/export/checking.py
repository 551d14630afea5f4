"""Whether an export is as it was written: every file, every row, and the chain over all runs."""

import hashlib
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

from daq.audit.errors import AuditError
from daq.audit.export.chain import FIRST_LINK, digest_of, link_of
from daq.audit.export.exporting import CHAIN
from daq.audit.export.manifest import MANIFEST, manifest_lines
from daq.audit.export.packing import connected, opened_file
from daq.audit.layout import FORMATS, LARGE, TABLES, Table

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
    with connected() as connection:
        for manifest in sorted(folder.glob(f"{CHAIN}/*/{MANIFEST}")):
            try:
                problems += _of_chain(connection, folder, manifest, known)
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


def _of_chain(
    connection: "duckdb.DuckDBPyConnection", folder: Path, manifest: Path, known: set[Path]
) -> Iterator[str]:
    """As `check_export`, of one chain; its files are added to ``known``."""
    previous = FIRST_LINK
    for number, line in enumerate(manifest_lines(manifest.parent), start=1):
        if line["previous"] != previous or link_of(previous, line["facts"]) != line["link"]:
            yield f"{manifest}:{number}: run {number} does not fit the chain"
        previous = line["link"]
        known |= {folder / each["file"] for each in line["files"]}
        yield from _of_run(connection, folder, line)


def _of_run(
    connection: "duckdb.DuckDBPyConnection", folder: Path, line: dict[str, Any]
) -> Iterator[str]:
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
        table = TABLES[each["file"].split("/")[0]]
        yield from _of_rows(connection, path, table, each, line["link"])


def _of_rows(
    connection: "duckdb.DuckDBPyConnection",
    path: Path,
    table: Table,
    listed: dict[str, Any],
    link: str,
) -> Iterator[str]:
    try:
        with opened_file(connection, path, table) as file:
            count, links, digest = file.rows, file.links(), digest_of(table, file.columns())
    except AuditError as error:
        yield f"{path}: it cannot be read any more: {error}"
        return
    if count != listed["rows"]:
        yield f"{path}: it has {count} rows; {listed['rows']} were written"
    elif digest != listed["digest"]:
        yield f"{path}: rows were edited, or put in another order"
    if table.name in LARGE and links - {link}:
        yield f"{path}: rows are of another run"
