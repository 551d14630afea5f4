"""From where a job stands to the model of its report. Nothing is asked of a clock."""

from collections.abc import Iterator
from datetime import UTC, datetime, tzinfo
from typing import Any

from daq.jobs.standing import JobStanding
from daq.logbook.job import JobPoint, JobResult
from daq.report.amounts import COVERAGE_FACTOR
from daq.report.front import (
    doubts_in,
    exempted_in,
    not_passed_in,
    outcome_of,
    raised_in,
    to_do_in,
)
from daq.report.gauges import gauges_in, unfit_gauges_in
from daq.report.lines import CaptureLine, GateLine, Instant, NoteLine
from daq.report.log_facts import LogFacts
from daq.report.model import Heading, JobReport, Proof
from daq.report.of_step import step_view

CAUTIONS = (
    "The figures and limits are the workshop's own, from the sources named with each step. "
    "restpoint ships none and vouches for none.",
    "Nothing here replaces the maker's current figures, local codes, the site's rules, or the "
    "sign-off of a licensed person.",
    "A pass says that these lengths met these limits, by this rule, when they were measured. It "
    "does not say that the engine is fit to run.",
)
"""What every report says of itself."""


def report_of(job: JobStanding, facts: LogFacts, zone: tzinfo = UTC) -> JobReport:
    """The report of a job, however far it has come.

    The same records give the same report, whenever and wherever it is made.

    Args:
        job: where it stands; ``facts.standing`` gives it.
        facts: its records in their places in the logbook.
        zone: what local times are given in, beside UTC.
    """
    rule = job.sheet.rule
    steps = [step_view(each, facts, rule) for each in job.steps.values()]
    not_passed = (*not_passed_in(steps), *unfit_gauges_in(job))
    return JobReport(
        heading=_heading(job, facts, zone),
        outcome=outcome_of(job, steps, not_passed),
        not_passed=not_passed,
        exempted=tuple(exempted_in(job, facts)),
        doubts=tuple(doubts_in(steps, facts)),
        raised=tuple(raised_in(steps, facts)),
        to_do=tuple(to_do_in(steps)),
        gauges=tuple(gauges_in(job, facts)),
        steps=tuple(each.report(job.begun) for each in steps),
        gates=tuple(_gates(job, facts)),
        captures=tuple(_captures(facts)),
        notes=tuple(_notes(facts)),
        coverage_factor=COVERAGE_FACTOR,
        proof=Proof(
            logbook_id=facts.logbook_id,
            first_record=facts.first,
            last_record=facts.last,
            log_records=facts.records,
            last_hash=facts.last_hash,
            verify=f"restpoint log verify LOGBOOK --last-hash {facts.last_hash}",
        ),
        cautions=CAUTIONS,
    )


def _heading(job: JobStanding, facts: LogFacts, zone: tzinfo) -> Heading:
    begun, sheet = job.begun, job.sheet
    records = (begun, *facts.job_records)
    last = max(records, key=lambda each: facts.numbers[each.uid])
    return Heading(
        engine=begun.engine,
        job=begun.uid,
        sheet_title=begun.sheet_title,
        sheet_revision=begun.sheet_revision,
        sheet_sha256=begun.sheet_sha256,
        prepared_by=sheet.heading.prepared_by or "",
        sources=tuple(str(each) for each in sheet.sources),
        variant=begun.variant,
        plate=sheet.variant(begun.variant).plate,
        operators=tuple(dict.fromkeys(each.operator for each in records)),
        station=begun.station,
        begun=_instant(begun.at, zone),
        last=_instant(last.at, zone),
        ended=None if job.ended is None else _instant(job.ended.at, zone),
        rule=str(sheet.rule),
        rule_words=sheet.rule.in_words(),
    )


def _instant(at: datetime, zone: tzinfo) -> Instant:
    local = at.astimezone(zone)
    offset = f"{local:%z}"
    return Instant(utc=at, local=f"{local:%Y-%m-%d %H:%M:%S} (UTC{offset[:3]}:{offset[3:5]})")


def _gates(job: JobStanding, facts: LogFacts) -> Iterator[GateLine]:
    for each in job.gates:
        yield GateLine(
            record=facts.numbers[each.uid],
            gate=each.gate,
            step=each.step,
            target=each.target,
            asked=each.asked,
            asked_turns=each.asked_turns,
            part_c=each.part_c,
            gauge_c=each.gauge_c,
            operator=each.operator,
            at=each.at,
        )


def _captures(facts: LogFacts) -> Iterator[CaptureLine]:
    """Every capture in its place: those of points, then any that only a result names."""
    told: set[str] = set()
    for record in facts.job_records:
        if isinstance(record, JobPoint):
            told.add(record.capture)
            yield _capture(facts, record.capture, record, _position(record))
        elif isinstance(record, JobResult):
            for uid in record.captures:
                if uid not in told:
                    told.add(uid)
                    yield _capture(facts, uid, record, "")


def _position(point: JobPoint) -> str:
    angle = "" if point.angle_deg is None else f"{point.angle_deg:f}°"
    return ", ".join(each for each in (point.group, point.position, angle) if each)


def _capture(facts: LogFacts, uid: str, of: JobPoint | JobResult, position: str) -> CaptureLine:
    capture = facts.captures[uid]
    common: dict[str, Any] = {"step": of.step, "target": of.target, "position": position}
    return CaptureLine(
        number=facts.numbers[uid],
        purpose=of.phase or f"master {of.master}",
        gauge=capture.gauge.label,
        value_mm=capture.value_mm,
        u_mm=capture.u_mm,
        readings=capture.n,
        rest="at rest" if capture.rest_seen else "one reading, rest not seen",
        at=capture.at,
        **common,
    )


def _notes(facts: LogFacts) -> Iterator[NoteLine]:
    for number, note in facts.notes:
        assert note.about is not None  # notes about nothing are none of a job's
        yield NoteLine(
            record=number,
            about=facts.numbers[note.about],
            purpose=note.purpose,
            text=note.text,
            operator=note.operator,
            at=note.at,
        )
