"""Logbooks with invented content, exported, and read again in the open format."""

import shutil
from pathlib import Path

from daq.audit.intake import open_source
from daq.audit.layout import TABLES
from daq.logbook import Logbook

DATA = Path(__file__).parents[3] / "data"


def kept(name, tmp_path):
    """A copy of a logbook that is kept as a sample of its format."""
    copy = tmp_path / f"{name}.logbook"
    shutil.copy(DATA / f"logbook_format_{name}.sqlite", copy)
    return copy


def written(path, records):
    """A logbook with these records, all in one go."""
    with Logbook.open(path) as book:
        book.append_many(records)
    return path


def rows(folder, table):
    """The rows of a table of an export, as dicts, in the table's order."""
    with open_source([folder]) as found:
        assert not found.rejects
        if table not in found.files:
            return []
        names = found.columns(table)
        order = ", ".join(TABLES[table].order)
        query = f"SELECT * FROM ({found.select(table)}) ORDER BY {order}"
        return [
            dict(zip(names, row, strict=True)) for row in found.connection.execute(query).fetchall()
        ]
