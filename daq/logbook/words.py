"""A record on one line, for somebody reading a logbook."""

from daq.logbook.calibration import (
    CalibrationBegun,
    CalibrationEnded,
    CalibrationGate,
    CalibrationPoint,
    CalibrationRecord,
    CalibrationResult,
)
from daq.logbook.fields import decimal_text, time_text
from daq.logbook.job import (
    JobBegun,
    JobCalibration,
    JobEnded,
    JobException,
    JobGate,
    JobGaugeUsed,
    JobPoint,
    JobRecord,
    JobResult,
)
from daq.logbook.records import Capture, Cover, Note, Record, UnknownRecord
from daq.logbook.register import GaugeEntered, RegisterRecord, StandardEntered, StatusChanged
from daq.logbook.study import StudyBegun, StudyEnded, StudyPoint, StudyRecord


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
        case StandardEntered() | GaugeEntered() | StatusChanged():
            return f"{time_text(record.at)}  {_register_words(record)}"
        case (
            CalibrationBegun()
            | CalibrationGate()
            | CalibrationPoint()
            | CalibrationResult()
            | CalibrationEnded()
        ):
            return f"{time_text(record.at)}  {_calibration_words(record)}"
        case StudyBegun() | StudyPoint() | StudyEnded():
            return f"{time_text(record.at)}  {_study_words(record)}"
        case _:
            return f"{time_text(record.at)}  {_job_words(record)}"


def _register_words(record: RegisterRecord) -> str:
    match record:
        case StandardEntered():
            return (
                f"standard {record.id} entered by {record.operator}: {record.what}, "
                f"{record.certificate}, due {record.due}"
            )
        case GaugeEntered():
            return (
                f"gauge {record.label} entered by {record.operator}: {record.is_a}, "
                f"{decimal_text(record.range_mm)} mm by {decimal_text(record.step_mm)} mm"
            )
        case StatusChanged():
            return f"{record.about} {record.name} {record.what} by {record.by}: {record.reason}"


def _calibration_words(record: CalibrationRecord) -> str:
    match record:
        case CalibrationBegun():
            return (
                f"calibration of {record.gauge_label} begun by {record.operator}: "
                f"{record.plan_name}"
            )
        case CalibrationGate():
            said = f": {record.said}" if record.said else ""
            warm = f" at {record.temperature_c} °C" if record.temperature_c is not None else ""
            return f"{record.run}: {record.gate} confirmed{warm}{said}"
        case CalibrationPoint():
            return (
                f"{record.run}, {record.series} {decimal_text(record.nominal_mm)} mm"
                f"{' once more' if record.is_return else ''}: reads "
                f"{decimal_text(record.reading_mm)} mm: capture {record.capture}"
            )
        case CalibrationResult():
            return f"{record.run}: {record.word}, {len(record.points)} points"
        case CalibrationEnded(how="complete"):
            due = f", due {record.due}" if record.due else ""
            return f"calibration complete: {record.certificate}, {record.as_left}{due}"
        case CalibrationEnded():
            return f"calibration broken off: {record.reason}"


def _study_words(record: StudyRecord) -> str:
    match record:
        case StudyBegun():
            return (
                f"study begun with {record.gauge_label} by {record.operator}: {record.title}, "
                f"{record.design}"
            )
        case StudyPoint():
            by = f" by {record.appraiser}" if record.appraiser else ""
            return (
                f"study, value {record.place}: part {record.part}, trial {record.trial}{by}: "
                f"{decimal_text(record.value_mm)} mm: capture {record.capture}"
            )
        case StudyEnded():
            return f"study {record.how}" + (f": {record.reason}" if record.reason else "")


def _job_words(record: JobRecord) -> str:
    match record:
        case JobBegun():
            what = f"job begun on {record.engine} by {record.operator}: {record.sheet_title}"
            return f"{what}, revision {record.sheet_revision}, {record.variant}"
        case JobCalibration():
            return f"gauge of {record.role!r}: {record.standing}: {record.words}"
        case JobGaugeUsed():
            what = f"gauge of {record.role!r} used though {record.standing}"
            return f"{what}, by {record.by}: {record.reason}"
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
