"""What a logbook keeps: one model a kind and format, read for ever.

A record says what was measured, what it was judged by, and the bytes behind it, so that it can be
checked and judged again without any file of the day. Lengths are exact decimals in millimetres,
written as text (`daq.logbook.fields`).

Changing a field is a new ``format`` with a model of its own; `MODELS` keeps every model ever
written, and ``tests/data`` holds a logbook of each. A record of a kind or format this program does
not know is kept and shown as an `UnknownRecord`; it is never dropped.
"""

import json
from dataclasses import dataclass
from decimal import Decimal
from itertools import pairwise
from typing import Annotated, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, ValidationError, model_validator

from daq.logbook.canonical import canonical
from daq.logbook.fields import (
    ExactDecimal,
    FrameHex,
    Uid,
    UtcTime,
    Words,
    number_shown,
    printable,
)

MM_PER_INCH = Decimal("25.4")
"""Exact by definition of the international inch (1959 agreement; NIST SP 811, B.6)."""

_CLOSE_MM = Decimal("1e-9")
"""Float64 noise on a length in millimetres, and less than any gauge can show."""

_CLOSE_S = 1e-6

LengthUnit = Literal["mm", "in"]
Filled = Annotated[Words, Field(min_length=1)]


READINGS_RECORDED = 500
"""Readings and frames that a capture keeps, the newest; a fast probe's span may hold more.

Part of capture format 1, and checked when one is read: another number needs another format.
"""


class _Strict(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", strict=True, allow_inf_nan=False)


class Cover(_Strict):
    """Record 1 of every logbook: which logbook this is."""

    kind: Literal["logbook"] = "logbook"
    format: Literal[1] = 1
    at: UtcTime
    """When the logbook was begun."""
    id: Uid
    """The logbook's own id; the hash before this record is taken over it."""


class CapturedGauge(_Strict):
    """Which gauge it was. The label and the identity say so; the port is only a hint."""

    label: Words
    """What is written on the gauge: asset tag or serial number, as configured."""
    profile: Filled
    """The gauge profile the frames were read by."""
    identity: Words
    """The adapter's own stable identity, or empty if it has none."""
    port: Words


class CapturedSpec(_Strict):
    """What the length should be. Limits are deviations from nominal, signed as drawings do."""

    name: Filled
    nominal_mm: ExactDecimal
    lower_mm: ExactDecimal | None
    upper_mm: ExactDecimal | None
    """One of them may be None: a limit on one side only."""
    unit: LengthUnit
    """The unit the spec was written in."""
    source: Words
    """Where the figures come from: document, revision, page."""

    @model_validator(mode="after")
    def _limits_in_order(self) -> Self:
        if self.lower_mm is None and self.upper_mm is None:
            raise ValueError("there is no limit at all; give the lower one, the upper one or both")
        if self.lower_mm is None or self.upper_mm is None:
            return self
        if not self.lower_mm < self.upper_mm:
            raise ValueError(
                f"lower_mm ({self.lower_mm}) must be below upper_mm ({self.upper_mm}); both are "
                "deviations from nominal"
            )
        return self


class CapturedVerdict(_Strict):
    """Whether the length meets the spec, and by which decision rule."""

    outcome: Literal["in", "low", "high", "too close to call"]
    rule: Filled
    """The rule by name, such as ``simple acceptance``."""
    guard_mm: ExactDecimal | None
    """How far inside the limits a value must lie to be accepted; None if no value can be."""


class CapturedReading(_Strict):
    """One reading behind the value, as the gauge sent it."""

    t_s: float
    """Arrival on the reader's monotonic clock, in seconds."""
    text: str
    """The number, digit by digit as received."""
    unit: LengthUnit
    status: tuple[Words, ...]

    @model_validator(mode="after")
    def _is_a_number(self) -> Self:
        number_shown(self.text)
        return self

    @property
    def value_mm(self) -> Decimal:
        """The reading in millimetres, exact for either unit."""
        return number_shown(self.text) * (MM_PER_INCH if self.unit == "in" else 1)


class Capture(_Strict):
    """A settled value someone chose to keep, with all that is needed to check it later.

    Only what shows a mistake beyond doubt is refused: a value outside its own readings, a verdict
    its own deviation contradicts, times that run backwards, mixed units.
    """

    kind: Literal["capture"] = "capture"
    format: Literal[1] = 1
    uid: Uid
    at: UtcTime
    monotonic_s: float
    """The reader's monotonic clock at the capture, in seconds."""
    station: Words
    """The bench or computer, by its label."""
    operator: Words
    gauge: CapturedGauge
    spec: CapturedSpec | None
    value_mm: ExactDecimal
    u_mm: ExactDecimal
    """Standard uncertainty of the value (GUM: u, k = 1)."""
    n: Annotated[int, Field(ge=1)]
    """Readings averaged. Fewer than lie in the span where some were held aside as doubtful."""
    rest_seen: bool
    """Whether the part was seen to be at rest; False for one reading sent by the data key."""
    since_s: float
    until_s: float
    """The settled span, on the same clock as ``monotonic_s``."""
    span_readings: Annotated[int, Field(ge=1)]
    """Readings that came within the span."""
    resolution_mm: ExactDecimal
    deviation_mm: ExactDecimal | None
    """Value minus nominal; None without a spec."""
    verdict: CapturedVerdict | None
    trigger: Literal["settled", "data key", "key"]
    unit_shown: LengthUnit
    """What the gauge displayed in."""
    readings: Annotated[tuple[CapturedReading, ...], Field(min_length=1)]
    """Oldest first."""
    frames: tuple[FrameHex, ...]
    """The bytes each reading came in, in the same order."""
    bad_frames: Annotated[int, Field(ge=0)]
    """Frames that were no readings, since the last capture."""
    note: Words

    @model_validator(mode="after")
    def _holds_together(self) -> Self:
        for mistake in (*_of_readings(self), *_of_times(self), *_of_value(self), *_of_spec(self)):
            raise ValueError(mistake)
        return self


def _of_readings(capture: Capture) -> list[str]:
    count = len(capture.readings)
    mistakes = []
    if count != min(capture.span_readings, READINGS_RECORDED):
        mistakes.append(
            f"{count} readings are kept of the {capture.span_readings} in the span, where "
            f"{min(capture.span_readings, READINGS_RECORDED)} are due"
        )
    if not capture.rest_seen and capture.n != 1:
        mistakes.append(f"n is {capture.n}, but no rest was seen")
    if len(capture.frames) != count:
        mistakes.append(f"{len(capture.frames)} frames, but {count} readings")
    units = {reading.unit for reading in capture.readings}
    if units != {capture.unit_shown}:
        mistakes.append(f"unit_shown is {capture.unit_shown}, the readings are in {sorted(units)}")
    return mistakes


def _of_times(capture: Capture) -> list[str]:
    times = [reading.t_s for reading in capture.readings]
    mistakes = []
    if any(later < earlier for earlier, later in pairwise(times)):
        mistakes.append("the readings' times run backwards")
    if times[0] < capture.since_s - _CLOSE_S or times[-1] > capture.until_s + _CLOSE_S:
        mistakes.append("a reading lies outside since_s to until_s")
    if capture.since_s > capture.until_s:
        mistakes.append("since_s is later than until_s")
    if capture.until_s > capture.monotonic_s + _CLOSE_S:
        mistakes.append("the capture is earlier than the readings behind it")
    return mistakes


def _of_value(capture: Capture) -> list[str]:
    lengths = [reading.value_mm for reading in capture.readings]
    lowest, highest = min(lengths), max(lengths)
    mistakes = []
    if capture.u_mm <= 0:
        mistakes.append(f"u_mm is {capture.u_mm}; an uncertainty is above 0")
    if capture.resolution_mm <= 0:
        mistakes.append(f"resolution_mm is {capture.resolution_mm}; a resolution is above 0")
    # One display step of room: a mean may be rounded, but not to beyond the next digit. Where
    # only the newest readings are kept, the others may have lain outside them.
    elif len(lengths) == capture.span_readings and not (
        lowest - capture.resolution_mm <= capture.value_mm <= highest + capture.resolution_mm
    ):
        mistakes.append(
            f"value_mm is {capture.value_mm}, but the readings lie in {lowest} to {highest} mm"
        )
    return mistakes


def _of_spec(capture: Capture) -> list[str]:
    spec, deviation, verdict = capture.spec, capture.deviation_mm, capture.verdict
    if spec is None:
        if deviation is not None or verdict is not None:
            return ["a deviation or a verdict needs the spec it was taken against"]
        return []
    if deviation is None:
        return ["there is a spec, but no deviation from it"]
    mistakes = []
    if abs(capture.value_mm - spec.nominal_mm - deviation) > _CLOSE_MM:
        mistakes.append(
            f"deviation_mm is {deviation}, but {capture.value_mm} - {spec.nominal_mm} is not"
        )
    # Rules differ in what they do near a limit; on these every rule agrees.
    lower, upper = spec.lower_mm, spec.upper_mm
    too_low = lower is not None and deviation < lower
    too_high = upper is not None and deviation > upper
    middle = None if lower is None or upper is None else (lower + upper) / 2
    wrong = (
        verdict is not None
        and {
            "in": too_low or too_high,
            "low": lower is None or (middle is not None and deviation >= middle),
            "high": upper is None or (middle is not None and deviation <= middle),
            "too close to call": False,
        }[verdict.outcome]
    )
    if wrong and verdict is not None:
        mistakes.append(f"the verdict is {verdict.outcome!r}, but the deviation is {deviation} mm")
    return mistakes


class Note(_Strict):
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


Record = Cover | Capture | Note
"""What this program writes and reads."""

MODELS: dict[tuple[str, int], type[Record]] = {
    ("logbook", 1): Cover,
    ("capture", 1): Capture,
    ("note", 1): Note,
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


def body_of(record: Record) -> bytes:
    """``record`` as it is stored and hashed: canonical JSON (RFC 8785), UTF-8."""
    return canonical(record.model_dump(mode="json"))


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
