"""Files in the open log format itself, found without a mapping by their names.

A file belongs to a table if the table's name is its own name, begins it before a ``-`` or ``_``, or
is the name of a folder that it is in, the nearest first.
"""

import csv
import json
import re
from collections.abc import Iterator
from pathlib import Path

from daq.audit.intake.mapping import ColumnFrom, TableFrom
from daq.audit.layout import FORMATS, TABLES, Column, Table


def own_files(path: Path) -> Iterator[tuple[str, Path]]:
    """The table and path of each file of the open format at ``path``, in the order of names."""
    files = [path] if path.is_file() else sorted(path.rglob("*"))
    for file in files:
        if file.suffix[1:] in FORMATS and file.is_file():
            inside = file.relative_to(path.parent if path.is_file() else path)
            if table := table_of(inside):
                yield table, file


def own_table(table: Table, file: Path, names: list[str]) -> TableFrom:
    """Where the columns of a file come from, of which these are the ``names``."""
    columns = {each: _same(table.column(each)) for each in table.names if each in names}
    return TableFrom.model_construct(
        files=(file.name,),
        format=file.suffix[1:],
        separator=",",
        decimal=".",
        encoding=("utf-8",),
        skip_lines=0,
        columns=columns,
    )


def names_in_text(file: Path) -> list[str]:
    """The names in the header of a CSV file, or in the first line of a JSON lines file.

    Empty if there are none.
    """
    with open(file, encoding="utf-8-sig", errors="replace") as text:
        line = text.readline(1 << 20)
    try:
        if file.suffix == ".csv":
            return [name.strip() for name in next(csv.reader([line]), [])]
        row = json.loads(line)
    except (ValueError, RecursionError, csv.Error):
        return []
    return list(row) if isinstance(row, dict) else []


def table_of(inside: Path) -> str | None:
    """The table that a file is of, by its place within the path that was given; None: of none."""
    begins = re.split(r"[-_.]", inside.stem)[0]
    for name in (inside.stem, begins, *reversed(inside.parent.parts)):
        if name in TABLES:
            return name
    return None


def _same(column: Column) -> ColumnFrom:
    """A column that is as it should be already."""
    if column.unit == "µs":
        return ColumnFrom(column=column.name, time=("us",))
    return ColumnFrom(column=column.name, unit=column.unit or None)
