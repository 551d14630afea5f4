"""From the points of one run to errors with uncertainty, characteristics and decisions."""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import date

from daq.calibration.assess.asked import (
    AssessedCharacteristic,
    AssessedPoint,
    Assessment,
    Checked,
    Conditions,
    How,
)
from daq.calibration.assess.characteristics import assessed, stated_of
from daq.calibration.assess.curves import line_of, table_of
from daq.calibration.assess.deciding import unmeasured, worst_of
from daq.calibration.assess.scatter import scatter_of
from daq.calibration.assess.sources import Sources, reference_seen_mm
from daq.calibration.fields import brief_mm
from daq.calibration.forms import GaugeIdentity
from daq.calibration.monte_carlo import check
from daq.calibration.plan import PreparedPlan
from daq.calibration.points import Point, Run
from daq.calibration.results import results_of
from daq.calibration.sequence import counted, doubts_in


def assess(
    prepared: PreparedPlan,
    gauge: GaugeIdentity,
    points: Sequence[Point],
    run: Run,
    conditions: Conditions,
    on: date,
    how: How,
) -> Assessment:
    """What the points of one run come to.

    Args:
        prepared: the plan with its standard.
        gauge: that was calibrated, with its limits.
        points: in the order in which they were taken; those of the other run are left out.
        run: as found or as left.
        conditions: under which they were taken.
        on: the day of the run.
        how: the decision rule, and what else is to be done.

    Raises:
        CalibrationError: there is no point on the way up, or a budget has no degree of freedom.
        PlanError: the points were taken by another plan.
    """
    own = [
        _as_seen(each, prepared, gauge, conditions)
        for each in counted(prepared, [each for each in points if each.run == run])
    ]
    partial_mm = gauge.limits.partial_mm
    if partial_mm is None and prepared.plan.partial is not None:
        partial_mm = prepared.plan.partial.over_mm
    results = results_of(own, partial_mm, run)
    scatter = scatter_of(results.repeats, gauge)
    zero = min(own, key=lambda each: each.place)
    sources = Sources(
        prepared, gauge, conditions.temperature_c, on, scatter, float(zero.u_reading_mm)
    )
    errors = tuple(_error(each, sources, how) for each in own)
    least_sure = max(errors, key=lambda each: each.stated.expanded_mm)
    characteristics = assessed(results, sources, gauge, partial_mm, how)
    table, no_table = table_of(errors, run)
    doubts = [
        *doubts_in(prepared, own, gauge),
        *([scatter.doubt] if scatter.doubt else []),
        *unmeasured(gauge, (each.found.what for each in characteristics)),
        *_left_out(prepared, own),
        *([no_table] if no_table else []),
    ]
    return Assessment(
        run=run,
        word=worst_of(each.word for each in characteristics),
        points=errors,
        least_sure=least_sure,
        characteristics=characteristics,
        scatter=scatter,
        correction=table,
        line=line_of(own, sources),
        monte_carlo=_checked(least_sure, characteristics, how) if how.with_monte_carlo else (),
        remarks=tuple(_remarks(prepared, gauge, conditions)),
        doubts=tuple(doubts),
    )


def name_of(point: Point) -> str:
    """What the budget of a point's error is called."""
    again = ", repeat" if point.series == "repeat" else ""
    return f"error at {brief_mm(point.nominal_mm)} {point.direction}{again}"


def _as_seen(
    point: Point, prepared: PreparedPlan, gauge: GaugeIdentity, conditions: Conditions
) -> Point:
    """The point with the reference that a gauge without error shows at the run's temperature."""
    seen_mm = reference_seen_mm(
        point.reference_mm, prepared.standard, gauge, conditions.temperature_c
    )
    return replace(point, reference_mm=seen_mm)


def _error(point: Point, sources: Sources, how: How) -> AssessedPoint:
    budget = sources.budget(name_of(point), [(1.0, point)], float(point.error_mm))
    return AssessedPoint(point, stated_of(budget, how.level))


def _checked(
    least_sure: AssessedPoint, characteristics: Sequence[AssessedCharacteristic], how: How
) -> tuple[Checked, ...]:
    """The budgets held against random draws, to one figure: that much matters for a decision."""
    every = [least_sure.stated.budget, *(each.stated.budget for each in characteristics)]
    return tuple(
        Checked(each.measurand, check(each, level=how.level, seed=how.seed, figures=1))
        for each in every
    )


def _left_out(prepared: PreparedPlan, points: Sequence[Point]) -> Iterator[str]:
    missing = len(prepared.plan.stops) - len(points)
    if missing > 0:
        noun = "reading" if missing == 1 else "readings"
        yield f"{missing} {noun} that the plan asks for were not taken."


def _remarks(prepared: PreparedPlan, gauge: GaugeIdentity, conditions: Conditions) -> Iterator[str]:
    yield from prepared.plan.remarks
    longest_mm = max(each for each in prepared.plan.lengths_mm)
    seen_mm = reference_seen_mm(longest_mm, prepared.standard, gauge, conditions.temperature_c)
    if seen_mm != longest_mm:
        yield (
            "The errors are those at 20 °C. For the difference between the expansion of standard "
            f"and gauge at {conditions.temperature_c} °C the references were changed, by "
            f"{brief_mm(round(seen_mm - longest_mm, 6))} at {brief_mm(longest_mm)}."
        )
