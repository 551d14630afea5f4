"""The correction table and the straight line of a run."""

import math
from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal

from daq.calibration.assess.asked import AssessedLine, AssessedPoint
from daq.calibration.assess.sources import Part, Sources
from daq.calibration.budget import linear
from daq.calibration.correction import CorrectionTable, correction_table
from daq.calibration.errors import CalibrationError
from daq.calibration.line import fit_line
from daq.calibration.points import Point, Run

FEWEST = 3
"""Points of a line: fewer have no scatter about it."""


def table_of(points: Sequence[AssessedPoint], run: Run) -> tuple[CorrectionTable | None, str]:
    """The correction table, and why there is none where none can be made.

    The uncertainty of each row is the whole of the points' own (k = 1), of the less sure way.
    """
    try:
        table = correction_table([each.point for each in points], run)
    except CalibrationError as error:
        return None, str(error)
    u_mm: dict[Decimal, Decimal] = {}
    for each in points:
        if each.point.series != "repeat":
            at_mm = each.point.nominal_mm
            u_mm[at_mm] = max(u_mm.get(at_mm, Decimal(0)), each.stated.u_mm)
    return CorrectionTable(tuple(replace(r, u_mm=u_mm[r.nominal_mm]) for r in table.rows)), ""


def line_of(points: Sequence[Point], sources: Sources) -> AssessedLine | None:
    """The least-squares line of the errors on the travel, both ways together, without the repeats.

    Intercept and slope are sums of the errors with known factors, so what the points share goes
    into both as into any characteristic; how far the readings scatter is seen about the line.
    Scatter and shared parts do not correlate.

    Returns:
        None for fewer than three points.
    """
    taken = [each for each in points if each.series != "repeat"]
    if len(taken) < FEWEST:
        return None
    x = [float(each.nominal_mm) for each in taken]
    line = fit_line(x, [float(each.error_mm) for each in taken], origin=0.0)
    mean = math.fsum(x) / len(x)
    spread = math.fsum((each - mean) ** 2 for each in x)
    slopes = [(each - mean) / spread for each in x]
    shared_at_zero = _shared([1 / len(x) - mean * b for b in slopes], taken, sources)
    shared_slope = _shared(slopes, taken, sources)
    u_at_zero = math.hypot(line.u_intercept, shared_at_zero)
    u_slope = math.hypot(line.u_slope, shared_slope)
    return AssessedLine(
        at_zero_mm=line.intercept,
        u_at_zero_mm=u_at_zero,
        slope=line.slope,
        u_slope=u_slope,
        correlation=line.covariance / (u_at_zero * u_slope) if u_at_zero * u_slope > 0 else 0.0,
        residual_s_mm=line.sd,
        dof=len(taken) - 2,
    )


def _shared(factors: Sequence[float], points: Sequence[Point], sources: Sources) -> float:
    parts: list[Part] = list(zip(factors, points, strict=True))
    zero = -math.fsum(factors)
    terms = [*sources.shared(parts), *sources.of_zero(parts), sources.repeated(zero)]
    return linear("line", terms).u
