"""The characteristics of a run, each with a budget of its own.

Each is a difference of errors, or one error: its budget is that of its points, in which what is
common to them cancels. It is also an extreme of many, and noise makes an extreme too large. The
value is left as it is defined; what noise adds on average goes into the budget (`extremes`).
"""

import math
from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal

from daq.calibration.assess.asked import AssessedCharacteristic, How, Stated
from daq.calibration.assess.deciding import decided, limits_of
from daq.calibration.assess.sources import Extra, Part, Sources
from daq.calibration.budget import Budget, Term, linear
from daq.calibration.decision import Word
from daq.calibration.forms import GaugeIdentity
from daq.calibration.results import Characteristic, Results
from daq.calibration.student import normal_k, student_k


def stated_of(budget: Budget, level: float) -> Stated:
    """k from Student's t for the whole degrees of freedom, and U = k·u.

    Raises:
        CalibrationError: there is less than one degree of freedom.
    """
    coverage = budget.coverage(level)
    k, u_mm = Decimal(f"{coverage.k:.6g}"), Decimal(f"{budget.u:.12g}")
    return Stated(budget, coverage, k, u_mm, Decimal(f"{k * u_mm:.12g}"))


def assessed(
    results: Results, sources: Sources, gauge: GaugeIdentity, partial_mm: Decimal | None, how: How
) -> tuple[AssessedCharacteristic, ...]:
    """Every characteristic that there is, with its budget and the decision on it.

    Args:
        results: of the run.
        sources: of its uncertainty.
        gauge: with its limits.
        partial_mm: length of the piece for the partial-range error.
        how: level and rule.
    """
    found = []
    for each in results.characteristics:
        if each.what == "repeatability":
            budget, bias_mm = _of_repeats(each, results, sources, how.level), 0.0
        else:
            budget, bias_mm = _of_errors(each, results, sources, partial_mm, how.level)
        limit_mm = limits_of(gauge).get(each.what)
        stated = stated_of(budget, how.level)
        if limit_mm is None:
            found.append(AssessedCharacteristic(each, stated, bias_mm, None, None, None, ""))
            continue
        decision, reason = decided(each, stated, limit_mm, gauge.limits.source, how)
        word = decision.word if decision is not None else Word.NOT_JUDGED
        found.append(
            AssessedCharacteristic(each, stated, bias_mm, limit_mm, decision, word, reason)
        )
    return tuple(found)


def _of_errors(
    found: Characteristic,
    results: Results,
    sources: Sources,
    partial_mm: Decimal | None,
    level: float,
) -> tuple[Budget, float]:
    from daq.calibration.assess.extremes import choice_of, selection_of

    parts = _parts(found)
    choice = choice_of(found.what, results.points, partial_mm, sources.reading_mm)
    selection = selection_of(choice, level)
    readings_mm = math.hypot(*(sources.reading_mm(each) for _, each in parts))
    # The readings' own terms hold most of it already; here is the rest.
    u_mm = selection.half_width_mm / normal_k(level)
    rest = Extra(
        math.sqrt(max(0.0, u_mm**2 - readings_mm**2)),
        f"chosen among {choice.number}: too large by {max(0.0, selection.bias_mm):.2g} mm or more",
    )
    return sources.budget(found.what, parts, float(found.value_mm), rest), selection.bias_mm


def _of_repeats(found: Characteristic, results: Results, sources: Sources, level: float) -> Budget:
    """How far the range of these readings may be from what such readings range over on average.

    Where the scatter is no more than the display step accounts for, it is that of two roundings.
    """
    from daq.calibration.assess.extremes import range_factor

    scatter, n = sources.scatter, len(found.points)
    numbers = tuple(len(each.points) for each in results.repeats if each.s_mm is not None)
    s_in_steps = scatter.repeated.u / (2 * scatter.step.stated)
    factor = range_factor(numbers, n, s_in_steps, level) / student_k(level, scatter.repeated.dof)
    # Two roundings alone may put the range off by so much: the larger of the two counts here too.
    rounded = factor * scatter.repeated.u < math.sqrt(2) * scatter.step.u
    again = replace(
        scatter.repeated,
        name=f"repeatability, range of {n}",
        basis=f"s = {scatter.repeated.u:.3g} mm; largest range of {len(numbers)} points",
    )
    terms = [Term(again, 0.0 if rounded else factor)]
    for reading in ("one reading", "other reading"):
        step = replace(scatter.step, name=f"display step, {reading}")
        terms.insert(-1, Term(step, 1.0 if rounded else 0.0))
    return linear(found.what, terms, estimate=float(found.value_mm), unit="mm")


def _parts(found: Characteristic) -> Sequence[Part]:
    """Its points with the factors that make its value."""
    if len(found.points) == 1:
        (only,) = found.points
        return [(-1.0 if only.error_mm < 0 else 1.0, only)]
    one, other = found.points
    if one.place == other.place:  # all errors the same: the first is both ends
        return [(1.0, one)]
    sign = 1.0 if other.error_mm >= one.error_mm else -1.0
    return [(-sign, one), (sign, other)]
