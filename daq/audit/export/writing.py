"""Rows to a file of the open log format: Parquet, CSV or JSON lines; whole or not at all."""

import csv
import hashlib
import json
import os
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from daq.audit.export.rows import Row
from daq.audit.intake.quoting import literal, quoted
from daq.audit.layout import NULL, Table
from daq.logbook.disk import flush_folder, make_folder

Columns = Mapping[str, Sequence[Any]]


def columns_of(table: Table, rows: Sequence[Row]) -> dict[str, list[Any]]:
    """Rows as columns, in the order of the layout."""
    return {name: [row[name] for row in rows] for name in table.names}


def write_table(table: Table, columns: Columns, path: Path) -> str:
    """Write a file, for good; its ending says the format. Returns its SHA-256 in hex.

    Raises:
        OSError: it cannot be written; nothing of that name is left then, or what was there.
    """
    make_folder(path.parent)
    partial = path.with_name(f".{path.name}.partial")
    writers = {".parquet": _parquet, ".csv": _csv, ".jsonl": _jsonl}
    try:
        writers[path.suffix](table, columns, partial)
        with open(partial, "rb") as file:
            digest = hashlib.file_digest(file, "sha256").hexdigest()
            os.fsync(file.fileno())
        partial.replace(path)
        flush_folder(path.parent)
    finally:
        partial.unlink(missing_ok=True)
    return digest


def _parquet(table: Table, columns: Columns, path: Path) -> None:
    import duckdb
    import numpy as np

    arrays: dict[str, Any] = {}
    chosen = []
    for place, column in enumerate(table.columns):
        kind: Any = object if column.kind == "text" else np.int64
        arrays[f"c{place}"] = np.array(columns[column.name], dtype=kind)
        name = quoted(column.name)
        if column.kind == "text":
            chosen.append(f"CAST(c{place} AS VARCHAR) AS {name}")
        else:
            chosen.append(f"nullif(c{place}, {NULL + 1} - 1) AS {name}")
    with duckdb.connect() as connection:
        try:
            connection.execute(
                f"COPY (SELECT {', '.join(chosen)} FROM arrays) TO {literal(str(path))} "
                "(FORMAT parquet, COMPRESSION zstd)"
            )
        except duckdb.IOException as error:
            raise OSError(str(error)) from error


def _csv(table: Table, columns: Columns, path: Path) -> None:
    with open(path, "w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(table.names)
        for row in zip(*(columns[name] for name in table.names), strict=True):
            writer.writerow(["" if each == NULL else each for each in row])


def _jsonl(table: Table, columns: Columns, path: Path) -> None:
    with open(path, "w", encoding="utf-8", newline="\n") as file:
        for row in zip(*(columns[name] for name in table.names), strict=True):
            values = [None if each == NULL else each for each in row]
            line = json.dumps(dict(zip(table.names, values, strict=True)), ensure_ascii=False)
            file.write(line + "\n")
