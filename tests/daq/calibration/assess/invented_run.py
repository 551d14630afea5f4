"""Constructed runs of calibrations, to be assessed."""

import csv
from datetime import date
from decimal import Decimal
from pathlib import Path

from daq.calibration.assess import Conditions, How, assess
from daq.calibration.plan import prepared
from daq.calibration.plan_file import plan_from_bytes
from daq.calibration.points import Point
from daq.spec.rules import GuardBand
from tests.daq.calibration.invented import gauge, standard

D = Decimal
DATA = Path(__file__).parents[3] / "data" / "constructed_indicator_cal.csv"
ON = date(2027, 1, 10)
"""A year after the certificate of the invented blocks."""

PLAN = """\
[plan]
title = "Invented plan"
revision = "A"
range = "10 mm"
points = [
  "0 mm", "1 mm", "2 mm", "3 mm", "4 mm", "5 mm", "6 mm", "7 mm", "8 mm", "9 mm", "10 mm",
]

[[repeats]]
at = "5 mm"
"""


def plan(*replaced):
    text = PLAN
    for old, new in replaced:
        assert old in text, old
        text = text.replace(old, new)
    return plan_from_bytes(text.encode(), "p.toml")


def limited(**changes):
    """A gauge with every limit."""
    limits = {
        "source": "own rule", "over_range": "0.012 mm", "over_partial": "0.006 mm",
        "partial": "1 mm", "hysteresis": "0.006 mm", "repeatability": "0.004 mm",
    }  # fmt: skip
    return gauge(**{"limits": limits} | changes)


def constructed_um():
    """Errors in µm by series and nominal, and those of the five repeats at 5 mm."""
    with DATA.open(newline="") as file:
        rows = list(csv.DictReader(file))
    errors = {
        (way, D(row["nominal_mm"])): D(row[f"error_{way}_um"])
        for row in rows
        for way in ("up", "down")
    }
    return errors, (2, 3, 1, 2, 3)


def points_of(ready, u_reading="0.0001", run="as found", errors=None, repeats=None):
    """The constructed run on a plan, its readings so that the errors come out exactly."""
    known, usual = constructed_um()
    errors, again = errors or known, iter(repeats or usual)
    points = []
    for stop in ready.plan.stops:
        repeated = stop.series == "repeat"
        error_um = next(again) if repeated else errors[stop.series, stop.nominal_mm]
        reference_mm, u_mm = ready.reference_mm(stop.nominal_mm)
        points.append(
            Point(
                stop.place,
                stop.series,
                stop.nominal_mm,
                stop.direction,
                reference_mm,
                u_mm,
                reference_mm + D(error_um) / 1000,
                D(u_reading),
                run,
            )
        )
    return points


def assessed(
    *replaced, of=None, standards=None, temperature_c="20", how=None, run="as found", **points
):
    """The assessment of the constructed run."""
    ready = prepared(plan(*replaced), standards or standard(), ON)
    return assess(
        ready,
        of or limited(),
        points_of(ready, run=run, **points),
        run,
        Conditions(D(temperature_c)),
        ON,
        how or How(GuardBand()),
    )


def point(assessment, series, nominal_mm):
    return next(
        each
        for each in assessment.points
        if (each.point.series, each.point.nominal_mm) == (series, D(nominal_mm))
    )


def found(assessment, what):
    return next(each for each in assessment.characteristics if each.found.what == what)


def lines(stated):
    """A budget's rows by name."""
    return {row.name: row for row in stated.budget.table()}
