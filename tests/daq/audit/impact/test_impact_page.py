"""The table on docs/impact.md, worked out anew."""

import math
from pathlib import Path

import numpy as np

from daq.audit.impact import GROUPS, Captures, ErrorCurve, Run, periods_of, touched

PAGE = (Path(__file__).parents[4] / "docs" / "impact.md").read_text("utf-8")


def table(header):
    """The rows under a header, as lists of cells."""
    lines = PAGE[PAGE.index(header) :].split("\n\n")[0].splitlines()[2:]
    return [[cell.strip() for cell in line.split("|")[1:-1]] for line in lines]


def test_the_examples_on_the_page_come_out():
    rows = table("| value mm | lower mm |")
    assert len(rows) == 7
    value = np.array([float(row[0]) for row in rows])
    lower = np.array([float(row[1] or -math.inf) for row in rows])
    upper = np.array([float(row[2] or math.inf) for row in rows])
    words = np.full(len(rows), "", dtype=object)
    number = np.arange(len(rows))
    taken = Captures(
        number, number, value, np.full(len(rows), 0.0004), lower, upper, words, words, words, words
    )
    curve = ErrorCurve(np.array([0.0, 10.0]), np.array([0.010, 0.030]), np.full(2, 0.0003))
    (period,) = periods_of([Run("DI-7", "C-2", 100, 110, curve, curve, True, False)])
    found = touched(period, taken)
    assert [f"{each:.4f}" for each in found.error_mm] == [row[3] for row in rows]
    assert [f"{each:.4f}" for each in found.corrected_mm] == [row[4] for row in rows]
    assert [GROUPS[group] for group in found.group] == [row[5] for row in rows]
    assert found.outside.tolist() == [row[0] == "12.000" for row in rows]


def test_every_group_is_explained_on_the_page():
    assert [row[0] for row in table("| group | meaning |")] == list(GROUPS)
