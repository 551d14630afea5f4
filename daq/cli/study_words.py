"""What each study comes to, in lines for a reader."""

import math
from collections.abc import Iterator, Sequence

from daq.calibration.study import (
    BiasStudy,
    Binomial,
    CheckStandard,
    CrossedStudy,
    Grubbs,
    LevelsStudy,
    Stability,
)
from daq.calibration.study.bias import Estimate, Line
from daq.calibration.study.charts import Chart

_INSET = {"repeatability": 1, "reproducibility": 1, "operator": 2, "interaction": 2}


def crossed(study: CrossedStudy, unit: str) -> Iterator[str]:
    """The components, the number of categories, the analysis of variance."""
    yield (
        f"By {study.method}: {len(study.parts)} parts, {len(study.operators)} operators, "
        f"{study.trials} trials."
    )
    of_tolerance = f"{'% of tolerance':>16}" if study.tolerance is not None else ""
    yield f"  {'':<20}{_in('sd', unit):>14}{'% of total sd':>15}{'% of variance':>15}{of_tolerance}"
    for each in study.components:
        name = "  " * _INSET.get(each.name, 0) + each.name
        shares = f"{_percent(each.of_sd):>15}{_percent(each.of_variance):>15}"
        last = f"{_percent(each.of_tolerance):>16}" if study.tolerance is not None else ""
        yield f"  {name:<20}{figure(each.sd):>14}{shares}{last}"
    yield f"  Distinct categories: {_categories(study.distinct_categories)}"
    for remark in study.remarks:
        yield f"  {_sentence(remark)}"
    if study.table:
        yield f"  {'':<16}{'sum of squares':>16}{'dof':>6}{'mean square':>16}{'F':>10}{'p':>10}"
        for row in study.table:
            f = "" if row.f is None else figure(row.f)
            p = "" if row.p is None else _p(row.p)
            yield (
                f"  {row.source:<16}{figure(row.sum_of_squares):>16}{row.dof:>6}"
                f"{figure(row.mean_square):>16}{f:>10}{p:>10}"
            )
    yield ""


def bias(study: BiasStudy, unit: str) -> Iterator[str]:
    """Bias at each reference, over all, and the line."""
    share = f"{100 * study.overall.confidence:g} % interval"
    yield f"  {_in('reference', unit):>18}{'n':>4}{'bias':>12}{'sd':>12}{'p':>10}  {share}"
    for at in study.at:
        start = f"  {at.reference:>18g}{at.n:>4}{figure(at.bias):>12}"
        yield (
            start
            if at.estimate is None
            else start + f"{figure(at.sd or 0.0):>12}" + _test(at.estimate)
        )
    n = len(study.values)
    yield f"  {'all':>18}{n:>4}{figure(study.overall.value):>12}{'':>12}" + _test(study.overall)
    if study.line is not None:
        yield from _line(study.line, unit)
    for remark in study.remarks:
        yield _sentence(remark)


def _line(line: Line, unit: str) -> Iterator[str]:
    yield ""
    yield (
        f"Line: bias = {figure(line.at_centre.value)} {_plus(line.slope.value)} · (reference − "
        f"{line.centre:g}){' ' + unit if unit else ''}"
    )
    for name, of in (
        ("slope", line.slope),
        ("bias at the centre", line.at_centre),
        ("bias at reference 0", line.at_zero),
    ):
        verdict = "stands out from 0" if of.stands_out else "not told from 0"
        yield (
            f"  {name:<20}{_of(of):>12}  u {figure(of.u)}  t {_optional(of.t)}  "
            f"p {_p(of.p) if of.p is not None else '–'}  {verdict}"
        )
    yield f"  residual standard deviation {_amount(line.residual_sd, unit)}, {line.dof} dof"
    if line.lack_of_fit is not None:
        lack = line.lack_of_fit
        yield f"  lack of fit: F({lack.dof_1}, {lack.dof_2}) = {lack.f:.4g}, p {_p(lack.p)}"


def stability(
    study: Stability, names: Sequence[str], odd: Grubbs | None, unit: str
) -> Iterator[str]:
    """Each chart with its limits and what breaks a rule; the outlier test."""
    for chart in study.charts:
        yield from _chart(chart, names[chart.first :], unit)
    if study.sd is not None:
        yield f"Standard deviation of a single value: {_amount(study.sd, unit)}"
    if odd is not None:
        found = "an outlier: look for the reason" if odd.is_outlier else "no outlier"
        yield (
            f"Grubbs' test: {names[odd.index]} ({odd.value:.6g}) is furthest off, G {odd.g:.4f}, "
            f"critical {odd.critical:.4f}: {found}"
        )
    for remark in study.remarks:
        yield _sentence(remark)
    yield "Stable: no point breaks a rule." if study.is_stable else "Not stable, by these rules."


def _chart(chart: Chart, names: Sequence[str], unit: str) -> Iterator[str]:
    lower, upper = (
        "none" if limits is None else chart.shown(limits[-1])
        for limits in (chart.lower, chart.upper)
    )
    yield (
        f"{chart.name}: centre {chart.shown(chart.centre)}, limits {lower} and {upper}"
        f"{' ' + unit if unit else ''}"
    )
    yield f"  rules: {chart.rules}"
    for flag in chart.flags:
        yield f"  {names[flag.index]}: {flag.rule}"


def levels(study: LevelsStudy, unit: str) -> Iterator[str]:
    """The pooled standard deviations, by run, and what they come to for one value."""
    yield f"  {'':<34}{_in('sd', unit):>14}{'dof':>6}"
    rows = [("repeatability (level 1)", study.repeatability)]
    rows += [(f"  run {each.run}", each) for each in study.repeatability_by_run]
    rows.append(("day to day (level 2)", study.day_to_day))
    rows += [(f"  run {each.run}", each) for each in study.day_to_day_by_run]
    if study.run_to_run is not None:
        rows.append(("run to run (level 3)", study.run_to_run))
        rows += [(f"  part {each.part}", each) for each in study.run_to_run_by_part]
    for name, of in rows:
        yield f"  {name:<34}{figure(of.sd):>14}{of.dof:>6}"
    yield f"  {'days alone':<34}{figure(study.s_day):>14}"
    if study.s_run is not None:
        yield f"  {'runs alone':<34}{figure(study.s_run):>14}"
    yield f"  {'one value, from all levels':<34}{figure(study.u_single):>14}"
    for remark in study.remarks:
        yield _sentence(remark)


def check(study: CheckStandard, out: dict[str, list[str]], unit: str) -> Iterator[str]:
    """The limits, and which occasions lie beyond them."""
    yield (
        f"{study.n} occasions. Repeatability {_amount(study.repeatability.sd, unit)}, "
        f"{study.repeatability.dof} dof; standard deviation of the means "
        f"{_amount(study.sd, unit)}, {study.dof} dof."
    )
    yield (
        f"Means: centre {study.centre:.7g}, limits {study.lower:.7g} and {study.upper:.7g}"
        f"{' ' + unit if unit else ''} ({study.multiple:g} standard deviations)"
    )
    yield (
        f"Standard deviations: upper limit {_amount(study.upper_sd, unit)} (F = {study.f:.6g}, "
        f"{100 * study.confidence:g} %)"
    )
    for name, days in out.items():
        yield f"{name}: {'beyond a limit: ' + ', '.join(days) if days else 'none beyond a limit'}"


def reliability(seen: Binomial) -> Iterator[str]:
    """The share, and its interval."""
    yield (
        f"{seen.successes} of {seen.trials} found within their errors: "
        f"{100 * seen.observed:.1f} %; exact "
        f"{100 * seen.confidence:g} % interval {100 * seen.low:.2f} % to {100 * seen.high:.2f} %"
    )


def figure(value: float) -> str:
    """Four significant digits; an infinite one as a sign."""
    if math.isinf(value):
        return "∞" if value > 0 else "−∞"
    return f"{value:.4g}".replace("-", "−")


def _test(of: Estimate) -> str:
    p = "–" if of.p is None else _p(of.p)
    return f"{p:>10}  {figure(of.low)} to {figure(of.high)}"


def _of(of: Estimate) -> str:
    """The value; what is left of it by a float's rounding alone is 0."""
    return "0" if abs(of.value) < 1e-9 * of.u else figure(of.value)


def _p(p: float) -> str:
    return "< 0.0001" if p < 1e-4 else f"{p:.4f}"


def _plus(value: float) -> str:
    return f"− {figure(-value)}" if value < 0 else f"+ {figure(value)}"


def _optional(value: float | None) -> str:
    if value is None or math.isinf(value):
        return "–" if value is None else figure(value)
    return f"{value:.3f}".replace("-", "−")


def _percent(share: float | None) -> str:
    return "–" if share is None else f"{100 * share:.2f}"


def _categories(count: int | None) -> str:
    if count is None:
        return "not known"
    return f"{count}" if count > 1 else f"{count}: these parts cannot be told apart"


def _amount(value: float, unit: str) -> str:
    return f"{figure(value)} {unit}".rstrip()


def _in(name: str, unit: str) -> str:
    return f"{name}, {unit}" if unit else name


def _sentence(remark: str) -> str:
    return f"{remark[0].upper()}{remark[1:]}."
