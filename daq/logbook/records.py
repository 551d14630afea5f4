"""What a logbook keeps: one model a kind and format, read for ever.

Changing a field is a new ``format`` with a model of its own; `MODELS` keeps every model ever
written, and ``tests/data`` holds a logbook of each. A record of a kind or format this program does
not know is kept and shown as an `UnknownRecord`; it is never dropped.
"""

import json
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Literal, Self

from pydantic import ValidationError, model_validator

from daq.logbook.calibration import (
    CalibrationBegun,
    CalibrationEnded,
    CalibrationGate,
    CalibrationPoint,
    CalibrationRecord,
    CalibrationResult,
)
from daq.logbook.canonical import CanonicalForm
from daq.logbook.capture import (
    READINGS_RECORDED,
    Capture,
    CapturedGauge,
    CapturedReading,
    CapturedSpec,
    CapturedVerdict,
)
from daq.logbook.fields import (
    StrictModel,
    Uid,
    UtcTime,
    Words,
    decimal_text,
    printable,
    time_text,
)
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
from daq.logbook.register import GaugeEntered, RegisterRecord, StandardEntered, StatusChanged
from daq.logbook.study import StudyBegun, StudyEnded, StudyPoint, StudyRecord

__all__ = [
    "MODELS",
    "READINGS_RECORDED",
    "CalibrationRecord",
    "Capture",
    "CapturedGauge",
    "CapturedReading",
    "CapturedSpec",
    "CapturedVerdict",
    "Cover",
    "JobRecord",
    "Note",
    "Record",
    "RegisterRecord",
    "StudyRecord",
    "UnknownRecord",
    "Written",
    "body_of",
    "record_from",
]


class Cover(StrictModel):
    """Record 1 of every logbook: which logbook this is."""

    kind: Literal["logbook"] = "logbook"
    format: Literal[1] = 1
    at: UtcTime
    """When the logbook was begun."""
    id: Uid
    """The logbook's own id; the hash before this record is taken over it."""


class Note(StrictModel):
    """Words put down beside the measurements, or a record taken back.

    A record is never changed; a note that takes it back stands after it, and both stay.
    """

    kind: Literal["note"] = "note"
    format: Literal[1] = 1
    uid: Uid
    at: UtcTime
    operator: Words
    purpose: Literal["remark", "withdrawal"]
    """``withdrawal`` takes back the record it is about."""
    about: Uid | None
    """The uid of the record it is about, or None."""
    text: Words

    @model_validator(mode="after")
    def _withdraws_something(self) -> Self:
        if self.purpose == "withdrawal" and self.about is None:
            raise ValueError("a withdrawal must say which record it takes back")
        return self


Written = Capture | Note | JobRecord | RegisterRecord | CalibrationRecord | StudyRecord
"""What may be appended to a logbook."""

Record = Cover | Written
"""What this program writes and reads."""

MODELS: dict[tuple[str, int], type[Record]] = {
    ("logbook", 1): Cover,
    ("capture", 1): Capture,
    ("note", 1): Note,
    ("job", 1): JobBegun,
    ("job calibration", 1): JobCalibration,
    ("job gauge", 1): JobGaugeUsed,
    ("job gate", 1): JobGate,
    ("job point", 1): JobPoint,
    ("job result", 1): JobResult,
    ("job exception", 1): JobException,
    ("job end", 1): JobEnded,
    ("standard", 1): StandardEntered,
    ("gauge", 1): GaugeEntered,
    ("status", 1): StatusChanged,
    ("calibration", 1): CalibrationBegun,
    ("calibration gate", 1): CalibrationGate,
    ("calibration point", 1): CalibrationPoint,
    ("calibration result", 1): CalibrationResult,
    ("calibration end", 1): CalibrationEnded,
    ("study", 1): StudyBegun,
    ("study point", 1): StudyPoint,
    ("study end", 1): StudyEnded,
}
"""The model of every kind and format ever written. Rows are added, never taken out."""


@dataclass(frozen=True, slots=True)
class UnknownRecord:
    """A record this program cannot read: of a newer kind or format, or no longer whole.

    ``kind``, ``format`` and ``at`` are what it says of itself, or None; ``why`` is what hinders.
    """

    kind: str | None
    format: int | None
    at: str | None
    body: str
    why: str


_BODY = CanonicalForm(
    {Decimal: decimal_text, datetime: time_text, date: date.isoformat}, as_object=StrictModel
)
"""What a record is in JSON mode, without making that first: half the work of keeping a record."""


def body_of(record: Record) -> bytes:
    """``record`` as it is stored and hashed: canonical JSON (RFC 8785), UTF-8."""
    return _BODY.of(record)


def canonical_form(said: StrictModel) -> bytes:
    """Anything made of the fields of records, in the same form."""
    return _BODY.of(said)


def record_from(body: str) -> Record | UnknownRecord:
    """The record in ``body``. Anything at all may stand there; nothing makes this raise."""
    try:
        said = json.loads(body)
    except (ValueError, RecursionError) as error:
        return UnknownRecord(None, None, None, body, f"it is not JSON: {error}")
    if not isinstance(said, dict):
        return UnknownRecord(None, None, None, body, "it is not a JSON object")
    kind, number, at = said.get("kind"), said.get("format"), said.get("at")
    kind = _words(kind)
    number = number if type(number) is int else None
    at = _words(at)
    if kind is None or number is None:
        return UnknownRecord(kind, number, at, body, "it does not say its kind and format")
    model = MODELS.get((kind, number))
    if model is None:
        why = f"this restpoint knows no {kind!r} of format {number}; a newer one wrote it"
        return UnknownRecord(kind, number, at, body, why)
    try:
        return model.model_validate_json(body)
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        where = ".".join(map(str, first["loc"])) or kind
        why = f"it does not read as {kind!r} of format {number}: {where}: {first['msg']}"
        return UnknownRecord(kind, number, at, body, why)


def _words(value: object) -> str | None:
    return printable(value) if isinstance(value, str) else None
