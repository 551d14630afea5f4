"""Each kind of study for the command: from its table to facts, words and pictures."""

import dataclasses
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

from daq.calibration.study import (
    Chart,
    Flag,
    Occasion,
    StudyError,
    averages,
    bias_study,
    binomial_interval,
    by_range,
    by_variance,
    check_standard,
    cusum,
    ewma,
    grubbs,
    individuals,
    levels_study,
)
from daq.calibration.study import from_table as take
from daq.calibration.study.charts import Stability, beyond, sd_of_moving_range
from daq.calibration.study.table import Table
from daq.cli import study_words as words


def _no_pictures() -> dict[str, str]:
    return {}


@dataclass(frozen=True, slots=True)
class Outcome:
    """What the command prints, and what it draws if asked."""

    facts: list[dict[str, Any]]
    words: list[str]
    pictures: Callable[[], dict[str, str]] = field(default=_no_pictures)
    has_signal: bool = False


def crossed(table: Table, options: dict[str, Any]) -> Outcome:
    """By analysis of variance and by average and range."""
    from daq.calibration.study.plots import components_picture, operators_picture

    values = take.trials(table)
    given = options["tolerance"]
    tolerance = None if given is None else table.amount(given, what="--tolerance")
    pool = {"test": None, "pool": True, "keep": False}[options["interaction"]]
    try:
        studies = (
            by_variance(values, tolerance=tolerance, pool=pool),
            by_range(values, tolerance=tolerance),
        )
    except StudyError as error:
        raise _named(table, error) from error

    def pictures() -> dict[str, str]:
        return {
            "components": components_picture(studies[0]),
            "components-by-range": components_picture(studies[1]),
            "parts-and-operators": operators_picture(values, table.unit),
        }

    told = [line for study in studies for line in words.crossed(study, table.unit)]
    return Outcome([_facts(each, table) for each in studies], told, pictures)


def bias(table: Table, options: dict[str, Any]) -> Outcome:
    """Bias at each reference, and its line."""
    from daq.calibration.study.plots import bias_picture

    try:
        study = bias_study(take.referred(table), confidence=options["confidence"])
    except StudyError as error:
        raise _named(table, error) from error
    facts = _facts(study, table)
    del facts["values"]
    told = list(words.bias(study, table.unit))
    return Outcome([facts], told, lambda: {"bias": bias_picture(study, table.unit)})


def stability(table: Table, options: dict[str, Any]) -> Outcome:
    """A chart of the kind that was asked for, and the outlier test."""
    groups = take.subgroups(table)
    try:
        study = _charted(table, groups, options)
        points = [math.fsum(values) / len(values) for values in groups.values()]
        # Where nothing scatters, or there are two points, there is no test to make.
        odd = None
        if len(points) > 2 and len(set(points)) > 1:
            odd = grubbs(points, level=1 - options["confidence"])
    except StudyError as error:
        raise _named(table, error) from error
    names = list(groups)
    facts = _facts(study, table)
    facts["labels"] = names
    facts["is_stable"] = study.is_stable
    facts["outlier_test"] = None
    if odd is not None:
        facts["outlier_test"] = {**_plain(odd), "at": names[odd.index], "found": odd.is_outlier}
    told = list(words.stability(study, names, odd, table.unit))
    return Outcome(
        [facts],
        told,
        lambda: _chart_pictures(study.charts, names, table.unit),
        has_signal=not study.is_stable,
    )


def _charted(table: Table, groups: dict[str, list[float]], options: dict[str, Any]) -> Stability:
    sizes = {len(values) for values in groups.values()}
    target, sd = (
        None if options[name] is None else table.amount(options[name], what=f"--{name}")
        for name in ("target", "sd")
    )
    rules = options["rules"]
    if options["chart"] == "plain":
        if sizes == {1}:
            singles = [values[0] for values in groups.values()]
            return individuals(singles, centre=target, sd=sd, rules=rules)
        if target is not None or sd is not None:
            raise StudyError(
                "--target and --sd are for single values, EWMA and cumulative sums; a chart of "
                "averages takes its centre and limits from the values"
            )
        return averages(list(groups.values()), by=options["by"], rules=rules)
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
    if options["chart"] == "ewma":
        multiple = options["multiple"] or 3.0
        made = ewma(points, target=target, sd=sd, weight=options["weight"], multiple=multiple)
    else:
        made = cusum(points, target=target, k=options["k"] * sd, h=options["h"] * sd)
    return dataclasses.replace(made, sd=sd, remarks=tuple(remarks))


def levels(table: Table, options: dict[str, Any]) -> Outcome:  # noqa: ARG001
    """Repeatability, day to day, run to run."""
    from daq.calibration.study.plots import levels_picture

    try:
        study = levels_study(take.occasions(table))
    except StudyError as error:
        raise _named(table, error) from error
    told = list(words.levels(study, table.unit))
    facts = _facts(study, table)
    return Outcome([facts], told, lambda: {"levels": levels_picture(study, table.unit)})


def check(table: Table, options: dict[str, Any]) -> Outcome:
    """Limits from a check standard's history, held against that history."""
    occasions = take.occasions(table)
    multiple = options["multiple"] or 2.0
    try:
        study = check_standard(occasions, multiple=multiple, confidence=options["confidence"])
    except StudyError as error:
        raise _named(table, error) from error
    names = [each.day for each in occasions]
    means, scatter = _check_charts(occasions, (study.lower, study.upper), study.upper_sd)
    charts = (
        dataclasses.replace(
            means,
            centre=study.centre,
            rules=f"limits: {multiple:g} standard deviations from the centre",
        ),
        dataclasses.replace(scatter, centre=study.repeatability.sd),
    )
    out = {chart.name: [names[flag.index] for flag in chart.flags] for chart in charts}
    facts = {**_facts(study, table), "beyond": out}
    told = list(words.check(study, out, table.unit))
    return Outcome(
        [facts],
        told,
        lambda: _chart_pictures(charts, names, table.unit),
        has_signal=any(out.values()),
    )


def _check_charts(
    occasions: Sequence[Occasion], limits: tuple[float, float], upper_sd: float
) -> tuple[Chart, Chart]:
    n = len(occasions)
    means = tuple(each.mean for each in occasions)
    scatter = tuple(each.sd for each in occasions)
    lower, upper, top = ((limit,) * n for limit in (*limits, upper_sd))
    odd: tuple[Flag, ...] = beyond(means, lower, upper)
    return (
        Chart("means of the check standard", means, 0.0, lower, upper, odd, ""),
        Chart(
            "standard deviations of the check standard",
            scatter,
            0.0,
            None,
            top,
            beyond(scatter, (0.0,) * n, top),
            "limits: F test against the pooled standard deviation",
        ),
    )


def reliability(table: Table, options: dict[str, Any]) -> Outcome:
    """The share found within, with its exact interval."""
    within, total = take.found_within(table)
    seen = binomial_interval(within, total, options["confidence"])
    facts = {"kind": table.kind, **_plain(seen), "observed": seen.observed}
    return Outcome([facts], list(words.reliability(seen)))


MAKERS: dict[str, Callable[[Table, dict[str, Any]], Outcome]] = {
    "crossed": crossed,
    "bias": bias,
    "stability": stability,
    "levels": levels,
    "check": check,
    "reliability": reliability,
}
"""By kind of study: what makes it."""


def _named(table: Table, error: StudyError) -> StudyError:
    return StudyError(*(f"{table.name}: {problem}" for problem in error.problems))


def _chart_pictures(charts: Sequence[Chart], names: Sequence[str], unit: str) -> dict[str, str]:
    from daq.calibration.study.chart_plot import chart_picture

    return {
        chart.name.split(",")[0].replace(" ", "-").casefold(): chart_picture(chart, names, unit)
        for chart in charts
    }


def _facts(study: Any, table: Table) -> dict[str, Any]:
    return {"kind": table.kind, "unit": table.unit or None, **_plain(study)}


def _plain(study: Any) -> dict[str, Any]:
    """A study as JSON can hold it: what is infinite becomes None."""

    def plain(value: Any) -> Any:
        if isinstance(value, dict):
            return {name: plain(each) for name, each in value.items()}
        if isinstance(value, list | tuple):
            return [plain(each) for each in value]
        return None if isinstance(value, float) and not math.isfinite(value) else value

    made: dict[str, Any] = plain(dataclasses.asdict(study))
    return made
