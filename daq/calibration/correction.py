"""A correction table from a calibration: what to add to a reading, by straight lines between.

Nothing is said outside the readings that were calibrated.
"""

from bisect import bisect_left
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Context, Decimal
from itertools import pairwise

from daq.calibration.errors import CalibrationError
from daq.calibration.fields import brief_mm
from daq.calibration.points import Point, Run

_FINE = Context(prec=28)
_FINEST_MM = Decimal("0.000000001")


@dataclass(frozen=True, slots=True)
class CorrectionRow:
    """At a reading: what to add to it, how sure that is, and how far the two directions differ.

    ``correction_mm`` is minus the mean error of the ways that were measured. ``u_mm`` is the
    standard uncertainty from reference and reading (k = 1), of the less sure way; the difference
    between the ways, ``between_ways_mm``, is not in it.
    """

    nominal_mm: Decimal
    reading_mm: Decimal
    correction_mm: Decimal
    u_mm: Decimal
    between_ways_mm: Decimal


@dataclass(frozen=True, slots=True)
class CorrectionTable:
    """Corrections by reading, ascending."""

    rows: tuple[CorrectionRow, ...]

    def at(self, reading_mm: Decimal) -> tuple[Decimal, Decimal]:
        """What to add to a reading, and its standard uncertainty: the larger of the neighbours'.

        Raises:
            CalibrationError: the reading is outside those that were calibrated.
        """
        first, last = self.rows[0], self.rows[-1]
        if not first.reading_mm <= reading_mm <= last.reading_mm:
            raise CalibrationError(
                f"There is no correction at {brief_mm(reading_mm)}: it is known from "
                f"{brief_mm(first.reading_mm)} to {brief_mm(last.reading_mm)}."
            )
        place = bisect_left([each.reading_mm for each in self.rows], reading_mm)
        high = self.rows[place]
        if high.reading_mm == reading_mm:
            return high.correction_mm, high.u_mm
        low = self.rows[place - 1]
        share = (reading_mm - low.reading_mm) / (high.reading_mm - low.reading_mm)
        correction_mm = low.correction_mm + share * (high.correction_mm - low.correction_mm)
        return correction_mm.quantize(_FINEST_MM), max(low.u_mm, high.u_mm)


def correction_table(points: Iterable[Point], run: Run = "as left") -> CorrectionTable:
    """The correction table of a run; its repeats are left out.

    Args:
        points: in any order; those of the other run are left out.
        run: which run; a gauge works as it was left.

    Raises:
        CalibrationError: fewer than two points, or readings that do not ascend with the lengths.
    """
    by_nominal: dict[Decimal, list[Point]] = {}
    for each in points:
        if each.run == run and each.series != "repeat":
            by_nominal.setdefault(each.nominal_mm, []).append(each)
    rows = tuple(_row(by_nominal[nominal_mm]) for nominal_mm in sorted(by_nominal))
    if len(rows) < 2:
        raise CalibrationError(f"A correction table {run} takes two points at least.")
    for one, other in pairwise(rows):
        if one.reading_mm >= other.reading_mm:
            raise CalibrationError(
                f"The readings do not ascend from {brief_mm(one.nominal_mm)} to "
                f"{brief_mm(other.nominal_mm)}, so no correction table can be made of them."
            )
    return CorrectionTable(rows)


def _row(ways: list[Point]) -> CorrectionRow:
    errors = [each.error_mm for each in ways]
    readings = [each.reading_mm for each in ways]
    variances = [each.u_reference_mm**2 + each.u_reading_mm**2 for each in ways]
    return CorrectionRow(
        nominal_mm=ways[0].nominal_mm,
        reading_mm=(sum(readings, Decimal(0)) / len(ways)).quantize(_FINEST_MM),
        correction_mm=(-sum(errors, Decimal(0)) / len(ways)).quantize(_FINEST_MM),
        u_mm=_FINE.sqrt(max(variances)).quantize(_FINEST_MM),
        between_ways_mm=max(errors) - min(errors),
    )
