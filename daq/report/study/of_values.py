"""The report's parts of studies of bias, of levels, and of reliability."""

from collections.abc import Iterator

from daq.calibration.study.bias import Estimate, Line
from daq.calibration.study.levels import LevelsStudy
from daq.calibration.study.outcomes import BiasResult, LevelsResult, ReliabilityResult
from daq.report.study.amounts import amount, figure, headed, percent, probability, sentence
from daq.report.study.model import Column, KeyFigure, Picture, Section, TableView

BIAS_REFERENCES = (
    "JCGM 200:2012 (VIM), 2.18: measurement bias. JCGM 100:2008 (GUM), H.3: the line.",
    "NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.2 (t test), 4.4.4.6 (lack of fit).",
)
LEVELS_REFERENCES = (
    "NIST/SEMATECH e-Handbook of Statistical Methods, 2.4 and 2.6.1: gauge studies.",
)
RELIABILITY_REFERENCES = (
    "C. J. Clopper and E. S. Pearson, Biometrika 26 (1934) 404: exact interval.",
)


def bias_what(result: BiasResult) -> str:
    """How large the study is, in one line."""
    study = result.study
    return f"{len(study.values)} values at {len(study.at)} references"


def bias_figures(result: BiasResult) -> tuple[KeyFigure, ...]:
    """The bias over all, and the slope."""
    study, unit = result.study, result.table.unit
    figures = [_tested("bias over all", study.overall, unit)]
    if study.line is not None:
        figures.append(_tested("slope", study.line.slope, ""))
    return tuple(figures)


def _tested(name: str, of: Estimate, unit: str) -> KeyFigure:
    told = "stands out from 0" if of.stands_out else "not told from 0"
    return KeyFigure(name=name, value=amount(of.value, unit), practice=f"{told}, {_between(of)}")


def _between(of: Estimate) -> str:
    share = f"{100 * of.confidence:g} %"
    return f"{share} interval {figure(of.low)} to {figure(of.high)}"


def bias_sections(result: BiasResult) -> Iterator[Section]:
    """The bias at each reference, then the line."""
    study, unit = result.study, result.table.unit
    heads = ("n", headed("bias", unit), headed("sd", unit), "p", "interval")
    rows = []
    for at in study.at:
        of = at.estimate
        tail = ("", "", "") if of is None else (figure(at.sd or 0.0), probability(of.p), _ends(of))
        rows.append((f"{at.reference:g}", str(at.n), figure(at.bias), *tail))
    over = study.overall
    whole = ("all", str(len(study.values)), figure(over.value), "")
    rows.append((*whole, probability(over.p), _ends(over)))
    share = f"interval, {100 * over.confidence:g} %"
    columns = (headed("reference", unit), *heads[:-1], share)
    yield Section(
        heading="Bias at each reference",
        tables=(
            TableView(
                columns=tuple(Column(head=each) for each in columns),
                rows=tuple(rows),
                loud=(len(rows) - 1,),
            ),
        ),
        pictures=(
            Picture(
                name="bias",
                says="Value less reference. The band is for the line, not for a single value.",
                svg=result.pictures()["bias"],
            ),
        ),
        remarks=tuple(sentence(each) for each in study.remarks),
    )
    if study.line is not None:
        yield _line(study.line, unit)


def _ends(of: Estimate) -> str:
    return f"{figure(of.low)} to {figure(of.high)}"


def _line(line: Line, unit: str) -> Section:
    rows = tuple(
        (
            name,
            figure(of.value),
            figure(of.u),
            "–" if of.t is None else figure(of.t),
            probability(of.p),
        )
        for name, of in (
            ("slope", line.slope),
            (f"bias at the centre, {line.centre:g}", line.at_centre),
            ("bias at reference 0", line.at_zero),
        )
    )
    said = [
        f"Residual standard deviation {amount(line.residual_sd, unit)}, {line.dof} degrees of "
        "freedom."
    ]
    if line.lack_of_fit is not None:
        lack = line.lack_of_fit
        said.append(
            f"Lack of fit: F({lack.dof_1}, {lack.dof_2}) = {lack.f:.4g}, p {probability(lack.p)}."
        )
    columns = (
        Column(head="of the line", align="left"),
        *(Column(head=h) for h in ("value", "u", "t", "p")),
    )
    return Section(
        heading="Linearity",
        said=tuple(said),
        tables=(TableView(columns=columns, rows=rows),),
    )


def bias_method() -> tuple[str, ...]:
    """How it was done, in words."""
    return (
        "The bias is value less reference. Its mean has a t test and an interval at each reference "
        "and over all; the line is fitted by least squares to all values. At the mean reference, "
        "its centre, level and slope are not correlated.",
        "A bias that stands out need not matter; one that does not may hide behind too few values: "
        "look at the interval. The references count as exact here.",
    )


def levels_what(result: LevelsResult) -> str:
    """How large the study is, in one line."""
    study = result.study
    return f"{len(result.table.rows)} lines, {len(study.repeatability_by_run)} runs"


def levels_figures(result: LevelsResult) -> tuple[KeyFigure, ...]:
    """The levels and what they come to."""
    study, unit = result.study, result.table.unit
    rows = [
        ("repeatability, level 1", study.repeatability),
        ("day to day, level 2", study.day_to_day),
    ]
    if study.run_to_run is not None:
        rows.append(("run to run, level 3", study.run_to_run))
    figures = [
        KeyFigure(name=n, value=amount(of.sd, unit), practice=f"{of.dof} degrees of freedom")
        for n, of in rows
    ]
    total = amount(study.u_single, unit)
    figures.append(KeyFigure(name="one value, from all levels", value=total, practice=""))
    return tuple(figures)


def levels_sections(result: LevelsResult) -> Iterator[Section]:
    """The table of levels, with each run and part, and the picture."""
    study, unit = result.study, result.table.unit
    yield Section(
        heading="Standard deviations by level",
        tables=(_levels(study, unit),),
        pictures=(
            Picture(
                name="levels",
                says="Each source by itself, and all of them in one value.",
                svg=result.pictures()["levels"],
            ),
        ),
        remarks=tuple(sentence(each) for each in study.remarks),
    )


def _levels(study: LevelsStudy, unit: str) -> TableView:
    rows = [("repeatability (level 1)", study.repeatability)]
    rows += [(f"\u2003run {each.run}", each) for each in study.repeatability_by_run]
    rows.append(("day to day (level 2)", study.day_to_day))
    rows += [(f"\u2003run {each.run}", each) for each in study.day_to_day_by_run]
    if study.run_to_run is not None:
        rows.append(("run to run (level 3)", study.run_to_run))
        rows += [(f"\u2003part {each.part}", each) for each in study.run_to_run_by_part]
    cells = [(name, figure(of.sd), str(of.dof)) for name, of in rows]
    cells.append(("days alone", figure(study.s_day), ""))
    if study.s_run is not None:
        cells.append(("runs alone", figure(study.s_run), ""))
    cells.append(("one value, from all levels", figure(study.u_single), ""))
    heads = (Column(head="", align="left"), Column(head=headed("sd", unit)), Column(head="dof"))
    return TableView(columns=heads, rows=tuple(cells), loud=(len(cells) - 1,))


def levels_method() -> tuple[str, ...]:
    """How it was done, in words."""
    return (
        "Level 1 is pooled from the scatter within each day, level 2 from the scatter of a run's "
        "daily means, level 3 from the scatter of a part's means of runs.",
        "Freed of the level below, with J values a day and K days a run: s²(days) = s2² − s1²/J, "
        "s²(runs) = s3² − s2²/K. One value: u² = s1² + s²(days) + s²(runs).",
    )


def reliability_what(result: ReliabilityResult) -> str:
    """How large the study is, in one line."""
    return f"{result.seen.trials} calibrations"


def reliability_figures(result: ReliabilityResult) -> tuple[KeyFigure, ...]:
    """The share and its interval."""
    seen = result.seen
    interval = f"{percent(seen.low, 2)} % to {percent(seen.high, 2)} %"
    return (
        KeyFigure(
            name="found within their errors",
            value=f"{percent(seen.observed)} %",
            practice=f"{seen.successes} of {seen.trials}",
        ),
        KeyFigure(name=f"exact {100 * seen.confidence:g} % interval", value=interval, practice=""),
    )


def reliability_method() -> tuple[str, ...]:
    """How it was done, in words."""
    return (
        "The interval is exact: it holds the true share at least as often as it says. Found within "
        "but near the permissible error counts as within.",
    )
