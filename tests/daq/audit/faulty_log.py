"""A log with the fault of each rule in it, as Parquet files in the open format."""

import duckdb
import numpy as np
import pytest

from daq.audit.layout import NULL, TABLES
from tests.daq.audit.fleet import fleet
from tests.daq.audit.rules import faults

BETWEEN_GAUGES = ("captured-at-two-places", "copied-part", "copied-readings", "two-places")


def faulty_fleet(gauges, seed=1):
    """A fleet with the fault of each rule, every one in a gauge of its own as far as it goes."""
    made = fleet(gauges, seed)
    # What the others would undo comes last, in gauges at another site than those they are like.
    order = sorted(faults.FAULTS, key=lambda name: (name in BETWEEN_GAUGES, name))
    for number, name in enumerate(order):
        gauge = f"G{10 + 2 * number + (name in BETWEEN_GAUGES):02}"
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(faults, "GAUGE", gauge)
            patch.setattr(faults, "RUN", f"{gauge}/2")
            patch.setattr(faults.rows, "__defaults__", (f"{gauge}/2",))
            try:
                faults.FAULTS[name](made)
            except (IndexError, ValueError):
                continue  # an earlier fault has taken away what this one needs
    return made


def write(tables, folder):
    """Tables of the open format as Parquet, points and captures in two files each.

    Their folders have names as exports give them, and signs that a pattern is made of.
    """
    with duckdb.connect() as connection:
        for name, columns in tables.items():
            form = TABLES[name]
            chosen = ", ".join(
                f"CAST({each} AS VARCHAR) AS {each}"
                if form.column(each).kind == "text"
                else f"nullif(CAST({each} AS BIGINT), CAST({NULL + 1} AS BIGINT) - 1) AS {each}"
                for each in columns
            )
            rows = len(next(iter(columns.values())))
            halves = [slice(0, rows)]
            if name in ("points", "captures"):
                gauges = columns["gauge"]
                middle = int(np.flatnonzero(gauges == gauges[rows // 2])[0])
                halves = [slice(0, middle), slice(middle, rows)]
            for number, half in enumerate(halves):
                to = folder / name / f"site=bench%20[{number}]"
                to.mkdir(parents=True)
                given = {each: values[half] for each, values in columns.items()}
                assert given
                connection.execute(
                    f"COPY (SELECT {chosen} FROM given) TO '{to / 'rows.parquet'}' (FORMAT parquet)"
                )
