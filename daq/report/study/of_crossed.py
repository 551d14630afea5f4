"""The report's parts of a crossed study."""

from collections.abc import Iterator

from daq.calibration.study.crossed import SPREAD, CrossedStudy
from daq.calibration.study.outcomes import CrossedResult
from daq.report.study.amounts import figure, headed, percent, probability, sentence
from daq.report.study.model import Column, KeyFigure, Picture, Section, TableView

GOOD, POOR, WANTED = 0.10, 0.30, 5
"""What common practice takes for good and for unfit, and how many categories it wants.

Source: AIAG, Measurement Systems Analysis, 4th edition; thresholds of common practice, not a
decision rule."""

_INSET = {"repeatability": 1, "reproducibility": 1, "operator": 2, "interaction": 2}

REFERENCES = (
    "D. C. Montgomery, Design and Analysis of Experiments: two-factor model, both factors random.",
    "AIAG, Measurement Systems Analysis, 4th edition: average and range; usual thresholds.",
)


def what(result: CrossedResult) -> str:
    """How large the study is, in one line."""
    study = result.studies[0]
    return (
        f"{len(study.parts)} parts, {len(study.operators)} operators, {study.trials} trials: "
        f"{len(result.values)} values"
    )


def key_figures(result: CrossedResult) -> tuple[KeyFigure, ...]:
    """What the study is read for, by both methods."""
    by_variance, by_range = result.studies
    figures = [_share("measurement, of the total standard deviation", result, "of_sd")]
    if by_variance.tolerance is not None:
        figures.append(
            _share(
                f"measurement, {SPREAD:g} standard deviations of the tolerance",
                result,
                "of_tolerance",
            )
        )
    counts = [each.distinct_categories for each in (by_variance, by_range)]
    first = counts[0]
    reached = "not known" if first is None else "reached" if first >= WANTED else "not reached"
    figures.append(
        KeyFigure(
            name="distinct categories of parts",
            value=" · ".join("not known" if each is None else str(each) for each in counts),
            practice=f"{WANTED} or more are wanted: {reached}",
        )
    )
    return tuple(figures)


def _share(name: str, result: CrossedResult, which: str) -> KeyFigure:
    shares = [getattr(each.component("measurement"), which) for each in result.studies]
    first = shares[0]
    if first is None:
        where = "not known"
    elif first < GOOD:
        where = f"under {100 * GOOD:g} %: good"
    elif first <= POOR:
        where = f"from {100 * GOOD:g} to {100 * POOR:g} %: it depends on the purpose"
    else:
        where = f"over {100 * POOR:g} %: not fit for the purpose"
    shown = " · ".join(map(percent, shares))
    return KeyFigure(name=name, value=f"{shown} %", practice=where)


def sections(result: CrossedResult) -> Iterator[Section]:
    """By variance, by range, and every value."""
    unit, pictures = result.table.unit, result.pictures()
    by_variance, by_range = result.studies
    yield Section(
        heading="By analysis of variance",
        said=(sentence(by_variance.remarks[0]),),
        tables=(_components(by_variance, unit), _variance(by_variance)),
        pictures=(
            Picture(
                name="components",
                says="Each source's share. Shares of the variance add up, those of the standard "
                "deviation do not.",
                svg=pictures["components"],
            ),
        ),
        remarks=tuple(sentence(each) for each in by_variance.remarks[1:]),
    )
    yield Section(
        heading="Every value",
        pictures=(
            Picture(
                name="parts-and-operators",
                says="The lines join each operator's averages. Lines side by side: an operator is "
                "off everywhere. Lines that cross: it depends on the part.",
                svg=pictures["parts-and-operators"],
            ),
        ),
    )
    yield Section(
        heading="By average and range",
        said=("The same from ranges: simple to check by hand.",),
        tables=(_components(by_range, unit),),
        pictures=(
            Picture(
                name="components-by-range",
                says="As above, from ranges.",
                svg=pictures["components-by-range"],
            ),
        ),
        remarks=tuple(sentence(each) for each in by_range.remarks),
    )


def method(result: CrossedResult) -> tuple[str, ...]:
    """How it was done, in words."""
    pooled = result.studies[0].pooled
    mixed = (
        "The interaction is pooled with repeatability here."
        if pooled
        else "The interaction is kept as a component of reproducibility here."
    )
    return (
        "Repeatability is what one operator scatters on one part, reproducibility what the "
        "operators differ by; measurement is both together. Analysis of variance with both "
        f"factors random. {mixed}",
        "Average and range takes repeatability from the mean range over d2, operators and parts "
        "from the ranges of their averages over d2*.",
        f"A share of the tolerance is {SPREAD:g} standard deviations over the width between the "
        "limits. Distinct categories are 1.41 times the parts' standard deviation over the "
        "measurement's, rounded down.",
        "In common practice a measurement under 10 % of the total standard deviation or of the "
        "tolerance is good, over 30 % not fit for its purpose. These are no decision rule: what "
        "is good enough is for whoever uses the values.",
    )


def _components(study: CrossedStudy, unit: str) -> TableView:
    columns = [Column(head="source", align="left"), Column(head=headed("standard deviation", unit))]
    columns += [Column(head="% of total sd"), Column(head="% of variance")]
    if study.tolerance is not None:
        columns.append(Column(head="% of tolerance"))
    rows = []
    for each in study.components:
        cells = ["\u2003" * _INSET.get(each.name, 0) + each.name, figure(each.sd)]
        cells += [percent(each.of_sd, 2), percent(each.of_variance, 2)]
        if study.tolerance is not None:
            cells.append(percent(each.of_tolerance, 2))
        rows.append(tuple(cells))
    loud = tuple(i for i, each in enumerate(study.components) if each.name == "measurement")
    return TableView(columns=tuple(columns), rows=tuple(rows), loud=loud)


def _variance(study: CrossedStudy) -> TableView:
    heads = ("sum of squares", "dof", "mean square", "F", "p")
    return TableView(
        columns=(Column(head="source", align="left"), *(Column(head=each) for each in heads)),
        rows=tuple(
            (
                row.source,
                figure(row.sum_of_squares, 6),
                str(row.dof),
                figure(row.mean_square, 6),
                "" if row.f is None else figure(row.f),
                "" if row.p is None else probability(row.p),
            )
            for row in study.table
        ),
    )
