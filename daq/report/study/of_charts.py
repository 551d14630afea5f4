"""The report's parts of a study with charts: stability, and a check standard."""

from collections.abc import Iterator

from daq.calibration.study.charts import Chart
from daq.calibration.study.outcomes import CheckResult, StabilityResult
from daq.report.study.amounts import amount, headed, sentence
from daq.report.study.model import Column, KeyFigure, Picture, Section, TableView

STABILITY_REFERENCES = (
    "NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2: control charts; 1.3.5.17: Grubbs' "
    "test.",
    "C. W. Champ and W. H. Woodall, Technometrics 29 (1987) 393: the rules, and how often each is "
    "wrong.",
)
CHECK_REFERENCES = (
    "NIST/SEMATECH e-Handbook of Statistical Methods, 2.2.2, 2.2.3 and 2.6.2: check standards.",
)


def stability_what(result: StabilityResult) -> str:
    """How large the study is, in one line."""
    points, values = len(result.names), len(result.table.rows)
    each = "" if points == values else f", {values} values"
    return f"{points} points from {result.names[0]} to {result.names[-1]}{each}"


def stability_figures(result: StabilityResult) -> tuple[KeyFigure, ...]:
    """Stable or not, the centre, the scatter."""
    study, unit = result.study, result.table.unit
    signals = sum(len({flag.index for flag in chart.flags}) for chart in study.charts)
    told = "no point breaks a rule" if study.is_stable else f"{signals} points break a rule"
    if signals == 1:
        told = "1 point breaks a rule"
    figures = [
        KeyFigure(name="stable", value="yes" if study.is_stable else "no", practice=told),
        KeyFigure(name="centre", value=amount(study.centre, unit, 8), practice=""),
    ]
    if study.sd is not None:
        sd = amount(study.sd, unit)
        figures.append(KeyFigure(name="standard deviation of a value", value=sd, practice=""))
    return tuple(figures)


def stability_sections(result: StabilityResult) -> Iterator[Section]:
    """Each chart, then the outlier test."""
    pictures = list(result.pictures().items())
    unit = result.table.unit
    for chart, (name, svg) in zip(result.study.charts, pictures, strict=True):
        yield _chart(chart, result.names, name, svg, unit)
    odd = result.outlier
    if odd is not None:
        found = "an outlier: look for the reason" if odd.is_outlier else "no outlier"
        said = (
            f"Grubbs' test: {result.names[odd.index]} ({odd.value:.8g}) is furthest from the mean, "
            f"G = {odd.g:.4f} against a critical {odd.critical:.4f}: {found}. Nothing is left out."
        )
        yield Section(heading="Is one value odd?", said=(said,))
    if result.study.remarks:
        remarks = tuple(sentence(each) for each in result.study.remarks)
        yield Section(heading="To know", remarks=remarks)


def stability_method(result: StabilityResult) -> tuple[str, ...]:
    """How it was done, in words."""
    names = " and ".join(chart.name for chart in result.study.charts)
    return (
        f"Charts: {names}. The points stand in the order in which they were taken.",
        "The rule set “limits” flags a point beyond three standard deviations; “zones” also 2 of 3 "
        "beyond two, 4 of 5 beyond one, 8 in a row on one side. A process that has not changed "
        "gives a false signal about once in 370 points by the first, once in 92 by the second.",
        "Values that have already drifted widen the limits that are taken from them. A target and "
        "a standard deviation known beforehand are better.",
    )


def check_what(result: CheckResult) -> str:
    """How large the study is, in one line."""
    return f"{result.study.n} occasions from {result.names[0]} to {result.names[-1]}"


def check_figures(result: CheckResult) -> tuple[KeyFigure, ...]:
    """Repeatability, the scatter of the means, what lies beyond."""
    study, unit = result.study, result.table.unit
    out = sum(map(len, result.beyond.values()))
    level = study.repeatability
    return (
        KeyFigure(
            name="repeatability",
            value=amount(level.sd, unit),
            practice=f"{level.dof} degrees of freedom",
        ),
        KeyFigure(
            name="standard deviation of the means",
            value=amount(study.sd, unit),
            practice=f"{study.dof} degrees of freedom",
        ),
        KeyFigure(
            name="beyond a limit",
            value=str(out),
            practice="by chance alone about one occasion in twenty lies beyond each",
        ),
    )


def check_sections(result: CheckResult) -> Iterator[Section]:
    """Both charts."""
    for chart, (name, svg) in zip(result.charts, result.pictures().items(), strict=True):
        yield _chart(chart, result.names, name, svg, result.table.unit)


def check_method(result: CheckResult) -> tuple[str, ...]:
    """How it was done, in words."""
    study = result.study
    return (
        f"Limits of the mean: ± {study.multiple:g} standard deviations of the occasions' means "
        "about their mean.",
        f"Upper limit of an occasion's own standard deviation: repeatability times √F, with "
        f"F = {study.f:.6g} for {100 * study.confidence:g} %.",
    )


def _chart(chart: Chart, names: tuple[str, ...], name: str, svg: str, unit: str) -> Section:
    """A chart with its limits and everything that breaks a rule."""
    lower, upper = (
        "none" if limits is None else chart.shown(limits[-1])
        for limits in (chart.lower, chart.upper)
    )
    own = names[chart.first :]
    limits = TableView(
        columns=tuple(
            Column(head=headed(each, unit)) for each in ("lower limit", "centre", "upper limit")
        ),
        rows=((lower, chart.shown(chart.centre), upper),),
    )
    tables = [limits]
    if chart.flags:
        broken = tuple((own[flag.index], flag.rule) for flag in chart.flags)
        heads = (Column(head="point", align="left"), Column(head="breaks", align="left"))
        tables.append(TableView(columns=heads, rows=broken))
    says = "No point breaks a rule." if not chart.flags else "Points in a square break a rule."
    return Section(
        heading=f"{chart.name[0].upper()}{chart.name[1:]}",
        said=(f"Held against {chart.rules}.",),
        tables=tuple(tables),
        pictures=(Picture(name=name, says=says, svg=svg),),
        pictures_first=True,
    )
