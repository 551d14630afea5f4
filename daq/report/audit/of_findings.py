"""The report's parts that tell what was found, what was not looked for, and what was not read."""

from collections.abc import Iterator, Sequence

from daq.report.audit.facts import (
    AuditFacts,
    Excerpt,
    FindingFacts,
    RejectedFacts,
    RuleFacts,
)
from daq.report.audit.model import (
    SEVERITIES,
    ExcerptView,
    FindingLine,
    LostLine,
    ReasonLine,
    RejectedLine,
    RejectedReport,
    RuleBar,
    RuleLine,
    RuleReport,
    SeverityLine,
)
from daq.report.audit.sizes import Most
from daq.report.audit.words import beyond, chance, count, counted


def worst_first(rules: Sequence[RuleFacts]) -> list[RuleFacts]:
    """Rules with findings: by severity, then those with most findings, then by name."""
    found = [each for each in rules if each.count]
    return sorted(
        found, key=lambda each: (SEVERITIES.index(each.severity), -each.count, each.title)
    )


def severity_lines(rules: Sequence[RuleFacts]) -> Iterator[SeverityLine]:
    """How much there is of each severity, also of those that there is nothing of."""
    for severity in SEVERITIES:
        of = [each for each in rules if each.severity == severity and each.count]
        yield SeverityLine(
            severity=severity, shown=count(sum(each.count for each in of)), rules=len(of)
        )


def bars(rules: Sequence[RuleFacts]) -> Iterator[RuleBar]:
    """A bar for each rule with findings."""
    for each in worst_first(rules):
        yield RuleBar(
            title=each.title, severity=each.severity, findings=each.count, shown=count(each.count)
        )


def rule_report(rule: RuleFacts, rate: float | None, most: Most) -> RuleReport:
    """A rule with its worst findings."""
    shown = rule.findings[: most.findings]
    return RuleReport(
        rule=rule.rule,
        title=rule.title,
        severity=rule.severity,
        count=counted(rule.count, "finding"),
        strength=_strength(rule, rate),
        innocent=rule.innocent,
        action=rule.action,
        rests_on=rule.rests_on,
        parameters="; ".join(f"{name} {value}" for name, value in rule.parameters),
        findings=tuple(
            _line(each, place < most.excerpts, most) for place, each in enumerate(shown)
        ),
        left_out=beyond(rule.count - len(shown), "finding"),
    )


def _strength(rule: RuleFacts, rate: float | None) -> str:
    if rule.strength == "exact":
        return "Exact: what is told is in the rows, or follows from them."
    looks = "" if rule.tests is None else f" of {counted(rule.tests, 'test')}"
    held = (
        "; the false discovery rate was not controlled"
        if rate is None
        else f"; over all{looks} the false discovery rate is held at {rate:g} "
        "(Benjamini and Hochberg)"
    )
    return f"By chance: p is how often as much comes about by itself{held}."


def _line(finding: FindingFacts, with_rows: bool, most: Most) -> FindingLine:
    return FindingLine(
        said=finding.said,
        gauge=finding.gauge,
        site=finding.site,
        run=finding.run,
        rows=_numbers(finding.seq_lo, finding.seq_hi),
        place=_place(finding),
        chance="" if finding.p is None else chance(finding.p),
        excerpt=_excerpt(finding.excerpt, most) if with_rows and finding.excerpt else None,
    )


def _numbers(first: int | None, last: int | None) -> str:
    span = _span(first, last)
    return span and f"{'rows' if ' ' in span else 'row'} {span}"


def _span(first: int | None, last: int | None) -> str:
    if first is None:
        return ""
    return str(first) if last is None or last == first else f"{first} to {last}"


def _place(finding: FindingFacts) -> str:
    if not finding.file:
        return ""
    lines = _span(finding.line_lo, finding.line_hi)
    return f"{finding.file}: {lines}" if lines else finding.file


def _excerpt(excerpt: Excerpt, most: Most) -> ExcerptView:
    shown = excerpt.rows[: most.excerpt_rows]
    return ExcerptView(
        columns=excerpt.columns,
        rows=shown,
        left_out=beyond(excerpt.of - len(shown), "row"),
    )


def quiet(rules: Sequence[RuleFacts]) -> Iterator[RuleLine]:
    """The rules that were run and found nothing."""
    for each in sorted(rules, key=lambda each: each.title):
        if not each.count:
            yield RuleLine(rule=each.rule, title=each.title)


def not_run(facts: AuditFacts) -> Iterator[RuleLine]:
    """The rules that were not run."""
    for each in facts.not_run:
        yield RuleLine(rule=each.rule, title=each.title, why=each.why)


def rejected(facts: RejectedFacts, most: Most) -> RejectedReport | None:
    """What could not be read, counted; None if everything could."""
    if not (facts.count or facts.lost):
        return None
    reasons = sorted(facts.reasons, key=lambda each: (-each[3], each[:3]))
    rows = facts.rows[: most.rejected]
    said = f"{counted(facts.count, 'row')} could not be read, and {_is(facts.count)} in no figure."
    if facts.lost:
        files = counted(len(facts.lost), "file")
        said += f" {files} could not be read at all; how many rows were in them nobody can say."
    return RejectedReport(
        said=said,
        lost=tuple(LostLine(file=file, reason=why) for file, why in facts.lost),
        reasons=tuple(
            ReasonLine(file=file, column=column, reason=reason, rows=count(number))
            for file, column, reason, number in reasons[: most.reasons]
        ),
        reasons_left_out=beyond(len(reasons) - most.reasons, "reason"),
        rows=tuple(
            RejectedLine(
                place=f"{each.file}:{each.line}" if each.line else each.file,
                column=each.column,
                reason=each.reason,
                value=each.value,
            )
            for each in rows
        ),
        rows_left_out=beyond(facts.count - len(rows), "rejected row"),
    )


def _is(number: int) -> str:
    return "is" if number == 1 else "are"
