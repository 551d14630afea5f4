"""From what an audit came to, to the facts of its report."""

import re
from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Any

from daq.report.audit import from_rows
from daq.report.audit.facts import (
    AuditFacts,
    Excerpt,
    FindingFacts,
    FleetFacts,
    GaugeCurves,
    NotRunFacts,
    RejectedFacts,
    RejectedRow,
    RuleFacts,
    SizeFacts,
)
from daq.report.audit.from_tables import Answers, Homes, drift_of, due_of, reliability_of, sites_of
from daq.report.audit.model import SEVERITIES
from daq.report.audit.sizes import Most

if TYPE_CHECKING:
    from daq.audit.engine import Audit, Evidence
    from daq.audit.intake import LogSource
    from daq.audit.intake.rejects import Rejects
    from daq.audit.rules import Rule

Given = Mapping[str, Mapping[str, float]]


@dataclass(frozen=True, slots=True)
class Audited:
    """An audit and what it was an audit of.

    ``rules``: those that were asked for, run or not; ``answers``: what the engine answered to
    `daq.report.audit.asks.ASKS`; ``on``: the day it is for; ``names``: what was read, in words;
    ``given``: parameters other than the defaults, by rule; ``edited``: where the chain of an export
    does not hold.
    """

    audit: "Audit"
    source: "LogSource"
    rules: "Sequence[Rule]"
    answers: Answers
    on: date
    names: Sequence[str]
    given: Given
    edited: Sequence[str] = ()
    engine: str = "DuckDB"


def facts_of(audited: Audited, most: Most | None = None) -> AuditFacts:
    """The facts of the report; rows of the log are read for as many findings as it shows."""
    most = most or Most()
    audit, source, answers = audited.audit, audited.source, audited.answers
    homes = Homes.of(answers["gauges"], source)
    return AuditFacts(
        on=audited.on,
        sources=tuple(audited.names),
        size=_size(audited, homes),
        rules=_rules(audited, homes, most),
        not_run=_not_run(audited),
        rejected=_rejected(source.rejects),
        fleet=FleetFacts(
            due=due_of(answers["gauges"]),
            drift=drift_of(answers["drift"], homes),
            curves=_curves(audited, homes, most),
            gauges_with_findings=len({each.gauge for each in audit.findings if each.gauge}),
            reliability=reliability_of(answers["reliability"]),
            sites=sites_of(homes, audit.findings),
        ),
        rate=audit.rate,
        edited=tuple(audited.edited),
        notes=tuple(source.notes),
        engine=audited.engine,
    )


def _size(audited: Audited, homes: Homes) -> SizeFacts:
    sizes = {name: int(values[0]) for name, values in audited.answers["sizes"].items()}
    rows = audited.audit.rows
    return SizeFacts(
        sites=sizes["sites"],
        gauges=len(homes.gauges),
        calibrations=sizes["calibrations"],
        points=rows.get("points", 0),
        captures=rows.get("captures", 0),
        first_us=sizes["first_us"],
        last_us=sizes["last_us"],
    )


def _rules(audited: Audited, homes: Homes, most: Most) -> list[RuleFacts]:
    found: dict[str, list[Evidence]] = defaultdict(list)
    for each in audited.audit.findings:
        found[each.rule].append(each)
    ran = {each.rule: each for each in audited.audit.ran}
    rules = [each for each in audited.rules if each.id in ran]
    shown = {each.id: sorted(found[each.id], key=_worst)[: most.findings] for each in rules}
    cited = [each for rule in rules for each in shown[rule.id][: most.excerpts]]
    excerpts = from_rows.excerpts_of(audited.source, cited, most.excerpt_rows)
    rows = {id(each): excerpts.get(place) for place, each in enumerate(cited)}
    told = [each for rule in rules for each in shown[rule.id]]
    places = dict(zip(map(id, told), from_rows.places_of(audited.source, told), strict=True))
    made = []
    for rule in rules:
        findings = [
            _finding(each, homes, places[id(each)], rows.get(id(each))) for each in shown[rule.id]
        ]
        about = ran[rule.id]
        made.append(_rule(rule, audited.given, findings, about.findings, about.tests))
    return made


def _worst(found: "Evidence") -> tuple[float, float, str, int]:
    """The least likely first, then the largest."""
    p = 0.0 if found.p is None else found.p
    return p, -abs(found.score), found.gauge, found.seq_lo or 0


def _finding(
    found: "Evidence", homes: Homes, place: from_rows.Place, excerpt: Excerpt | None
) -> FindingFacts:
    file, first, last = place
    return FindingFacts(
        said=found.words,
        gauge=found.gauge,
        site=homes.site_of(found),
        run=found.run,
        seq_lo=found.seq_lo,
        seq_hi=found.seq_hi,
        p=found.p,
        file=file,
        line_lo=first,
        line_hi=last,
        excerpt=excerpt,
    )


def _rule(
    rule: "Rule",
    given: Given,
    findings: Sequence[FindingFacts],
    count: int,
    tests: int | None,
) -> RuleFacts:
    values = given.get(rule.id, {})
    return RuleFacts(
        rule=rule.id,
        title=rule.rule.title,
        severity=rule.rule.severity,
        rests_on=rule.rule.rests_on,
        innocent=general(rule.rule.innocent),
        action=general(rule.rule.action),
        strength=rule.strength,
        count=count,
        findings=findings,
        tests=tests,
        parameters=tuple(
            (name, f"{values.get(name, each.default):g} {each.unit}".strip())
            for name, each in rule.parameters.items()
        ),
    )


def general(words: str) -> str:
    """A sentence of a rule that is told of all its findings: ``{gauge}`` becomes ``GAUGE``."""
    return re.sub(r"\{([a-z_]+)[^}]*\}", lambda found: found[1].upper(), words)


def _not_run(audited: Audited) -> list[NotRunFacts]:
    titles = {each.id: each.rule.title for each in audited.rules}
    return [
        NotRunFacts(each.rule, titles.get(each.rule, each.rule), each.why)
        for each in audited.audit.not_run
    ]


def _rejected(rejects: "Rejects") -> RejectedFacts:
    return RejectedFacts(
        count=rejects.count,
        lost=[(each.file, each.reason) for each in rejects.lost_files],
        reasons=[
            (file, column, reason, rows)
            for (file, column, reason), rows in rejects.by_reason.items()
        ],
        rows=[RejectedRow(*each) for each in rejects.kept],
    )


def _curves(audited: Audited, homes: Homes, most: Most) -> list[GaugeCurves]:
    """The error curves of the gauges with most findings, the severest counting first."""
    counts: dict[str, Counter[Any]] = defaultdict(Counter)
    for each in audited.audit.findings:
        if each.gauge:
            counts[each.gauge][each.severity] += 1
    worst = sorted(
        counts, key=lambda gauge: (*(-counts[gauge][word] for word in SEVERITIES), gauge)
    )[: most.gauges]
    limits = homes.limits(audited.source)
    return [
        GaugeCurves(
            gauge=gauge,
            site=homes.home.get(gauge, ""),
            limit_nm=limits.get(gauge),
            findings=counts[gauge].total(),
            runs=runs,
        )
        for gauge, runs in _in_order(worst, from_rows.curves_of(audited.source, worst))
    ]


def _in_order(names: Sequence[str], found: Mapping[str, Any]) -> list[tuple[str, Any]]:
    return [(each, found[each]) for each in names if each in found]
