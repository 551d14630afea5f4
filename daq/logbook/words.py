"""A record on one line, for somebody reading a logbook."""

from daq.logbook.fields import decimal_text, time_text
from daq.logbook.job import (
    JobBegun,
    JobEnded,
    JobException,
    JobGate,
    JobPoint,
    JobRecord,
    JobResult,
)
from daq.logbook.records import Capture, Cover, Note, Record, UnknownRecord


def record_words(record: Record | UnknownRecord) -> str:
    """What a record says, on one line."""
    match record:
        case Cover():
            return f"{time_text(record.at)}  logbook {record.id} begun"
        case Note():
            about = f" (about {record.about})" if record.about else ""
            who = record.operator or "nobody named"
            return f"{time_text(record.at)}  {record.purpose} by {who}{about}: {record.text}"
        case Capture():
            return f"{time_text(record.at)}  {_capture_words(record)}"
        case UnknownRecord():
            return f"{record.at or 'no time'}  {record.kind or 'record'} not readable: {record.why}"
        case _:
            return f"{time_text(record.at)}  {_job_words(record)}"


def _job_words(record: JobRecord) -> str:
    match record:
        case JobBegun():
            what = f"job begun on {record.engine} by {record.operator}: {record.sheet_title}"
            return f"{what}, revision {record.sheet_revision}, {record.variant}"
        case JobGate():
            return f"{_place(record.step, record.target)}: {record.gate} confirmed: {record.asked}"
        case JobPoint():
            on = f"master {record.master}" if record.master else f"{record.phase} {record.position}"
            return f"{_place(record.step, record.target)}: {on.rstrip()}: capture {record.capture}"
        case JobResult():
            value = f"{decimal_text(record.value)} {record.unit}, u = {decimal_text(record.u)}"
            on = f"master {record.master}" if record.master else record.phase or ""
            verdict = f"  {record.verdict.outcome}" if record.verdict else ""
            return f"{_place(record.step, record.target)} {on}: {value}{verdict}"
        case JobException():
            what = f"{record.what} by {record.by}: {record.reason}"
            return f"{_place(record.step, record.target)}: {what}"
        case JobEnded():
            return f"job {record.how}" + (f": {record.reason}" if record.reason else "")


def _place(step: str, target: str) -> str:
    return ", ".join(part for part in (step, target) if part) or "job"


def _capture_words(record: Capture) -> str:
    parts = [f"{record.gauge.label}: {decimal_text(record.value_mm)} mm"]
    if record.spec is not None and record.deviation_mm is not None:
        parts.insert(0, record.spec.name)
        parts.append(f"{record.deviation_mm:+f} mm off")
    parts.append(f"u = {decimal_text(record.u_mm)} mm, n = {record.n}")
    if not record.rest_seen:
        parts.append("one reading, rest not seen")
    if record.verdict is not None:
        parts.append(record.verdict.outcome)
    return "  ".join(parts)
