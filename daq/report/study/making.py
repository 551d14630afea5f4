"""From a study's result to the model of its report. Nothing is asked of a clock."""

import dataclasses

from daq.calibration.study.analysis import Asked
from daq.calibration.study.outcomes import (
    BiasResult,
    CheckResult,
    CrossedResult,
    LevelsResult,
    Result,
    StabilityResult,
)
from daq.calibration.study.table import Table
from daq.report.study import of_charts, of_crossed, of_values
from daq.report.study.model import (
    Column,
    KeyFigure,
    Section,
    Source,
    StudyReport,
    TableView,
)

KINDS = {
    "crossed": "Study of repeatability and reproducibility",
    "bias": "Study of bias and linearity",
    "stability": "Study of stability",
    "levels": "Study of levels of variation",
    "check": "Study of a check standard",
    "reliability": "Study of reliability",
}
"""By kind of study: what the report is called."""

CAUTIONS = (
    "The study says how these values scatter and lie. Whether that is good enough is for whoever "
    "uses them; thresholds that are named are common practice, not a rule of this report.",
    "Figures in tables are rounded for the eye. The values stand at the end as they came.",
)

_Parts = tuple[str, tuple[KeyFigure, ...], tuple[Section, ...], tuple[str, ...], tuple[str, ...]]


def report_of(result: Result, asked: Asked, source: Source, *, title: str = "") -> StudyReport:
    """The report of a study.

    Args:
        result: what it came to.
        asked: how it was asked to be made.
        source: where the values are from.
        title: what it is headed with; without it, the name of the kind.
    """
    kind = KINDS[result.table.kind]
    what, figures, sections, method, references = _parts(result)
    return StudyReport(
        title=title or kind,
        kind=kind,
        what=what,
        figures=figures,
        has_two_ways=isinstance(result, CrossedResult),
        sections=sections,
        method=method,
        references=references,
        asked=tuple(_asked(asked)),
        data=_data(result.table),
        source=source,
        cautions=CAUTIONS,
    )


def _parts(result: Result) -> _Parts:
    """What the kind of study has of its own."""
    match result:
        case CrossedResult():
            of = of_crossed
            own = (of.method(result), of.REFERENCES)
            return of.what(result), of.key_figures(result), tuple(of.sections(result)), *own
        case StabilityResult():
            return (
                of_charts.stability_what(result),
                of_charts.stability_figures(result),
                tuple(of_charts.stability_sections(result)),
                of_charts.stability_method(result),
                of_charts.STABILITY_REFERENCES,
            )
        case CheckResult():
            return (
                of_charts.check_what(result),
                of_charts.check_figures(result),
                tuple(of_charts.check_sections(result)),
                of_charts.check_method(result),
                of_charts.CHECK_REFERENCES,
            )
        case BiasResult():
            return (
                of_values.bias_what(result),
                of_values.bias_figures(result),
                tuple(of_values.bias_sections(result)),
                of_values.bias_method(),
                of_values.BIAS_REFERENCES,
            )
        case LevelsResult():
            return (
                of_values.levels_what(result),
                of_values.levels_figures(result),
                tuple(of_values.levels_sections(result)),
                of_values.levels_method(),
                of_values.LEVELS_REFERENCES,
            )
    return (
        of_values.reliability_what(result),
        of_values.reliability_figures(result),
        (),
        of_values.reliability_method(),
        of_values.RELIABILITY_REFERENCES,
    )


def _asked(asked: Asked) -> list[tuple[str, str]]:
    """Every choice that is not the usual one, by the option's name."""
    usual = Asked()
    return [
        (each.name, str(getattr(asked, each.name)))
        for each in dataclasses.fields(Asked)
        if getattr(asked, each.name) != getattr(usual, each.name)
    ]


def _data(table: Table) -> TableView:
    """Every line of the table as it was written."""
    columns = tuple(
        Column(head=name, align="right" if name in ("value", "reference", "sd", "dof") else "left")
        for name in table.columns
    )
    rows = tuple(tuple(row.text[name] for name in table.columns) for row in table.rows)
    return TableView(columns=columns, rows=rows)
