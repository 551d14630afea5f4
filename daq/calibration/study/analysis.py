"""A table studied: from its values to the results, the pictures and whether there is a signal.

One way for values from a file and from a logbook, whoever shows them afterwards.
"""

import dataclasses
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from daq.calibration.study import from_table as take
from daq.calibration.study.bias import bias_study
from daq.calibration.study.charts import (
    Chart,
    Stability,
    averages,
    beyond,
    individuals,
    sd_of_moving_range,
)
from daq.calibration.study.crossed import by_range, by_variance
from daq.calibration.study.errors import StudyError
from daq.calibration.study.levels import (
    CheckStandard,
    Occasion,
    check_standard,
    levels_study,
)
from daq.calibration.study.memory_charts import cusum, ewma
from daq.calibration.study.outcomes import (
    BiasResult,
    CheckResult,
    CrossedResult,
    LevelsResult,
    ReliabilityResult,
    Result,
    StabilityResult,
)
from daq.calibration.study.outlier import grubbs
from daq.calibration.study.reliability import binomial_interval
from daq.calibration.study.run_rules import Flag, RuleSet
from daq.calibration.study.table import Table


@dataclass(frozen=True, slots=True)
class Asked:
    """How a study is to be made; each kind takes what is for it.

    tolerance, target, sd: as written, with the table's kind of unit. multiple: None for the usual.
    """

    tolerance: str | None = None
    interaction: Literal["test", "pool", "keep"] = "test"
    chart: Literal["plain", "ewma", "cusum"] = "plain"
    by: Literal["range", "sd"] = "range"
    rules: RuleSet = "zones"
    target: str | None = None
    sd: str | None = None
    weight: float = 0.2
    multiple: float | None = None
    k: float = 0.5
    h: float = 5.0
    confidence: float = 0.95


def studied(table: Table, asked: Asked) -> Result:
    """The study that the table is for.

    Raises:
        StudyError: it cannot be made of these values, or ``asked`` makes no sense for them.
    """
    return _MAKERS[table.kind](table, asked)


def _crossed(table: Table, asked: Asked) -> CrossedResult:
    values = take.trials(table)
    given = asked.tolerance
    tolerance = None if given is None else table.amount(given, what="--tolerance")
    pool = {"test": None, "pool": True, "keep": False}[asked.interaction]
    try:
        studies = (
            by_variance(values, tolerance=tolerance, pool=pool),
            by_range(values, tolerance=tolerance),
        )
    except StudyError as error:
        raise _named(table, error) from error
    return CrossedResult(table, studies, tuple(values))


def _bias(table: Table, asked: Asked) -> BiasResult:
    try:
        study = bias_study(take.referred(table), confidence=asked.confidence)
    except StudyError as error:
        raise _named(table, error) from error
    return BiasResult(table, study)


def _stability(table: Table, asked: Asked) -> StabilityResult:
    groups = take.subgroups(table)
    try:
        study = _charted(table, groups, asked)
        points = [math.fsum(values) / len(values) for values in groups.values()]
        # Where nothing scatters, or there are two points, there is no test to make.
        odd = None
        if len(points) > 2 and len(set(points)) > 1:
            odd = grubbs(points, level=1 - asked.confidence)
    except StudyError as error:
        raise _named(table, error) from error
    return StabilityResult(table, study, tuple(groups), odd)


def _charted(table: Table, groups: Mapping[str, list[float]], asked: Asked) -> Stability:
    sizes = {len(values) for values in groups.values()}
    target, sd = (
        None if given is None else table.amount(given, what=f"--{name}")
        for name, given in (("target", asked.target), ("sd", asked.sd))
    )
    if asked.chart == "plain":
        if sizes == {1}:
            singles = [values[0] for values in groups.values()]
            return individuals(singles, centre=target, sd=sd, rules=asked.rules)
        if target is not None or sd is not None:
            raise StudyError(
                "--target and --sd are for single values, EWMA and cumulative sums; a chart of "
                "averages takes its centre and limits from the values"
            )
        return averages(list(groups.values()), by=asked.by, rules=asked.rules)
    points = [math.fsum(values) / len(values) for values in groups.values()]
    remarks = []
    if target is None:
        target = math.fsum(points) / len(points)
        remarks.append("no --target: the mean of these values stands for it")
    if sd is None:
        sd = sd_of_moving_range(points)
        remarks.append("no --sd: taken from the moving ranges of these values")
    if not sd > 0:
        raise StudyError(f"--sd: a standard deviation of {sd} is none; it must be above 0")
    if asked.chart == "ewma":
        multiple = asked.multiple or 3.0
        made = ewma(points, target=target, sd=sd, weight=asked.weight, multiple=multiple)
    else:
        made = cusum(points, target=target, k=asked.k * sd, h=asked.h * sd)
    return dataclasses.replace(made, sd=sd, remarks=tuple(remarks))


def _levels(table: Table, asked: Asked) -> LevelsResult:  # noqa: ARG001
    try:
        return LevelsResult(table, levels_study(take.occasions(table)))
    except StudyError as error:
        raise _named(table, error) from error


def _check(table: Table, asked: Asked) -> CheckResult:
    occasions = take.occasions(table)
    multiple = asked.multiple or 2.0
    try:
        study = check_standard(occasions, multiple=multiple, confidence=asked.confidence)
    except StudyError as error:
        raise _named(table, error) from error
    charts = _check_charts(occasions, study)
    return CheckResult(table, study, charts, tuple(each.day for each in occasions))


def _check_charts(occasions: Sequence[Occasion], study: CheckStandard) -> tuple[Chart, Chart]:
    n = len(occasions)
    means = tuple(each.mean for each in occasions)
    scatter = tuple(each.sd for each in occasions)
    lower, upper, top = ((limit,) * n for limit in (study.lower, study.upper, study.upper_sd))
    odd: tuple[Flag, ...] = beyond(means, lower, upper)
    return (
        Chart(
            "means of the check standard",
            means,
            study.centre,
            lower,
            upper,
            odd,
            f"limits: {study.multiple:g} standard deviations from the centre",
        ),
        Chart(
            "standard deviations of the check standard",
            scatter,
            study.repeatability.sd,
            None,
            top,
            beyond(scatter, (0.0,) * n, top),
            "limits: F test against the pooled standard deviation",
        ),
    )


def _reliability(table: Table, asked: Asked) -> ReliabilityResult:
    within, total = take.found_within(table)
    return ReliabilityResult(table, binomial_interval(within, total, asked.confidence))


_MAKERS: dict[str, Callable[[Table, Asked], Result]] = {
    "crossed": _crossed,
    "bias": _bias,
    "stability": _stability,
    "levels": _levels,
    "check": _check,
    "reliability": _reliability,
}


def _named(table: Table, error: StudyError) -> StudyError:
    return StudyError(*(f"{table.name}: {problem}" for problem in error.problems))
