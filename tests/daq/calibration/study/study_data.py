"""The published data of these tests; each one's source stands in tests/data/studies/README.md."""

import csv
from pathlib import Path

from daq.calibration.study import Occasion, Trial

FOLDER = Path(__file__).parents[3] / "data" / "studies"


def rows(name):
    with (FOLDER / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def column(name, which):
    return [float(row[which]) for row in rows(name)]


def trials():
    return [
        Trial(row["part"], row["operator"], row["trial"], float(row["value"]))
        for row in rows("crossed_10x3x3")
    ]


def occasions(name, *, part, value="avg", dof=5):
    """The occasions of a data set; a day that comes twice gets its number to its name."""
    return [
        Occasion(
            row.get(part, part),
            row.get("run", "1"),
            f"{row['month']}/{row['day']} {number}",
            float(row[value]),
            float(row["sd"]),
            dof,
        )
        for number, row in enumerate(rows(name))
    ]
