"""What the report of an audit says, whole: the HTML is made from this and nothing else.

Figures for the eye are text, already rounded. Figures that a chart is drawn from are millimetres,
years or shares, as floats; each stands as text beside it, or in the chart itself.
"""

from typing import Literal

from daq.logbook.fields import StrictModel, Words

Severity = Literal["high", "medium", "low"]
SEVERITIES: tuple[Severity, ...] = ("high", "medium", "low")


class Figure(StrictModel):
    """A figure with its name."""

    name: Words
    value: Words


class SeverityLine(StrictModel):
    """How much was found of one severity."""

    severity: Severity
    shown: Words
    """How many findings."""
    rules: int


class RuleBar(StrictModel):
    """A rule and how many findings it has."""

    title: Words
    severity: Severity
    findings: int
    shown: Words


class ExcerptView(StrictModel):
    """Rows of the log, and how many more the finding cites."""

    columns: tuple[Words, ...]
    rows: tuple[tuple[Words, ...], ...]
    left_out: Words


class FindingLine(StrictModel):
    """One finding."""

    said: Words
    gauge: Words
    site: Words
    run: Words
    rows: Words
    """Sequence numbers."""
    place: Words
    """File and line, or empty where that is not known."""
    chance: Words
    """Empty for a fact."""
    excerpt: ExcerptView | None


class RuleReport(StrictModel):
    """A rule with findings."""

    rule: Words
    title: Words
    severity: Severity
    count: Words
    strength: Words
    """How sure a finding is, a sentence."""
    innocent: Words
    action: Words
    rests_on: Words
    parameters: Words
    findings: tuple[FindingLine, ...]
    left_out: Words
    """How many more there are; empty if none."""


class RuleLine(StrictModel):
    """A rule that found nothing, or was not run."""

    rule: Words
    title: Words
    why: Words = ""


class ReasonLine(StrictModel):
    """Why rows of a file were rejected."""

    file: Words
    column: Words
    reason: Words
    rows: Words


class RejectedLine(StrictModel):
    """A rejected row."""

    place: Words
    column: Words
    reason: Words
    value: Words


class LostLine(StrictModel):
    """A file that nothing could be read of."""

    file: Words
    reason: Words


class RejectedReport(StrictModel):
    """What could not be read."""

    said: Words
    lost: tuple[LostLine, ...]
    reasons: tuple[ReasonLine, ...]
    reasons_left_out: Words
    rows: tuple[RejectedLine, ...]
    rows_left_out: Words


class MonthBar(StrictModel):
    """How many gauges come due in a month."""

    month: Words
    year: Words
    """Where it is the first of a year, or of the chart."""
    gauges: int
    shown: Words


class Horizon(StrictModel):
    """When the gauges come due, from the month of the audit on."""

    said: Words
    overdue: MonthBar
    months: tuple[MonthBar, ...]
    later: MonthBar
    no_date: Words


class DriftLine(StrictModel):
    """The drift of one gauge, in millimetres a year, with its interval."""

    gauge: Words
    calibrations: Words
    slope: float
    low: float
    high: float
    shown: Words
    interval: Words
    limit: Words
    leaves: Words
    is_clear: bool
    """Whether the interval leaves 0 out."""


class DriftReport(StrictModel):
    """The drift of those gauges that drift worst."""

    said: tuple[Words, ...]
    lines: tuple[DriftLine, ...]
    left_out: Words


class Curve(StrictModel):
    """The error curve of one run: mean error at each length, in millimetres."""

    day: Words
    run: Words
    found: Words
    year: float
    """When, in years as a decimal."""
    travel: tuple[float, ...]
    errors: tuple[float, ...]
    low: float
    high: float
    """The least and the largest single error."""
    worst: Words


class GaugeView(StrictModel):
    """The error curves of one gauge over the years, oldest first."""

    gauge: Words
    site: Words
    findings: Words
    limit: float | None
    limit_shown: Words
    curves: tuple[Curve, ...]
    left_out: Words


class CurvesReport(StrictModel):
    """The error curves of gauges with findings."""

    gauges: tuple[GaugeView, ...]
    left_out: Words


class ReliabilityLine(StrictModel):
    """The share of calibrations that found a gauge within its limits, with its interval."""

    kind: Words
    interval: Words
    share: float
    low: float
    high: float
    counted: Words
    shown: Words


class ReliabilityReport(StrictModel):
    """How often gauges are still within their limits at the end of their interval."""

    lines: tuple[ReliabilityLine, ...]
    left_out: Words


class SiteLine(StrictModel):
    """A site and what was found there."""

    site: Words
    gauges: Words
    calibrations: Words
    captures: Words
    high: int
    medium: int
    low: int
    findings: Words


class SitesReport(StrictModel):
    """Findings by site, most first."""

    lines: tuple[SiteLine, ...]
    left_out: Words


class AuditReport(StrictModel):
    """A whole report. What the log has not what it takes for is None."""

    title: Words
    on: Words
    sources: tuple[Words, ...]
    sources_left_out: Words
    verdict: Words
    verdict_says: tuple[Words, ...]
    sizes: tuple[Figure, ...]
    severities: tuple[SeverityLine, ...]
    bars: tuple[RuleBar, ...]
    rules: tuple[RuleReport, ...]
    quiet: tuple[RuleLine, ...]
    not_run: tuple[RuleLine, ...]
    rejected: RejectedReport | None
    edited: tuple[Words, ...]
    """Where the chain of an export does not hold."""
    edited_left_out: Words
    notes: tuple[Words, ...]
    horizon: Horizon | None
    drift: DriftReport | None
    curves: CurvesReport | None
    reliability: ReliabilityReport | None
    sites: SitesReport | None
    missing: tuple[Words, ...]
    """Parts of the overview that there are not, and why."""
    method: tuple[Words, ...]
    cautions: tuple[Words, ...]
