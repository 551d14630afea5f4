"""The record of an assessment, as the logbook keeps it."""

import math
from collections.abc import Mapping
from datetime import datetime
from decimal import Context, Decimal

from daq.calibration.assess.asked import (
    AssessedCharacteristic,
    AssessedLine,
    AssessedPoint,
    Assessment,
    Checked,
    Stated,
)
from daq.calibration.budget import Row
from daq.logbook.calibration import (
    BudgetKept,
    BudgetLine,
    CalibrationResult,
    CharacteristicResult,
    CorrectionKept,
    LineKept,
    MonteCarloKept,
    PointResult,
)
from daq.logbook.fields import new_uid

MOST_DOF = 1_000_000
"""More degrees of freedom are as good as infinitely many: k is the same to six figures."""

_FINE, _FINEST, _EXACT = 1e-18, Decimal("1e-30"), Context(prec=60)


def record_of(
    assessment: Assessment,
    *,
    calibration: str,
    operator: str,
    at: datetime,
    uids: Mapping[int, str],
) -> CalibrationResult:
    """The record of an assessment.

    Args:
        assessment: of one run.
        calibration: uid of the calibration's first record.
        operator: who had it worked out.
        at: when.
        uids: of the record of each point, by its place in the plan.
    """
    characteristics = assessment.characteristics
    table = assessment.correction
    return CalibrationResult(
        uid=new_uid(),
        at=at,
        operator=operator,
        calibration=calibration,
        run=assessment.run,
        word=assessment.word.value,
        points=tuple(_point(each, uids[each.point.place]) for each in assessment.points),
        characteristics=tuple(_characteristic(each) for each in characteristics),
        budgets=(
            _budget(assessment.least_sure.stated),
            *(_budget(each.stated) for each in characteristics),
        ),
        correction=tuple(
            CorrectionKept(
                nominal_mm=each.nominal_mm,
                reading_mm=each.reading_mm,
                correction_mm=each.correction_mm,
                u_mm=each.u_mm,
                between_ways_mm=each.between_ways_mm,
            )
            for each in (table.rows if table is not None else ())
        ),
        line=_line(assessment.line) if assessment.line is not None else None,
        monte_carlo=tuple(_monte_carlo(each) for each in assessment.monte_carlo),
        remarks=assessment.remarks,
        doubts=assessment.doubts,
    )


def _point(each: AssessedPoint, uid: str) -> PointResult:
    point, stated = each.point, each.stated
    return PointResult(
        place=point.place,
        series=point.series,
        direction=point.direction,
        nominal_mm=point.nominal_mm,
        reference_mm=point.reference_mm,
        reading_mm=point.reading_mm,
        error_mm=point.error_mm,
        u_mm=stated.u_mm,
        dof=_dof(stated.coverage.dof),
        k=stated.k,
        expanded_mm=stated.expanded_mm,
        point=uid,
    )


def _characteristic(each: AssessedCharacteristic) -> CharacteristicResult:
    stated, decision = each.stated, each.decision
    return CharacteristicResult(
        what=each.found.what,
        value_mm=each.found.value_mm,
        where=each.found.words,
        places=tuple(dict.fromkeys(point.place for point in each.found.points)),
        u_mm=stated.u_mm,
        dof=_dof(stated.coverage.dof),
        k=stated.k,
        expanded_mm=stated.expanded_mm,
        limit_mm=each.limit_mm,
        word=each.word.value if each.word is not None else None,
        reason=each.reason,
        guard_mm=decision.guard_mm if decision is not None else None,
        p_conform=_figure(decision.p_conform) if decision is not None else None,
    )


def _budget(stated: Stated) -> BudgetKept:
    return BudgetKept(
        of=stated.budget.measurand,
        u_mm=stated.u_mm,
        dof=_dof(stated.coverage.dof),
        k=stated.k,
        expanded_mm=stated.expanded_mm,
        lines=tuple(_budget_line(each) for each in stated.budget.table()),
    )


def _budget_line(row: Row) -> BudgetLine:
    return BudgetLine(
        name=row.name,
        distribution=row.distribution or "",
        basis=row.basis,
        u=_figure(row.u),
        unit=row.unit,
        dof=_dof(row.dof),
        sensitivity=_figure(row.sensitivity),
        contribution_mm=_figure(row.contribution),
    )


def _line(line: AssessedLine) -> LineKept:
    return LineKept(
        at_zero_mm=_figure(line.at_zero_mm),
        u_at_zero_mm=_figure(line.u_at_zero_mm),
        slope=_figure(line.slope),
        u_slope=_figure(line.u_slope),
        correlation=_figure(line.correlation),
        residual_s_mm=_figure(line.residual_s_mm),
        dof=line.dof,
    )


def _monte_carlo(each: Checked) -> MonteCarloKept:
    found, (low, high) = each.check.monte_carlo, each.check.interval
    return MonteCarloKept(
        of=each.of,
        trials=found.trials,
        seed=found.seed,
        u_mm=_figure(found.u),
        low_mm=_figure(low),
        high_mm=_figure(high),
        agrees=each.check.validated,
        reason=each.check.reason,
    )


def _figure(value: float) -> Decimal:
    """A computed figure to twelve digits, none finer than a record can hold."""
    figure = Decimal(f"{value:.12g}")
    return figure if abs(value) > _FINE else figure.quantize(_FINEST, context=_EXACT)


def _dof(dof: float) -> Decimal | None:
    return None if math.isinf(dof) or dof >= MOST_DOF else Decimal(f"{dof:.6g}")
