"""From the result of a run, as recorded, to its part of a certificate."""

from collections.abc import Iterator, Sequence
from decimal import Context, Decimal

from daq.calibration.decision import MEANINGS, Word
from daq.calibration.kept import KeptCalibration
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
from daq.report.certificate import figures
from daq.report.certificate.lines import (
    BudgetReport,
    BudgetRow,
    CharacteristicLine,
    CorrectionRow,
    Direction,
    LineReport,
    MonteCarloReport,
    PointLine,
    RepeatLine,
    RunReport,
)
from daq.report.certificate.standing import Counted

CORRECTION_K = Decimal(2)
"""The coverage factor of the correction table, whose uncertainties are recorded with k = 1."""

_FINE = Context(prec=28)
_FINEST_MM = Decimal("0.000000001")


def run_report(result: CalibrationResult, kept: KeptCalibration, found: Counted) -> RunReport:
    """A run's part of a certificate."""
    return RunReport(
        run=result.run,
        record=kept.sequences[result.uid],
        at=result.at,
        operator=result.operator,
        word=result.word,
        meaning=meaning_of(result.word),
        characteristics=tuple(
            _characteristic(each, result.points) for each in result.characteristics
        ),
        points=tuple(_point(each, kept, found) for each in result.points),
        repeats=tuple(_repeats(result.points)),
        budgets=tuple(map(_budget, result.budgets)),
        correction=tuple(map(_correction, result.correction)),
        line=None if result.line is None else _line(result.line),
        monte_carlo=tuple(map(_monte_carlo, result.monte_carlo)),
        remarks=result.remarks,
        doubts=result.doubts,
    )


def meaning_of(word: str | None) -> str:
    """What a word of conformity means; nothing for None."""
    return "" if word is None else MEANINGS[Word(word)]


def _point(point: PointResult, kept: KeptCalibration, found: Counted) -> PointLine:
    record = found.points.get(point.point)
    return PointLine(
        place=point.place,
        series=point.series,
        direction=point.direction,
        nominal=figures.as_written(point.nominal_mm),
        reference=figures.rounded(point.reference_mm, point.expanded_mm),
        reading=figures.rounded(point.reading_mm, point.expanded_mm),
        error=figures.result(
            point.error_mm,
            u_mm=point.u_mm,
            dof=point.dof,
            k=point.k,
            expanded_mm=point.expanded_mm,
            sign=True,
        ),
        temperature_c=record.temperature_c if record else None,
        at=record.at if record else None,
        operator=record.operator if record else "",
        insisted=record.insisted if record else "",
        record=kept.sequences.get(point.point),
        capture=kept.sequences.get(record.capture) if record else None,
    )


def _characteristic(
    each: CharacteristicResult, points: Sequence[PointResult]
) -> CharacteristicLine:
    p = each.p_conform
    at = [
        f"{figures.brief(point.nominal_mm)} mm {point.direction}"
        for place in each.places
        for point in points
        if point.place == place
    ]
    return CharacteristicLine(
        what=each.what,
        result=figures.result(
            each.value_mm, u_mm=each.u_mm, dof=each.dof, k=each.k, expanded_mm=each.expanded_mm
        ),
        at=", ".join(dict.fromkeys(at)),
        where=each.where,
        places=each.places,
        limit=None if each.limit_mm is None else figures.as_written(each.limit_mm),
        word=each.word,
        meaning=meaning_of(each.word),
        reason=each.reason,
        guard=None if each.guard_mm is None else figures.guard(each.guard_mm),
        p_conform=p,
        p_conform_shown="" if p is None else figures.probability(p),
        risk_shown="" if p is None else figures.risk(p),
    )


def _repeats(points: Sequence[PointResult]) -> Iterator[RepeatLine]:
    groups: dict[tuple[Decimal, Direction], list[PointResult]] = {}
    for each in points:
        if each.series == "repeat":
            groups.setdefault((each.nominal_mm, each.direction), []).append(each)
    for (nominal_mm, direction), group in groups.items():
        # Errors, not readings: it may not be the same stack every time.
        errors = [each.error_mm for each in group]
        s_mm = _spread(errors) if len(errors) > 1 else None
        widest_mm = max(each.expanded_mm for each in group)
        yield RepeatLine(
            nominal=figures.as_written(nominal_mm),
            direction=direction,
            readings=tuple(figures.rounded(each.reading_mm, each.expanded_mm) for each in group),
            range=figures.rounded(max(errors) - min(errors), widest_mm),
            s_mm=s_mm,
            s_shown="" if s_mm is None else figures.to_figures(s_mm, 2),
        )


def _spread(errors: Sequence[Decimal]) -> Decimal:
    """The standard deviation of errors, in millimetres."""
    mean = sum(errors, Decimal(0)) / len(errors)
    squares = sum(((each - mean) ** 2 for each in errors), Decimal(0))
    return _FINE.sqrt(squares / (len(errors) - 1)).quantize(_FINEST_MM)


def _budget(budget: BudgetKept) -> BudgetReport:
    return BudgetReport(
        of=budget.of,
        rows=tuple(_budget_row(each, budget.u_mm) for each in budget.lines),
        u_mm=budget.u_mm,
        u_shown=figures.to_figures(budget.u_mm, 2),
        dof=budget.dof,
        k=budget.k,
        k_shown=figures.factor(budget.k),
        expanded=figures.expanded(budget.expanded_mm),
    )


def _budget_row(line: BudgetLine, u_mm: Decimal) -> BudgetRow:
    share = (line.contribution_mm / u_mm) ** 2 if u_mm > 0 else Decimal(0)
    return BudgetRow(
        name=line.name,
        distribution=line.distribution,
        basis=line.basis,
        u=line.u,
        u_shown=figures.to_figures(line.u, 2),
        unit=line.unit,
        dof=line.dof,
        sensitivity=line.sensitivity,
        sensitivity_shown=figures.to_figures(line.sensitivity),
        contribution_mm=line.contribution_mm,
        contribution_shown=figures.to_figures(line.contribution_mm, 2),
        share=f"{100 * share:.1f} %",
    )


def _correction(row: CorrectionKept) -> CorrectionRow:
    expanded_mm = CORRECTION_K * row.u_mm
    return CorrectionRow(
        nominal=figures.as_written(row.nominal_mm),
        reading=figures.rounded(row.reading_mm, expanded_mm),
        correction=figures.rounded(row.correction_mm, expanded_mm, sign=True),
        u_mm=row.u_mm,
        expanded=figures.expanded(expanded_mm),
        between_ways=figures.rounded(row.between_ways_mm, expanded_mm),
    )


def _line(line: LineKept) -> LineReport:
    at_zero = figures.rounded(line.at_zero_mm, 2 * line.u_at_zero_mm, sign=True).shown
    # mm for each mm of travel is a small number; µm for a metre is what one can read.
    slope, u_slope = 1_000_000 * line.slope, 2_000_000 * line.u_slope
    steep = figures.rounded(slope, u_slope, sign=True).shown
    return LineReport(
        at_zero_mm=line.at_zero_mm,
        u_at_zero_mm=line.u_at_zero_mm,
        slope=line.slope,
        u_slope=line.u_slope,
        correlation=line.correlation,
        residual_s_mm=line.residual_s_mm,
        dof=line.dof,
        words=(
            f"The straight line through the errors is {at_zero} mm at the zero "
            f"(U = {figures.expanded(2 * line.u_at_zero_mm).shown} mm) and goes {steep} µm for a "
            f"metre of travel (U = {figures.expanded(u_slope).shown} µm); k = 2. Errors scatter "
            f"about it with s = {figures.to_figures(line.residual_s_mm, 2)} mm."
        ),
    )


def _monte_carlo(found: MonteCarloKept) -> MonteCarloReport:
    agrees = "agrees with the budget" if found.agrees else "does not agree with the budget"
    why = f": {found.reason}" if found.reason else ""
    return MonteCarloReport(
        of=found.of,
        trials=found.trials,
        seed=found.seed,
        u_mm=found.u_mm,
        low_mm=found.low_mm,
        high_mm=found.high_mm,
        agrees=found.agrees,
        reason=found.reason,
        words=(
            f"{found.of}: {found.trials} trials give u = {figures.to_figures(found.u_mm)} mm and "
            f"a coverage interval from {figures.to_figures(found.low_mm)} mm to "
            f"{figures.to_figures(found.high_mm)} mm. It {agrees}{why}"
        ),
    )
