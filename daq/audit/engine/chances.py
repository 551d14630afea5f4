"""The chance of each finding, and which are told so that few of those told are false."""

import math
from collections.abc import Sequence
from typing import Any

import numpy as np

from daq.audit.engine.evidence import steady
from daq.audit.rules import Rule
from daq.audit.statistics import benjamini_hochberg
from daq.calibration.student import student_within
from daq.spec.probability import below

Row = dict[str, Any]


def chance_of(rule: Rule, row: Row) -> float:
    """How likely a finding so clear comes about by itself; no number where it cannot be told."""
    assert rule.chance is not None
    if rule.chance.of == "p":
        p = row["p"]
    elif row["statistic"] is None:
        p = None
    elif rule.chance.of == "normal":
        p = 2.0 * below(-abs(float(row["statistic"])))
    else:
        p = student_within(float(row["statistic"]), float(row["dof"]))[1]
    if p is None or math.isnan(p):
        return math.nan
    return min(1.0, float(p) * float(row.get("looks") or 1))


def told(rule: Rule, rows: Sequence[Row], tests: int, rate: float) -> list[tuple[Row, float]]:
    """The rows that are findings, with their chances, as they are told: `steady`.

    Args:
        rule: one that tells by chance.
        rows: those that the query gave: all that a test could find.
        tests: how many tests were made.
        rate: the share of false findings among those told that is allowed.
    """
    p = np.array([steady(chance_of(rule, row)) for row in rows], dtype=np.float64)
    findings = benjamini_hochberg(p, rate, tests=max(tests, len(rows)))
    return [(rows[place], float(p[place])) for place in np.flatnonzero(findings).tolist()]
