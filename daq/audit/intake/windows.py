"""The rows of a table that lie within windows, each a gauge and a stretch of time.

The windows are joined to the gauges as the file has them, so rows of other gauges are passed over
where they lie: only the column of gauges is read of all rows.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import duckdb
import numpy as np
import numpy.typing as npt

from daq.audit.layout import NULL, Table

Ints = npt.NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Windows:
    """Windows, all of one length: rows after ``after_us`` up to and with ``until_us``."""

    gauge: Sequence[str]
    after_us: Ints
    until_us: Ints


def rows_within(
    connection: duckdb.DuckDBPyConnection,
    table: Table,
    columns: Sequence[str],
    files: Sequence[str],
    windows: Windows,
    *,
    whole: bool,
) -> dict[str, npt.NDArray[Any]]:
    """The columns of the rows within windows, and in ``place`` which window, from 0.

    They are sorted by window and number. Names and words are texts, empty for none; a missing
    number is `NULL`.

    Args:
        connection: what to read them with.
        table: which table.
        columns: what is wanted, and ``seq`` and ``at_us`` in any case.
        files: of each file a query for these columns and ``gauge_key``.
        windows: what is wanted.
        whole: whether ``gauge_key`` is a whole number.
    """
    names = windows.gauge
    wanted = {
        "place": np.arange(len(names)),
        "name": np.array([int(name) for name in names], dtype=np.int64)
        if whole
        else np.array(names, dtype=object),
        "after_us": windows.after_us,
        "until_us": windows.until_us,
    }
    kinds = {each: table.column(each).kind for each in columns}
    chosen = ", ".join(
        f"log.{name}" if kind == "text" else f"coalesce(log.{name}, {NULL + 1} - 1) AS {name}"
        for name, kind in kinds.items()
    )
    parts = [
        f"SELECT place, {chosen} FROM ({file}) AS log JOIN wanted ON gauge_key = name "
        "WHERE log.at_us > after_us AND log.at_us <= until_us"
        for file in files
    ]
    assert wanted
    found = connection.execute(" UNION ALL ".join(parts)).fetchnumpy()
    order = np.lexsort((np.ma.getdata(found["seq"]), np.ma.getdata(found["place"])))
    return {name: np.ma.getdata(column)[order] for name, column in found.items()}
