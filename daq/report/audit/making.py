"""From the facts of an audit to the model of its report. Nothing is asked of a clock."""

from collections.abc import Iterator

from daq.report.audit import of_curves, of_findings, of_fleet
from daq.report.audit.facts import AuditFacts, SizeFacts
from daq.report.audit.model import AuditReport, Figure
from daq.report.audit.sizes import Most
from daq.report.audit.words import beyond, count, counted, day

CAUTIONS = (
    "A finding is a reason to look, not a verdict on a person. Each names what would explain it "
    "innocently; ask before you conclude.",
    "No finding does not show that a log is right: it shows that these rules found nothing in the "
    "rows that could be read.",
    "Figures are rounded for the eye. The evidence file has every finding, unrounded.",
)


def report_of(facts: AuditFacts, most: Most | None = None) -> AuditReport:
    """The report, with at most so much of everything; what is left out is counted and said."""
    most = most or Most()
    fleet, rules = facts.fleet, of_findings.worst_first(facts.rules)
    verdict, says = _verdict(facts)
    named = facts.sources[: most.sources]
    return AuditReport(
        title="Audit of calibration logs",
        on=f"{facts.on:%Y-%m-%d}",
        sources=tuple(named),
        sources_left_out=beyond(len(facts.sources) - len(named), "file"),
        verdict=verdict,
        verdict_says=tuple(says),
        sizes=tuple(_sizes(facts.size)),
        severities=tuple(of_findings.severity_lines(facts.rules)),
        bars=tuple(of_findings.bars(facts.rules)),
        rules=tuple(of_findings.rule_report(each, facts.rate, most) for each in rules),
        quiet=tuple(of_findings.quiet(facts.rules)),
        not_run=tuple(of_findings.not_run(facts)),
        rejected=of_findings.rejected(facts.rejected, most),
        edited=tuple(facts.edited[: most.edited]),
        edited_left_out=beyond(len(facts.edited) - most.edited, "such place"),
        notes=tuple(facts.notes),
        horizon=of_fleet.horizon(fleet.due, facts.on, most),
        drift=of_fleet.drift(fleet.drift, facts.on, most),
        curves=of_curves.curves(fleet, most),
        reliability=of_fleet.reliability(fleet.reliability, most),
        sites=of_fleet.sites(fleet.sites, most),
        missing=tuple(_missing(facts)),
        method=tuple(_method(facts)),
        cautions=CAUTIONS,
    )


def _verdict(facts: AuditFacts) -> tuple[str, list[str]]:
    """What came of it, and what to know before anything else."""
    found = sum(each.count for each in facts.rules)
    word = counted(found, "finding") if found else "Nothing found"
    says = [f"{counted(len(facts.rules), 'rule')} run"]
    if facts.edited:
        says.append(f"{counted(len(facts.edited), 'place')} edited after the export")
    if facts.not_run:
        says.append(f"{counted(len(facts.not_run), 'rule')} not run: what they look for is open")
    if facts.rejected.count:
        says.append(f"{counted(facts.rejected.count, 'row')} rejected")
    if facts.rejected.lost:
        says.append(f"{counted(len(facts.rejected.lost), 'file')} unreadable")
    return word, says


def _sizes(size: SizeFacts) -> Iterator[Figure]:
    yield Figure(name="sites", value=count(size.sites))
    yield Figure(name="gauges", value=count(size.gauges))
    yield Figure(name="calibrations", value=count(size.calibrations))
    yield Figure(name="points of them", value=count(size.points))
    yield Figure(name="captures", value=count(size.captures))
    if size.first_us is not None:
        period = f"{day(size.first_us)} to {day(size.last_us)}"
        yield Figure(name="period", value=period)


def _missing(facts: AuditFacts) -> Iterator[str]:
    """Parts of the overview that there are not."""
    fleet = facts.fleet
    if fleet.due is None or not fleet.due.due_us.size:
        yield "Due dates: the log has no gauges with a due date or an interval."
    if fleet.drift is None:
        yield "Drift: no gauge has three calibrations or more without an adjustment between."
    if not any(each.calibrations for each in fleet.reliability):
        yield "Reliability of intervals: no limits of the gauges are known, or nothing as found."
    if not fleet.sites:
        yield "Sites: neither gauges nor points of the log name one."


def _method(facts: AuditFacts) -> Iterator[str]:
    rules = counted(len(facts.rules), "rule")
    by = f" by {facts.engine}" if facts.engine else ""
    yield f"{rules} run{by}. What is due or past is so on {facts.on:%Y-%m-%d}; days are UTC."
    if facts.rate is not None and any(each.strength == "p" for each in facts.rules):
        yield (
            "Rules that tell by chance take many looks. For each such rule the false "
            f"discovery rate is held at {facts.rate:g}: of the findings it tells, at most that "
            "share is expected to be false (Y. Benjamini and Y. Hochberg, J. R. Statist. Soc. B "
            "57 (1995) 289)."
        )
    if facts.fleet.reliability:
        yield (
            "Shares within limits have the exact interval of 95 % after C. J. Clopper and E. S. "
            "Pearson, Biometrika 26 (1934) 404."
        )
