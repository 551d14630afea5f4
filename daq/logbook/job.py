"""The records of a set-up job, format 1 each: begun, gauge, gate, point, result, exception, ended.

A job is its records and nothing else: where it stands is worked out from them, so it goes on at the
same place after any interruption. Nothing is overwritten; a measurement done again adds records,
and the latest that stands is the one that counts. Values are in the unit that is named, as exact
decimals written as text (`daq.logbook.fields`).
"""

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from daq.logbook.capture import CapturedSpec, CapturedVerdict, Filled
from daq.logbook.fields import Day, ExactDecimal, StrictModel, Uid, UtcTime, Words

ResultUnit = Literal["mm", "deg", "mm/m"]
Phase = Literal["as found", "adjusted", "as left"]
"""``adjusted`` is a measurement on the way: after the screw, before locking or working the part."""

Gate = Literal[
    "plate", "cautions", "step", "crank", "adjusted", "locked", "worked", "across", "sealed"
]
"""What a person has confirmed. ``crank``: it stands where it was asked to be barred to;
``worked``: the part was exercised as often as asked; ``across``: results that do not go together
stand as they are."""

MasterCheck = Literal["before", "after"]

JobGaugeStanding = Literal[
    "in date",
    "due",
    "overdue",
    "limited range",
    "withdrawn",
    "never calibrated",
    "not in the register",
]
"""How a gauge stood by its calibration. ``due``: soon, and it may still be used."""


class JobGauge(StrictModel):
    """A gauge that serves in a role of the sheet, by its own identity."""

    role: Filled
    label: Words
    profile: Filled
    identity: Words
    """The adapter's stable identity, or empty if it has none."""
    resolution_mm: ExactDecimal
    calibration: Words
    """What is known of its calibration: certificate and due date, or empty."""


class JobBegun(StrictModel):
    """A job on one engine, by one sheet and one of its variants."""

    kind: Literal["job"] = "job"
    format: Literal[1] = 1
    uid: Uid
    at: UtcTime
    station: Words
    operator: Filled
    engine: Filled
    """Which engine: its serial number or what it is called."""
    sheet_title: Filled
    sheet_revision: Filled
    sheet_sha256: Annotated[str, Field(pattern="^[0-9a-f]{64}$")]
    sheet_toml: Filled
    """The sheet itself, so that the job can be read without any file of the day."""
    variant: Filled
    gauges: Annotated[tuple[JobGauge, ...], Field(min_length=1)]


class _OfJob(StrictModel):
    """What every later record of a job says."""

    uid: Uid
    at: UtcTime
    operator: Filled
    job: Uid
    """The uid of the job's first record."""


class JobTableRow(StrictModel):
    """What a depth gauge errs at one of its readings, by its calibration; indicated less true."""

    length_mm: ExactDecimal
    """What it reads there, zeroed on a flat."""
    error_mm: ExactDecimal
    u_mm: ExactDecimal
    """Standard uncertainty (k = 1) of the error, what the two ways differ by included."""


class JobCalibration(_OfJob):
    """How a gauge of the job stands by its calibration, on the day on which the job was taken up.

    The latest of a role counts. It has all that the job needs, so that the job can be read alone.
    """

    kind: Literal["job calibration"] = "job calibration"
    format: Literal[1] = 1
    role: Filled
    label: Words
    standing: JobGaugeStanding
    usable: bool
    """Whether it may serve without anybody answering for it."""
    words: Filled
    """The same, in one sentence."""
    certificate: Words
    due: Day | None
    from_mm: ExactDecimal | None
    to_mm: ExactDecimal | None
    """The readings that it may be used between; None for no end."""
    rests_on: Uid | None
    """A record of the calibration that this rests on, if there is one."""
    worst_mm: ExactDecimal | None
    """The most that it may read wrong anywhere, uncertainty included; None if nothing is known."""
    table: tuple[JobTableRow, ...]
    """Of a depth gauge, at rising lengths; empty if the calibration gave none. With any other kind
    it is not known on a job where in its travel the calibration began."""


class JobGaugeUsed(_OfJob):
    """A gauge is used although its calibration does not allow it; why, and who answers for it."""

    kind: Literal["job gauge"] = "job gauge"
    format: Literal[1] = 1
    role: Filled
    calibration: Uid
    """The ``JobCalibration`` that this answers; with a later one it is asked again."""
    standing: JobGaugeStanding
    asked: Words
    """What was asked, in words, as it stood on the screen."""
    reason: Filled
    by: Filled


class JobGate(_OfJob):
    """Somebody confirmed what was asked: a plate, cautions, a position, a lock nut."""

    kind: Literal["job gate"] = "job gate"
    format: Literal[1] = 1
    gate: Gate
    step: Words
    """The step's name on the sheet; empty for the whole job."""
    target: Words
    """What it was about within the step: ``exhaust 3``, or a position of the crank."""
    asked: Words
    """What was asked, in words, as it stood on the screen."""
    asked_turns: ExactDecimal | None
    """For ``adjusted``: what the hand was told to turn, clockwise above zero; else None."""
    part_c: ExactDecimal | None
    gauge_c: ExactDecimal | None
    """For ``step``: the temperatures in °C, where results are corrected for them; else None."""


class JobPoint(_OfJob):
    """A capture and what it was taken for."""

    kind: Literal["job point"] = "job point"
    format: Literal[1] = 1
    step: Filled
    target: Words
    """Empty for a point on the setting master."""
    phase: Phase | None
    """None on the setting master."""
    master: MasterCheck | None
    capture: Uid
    position: Words
    angle_deg: ExactDecimal | None
    group: Words
    words: Words
    """What was asked for, as it stood on the screen."""

    @model_validator(mode="after")
    def _is_one_or_the_other(self) -> Self:
        if (self.phase is None) == (self.master is None):
            raise ValueError("a point is either of a target, with its phase, or on the master")
        return self


class JobComponent(StrictModel):
    """One component of a result's uncertainty (JCGM 100:2008, 5.1.3)."""

    name: Filled
    u: ExactDecimal
    unit: Filled
    sensitivity: ExactDecimal


class JobPart(StrictModel):
    """A secondary number of a result, such as the eccentricity of a run-out."""

    name: Filled
    of: Words
    value: ExactDecimal
    unit: ResultUnit
    u: ExactDecimal | None


class JobCorrection(StrictModel):
    """A correction that is in the value, and why."""

    name: Filled
    amount: ExactDecimal
    unit: ResultUnit
    why: Words


class JobResult(_OfJob):
    """What a recipe made of its points, held against the sheet.

    For a master check ``phase`` is None, ``target`` is empty, and the value is what the gauge read
    on the master; its spec has the master's length and how far it may have moved.
    """

    kind: Literal["job result"] = "job result"
    format: Literal[1] = 1
    step: Filled
    target: Words
    phase: Phase | None
    master: MasterCheck | None
    what: Filled
    value: ExactDecimal
    u: ExactDecimal
    """Combined standard uncertainty (k = 1)."""
    unit: ResultUnit
    spec: CapturedSpec | None
    deviation: ExactDecimal | None
    verdict: CapturedVerdict | None
    captures: Annotated[tuple[Uid, ...], Field(min_length=1)]
    components: tuple[JobComponent, ...]
    parts: tuple[JobPart, ...]
    corrections: tuple[JobCorrection, ...]
    remarks: tuple[Words, ...]
    doubts: tuple[Words, ...]


class JobException(_OfJob):
    """Something was done other than the sheet has it, with the reason and who answers for it.

    ``skipped``: not measured. ``overruled``: the latest result stands though it is not within its
    limits or is in doubt. ``again``: measured once more; ``anew``: set once more though it was
    within its limits. What was there before stays.
    """

    kind: Literal["job exception"] = "job exception"
    format: Literal[1] = 1
    step: Filled
    target: Words
    what: Literal["skipped", "overruled", "again", "anew"]
    reason: Filled
    by: Filled


class JobEnded(_OfJob):
    """Nothing is left to do, or the job was broken off."""

    kind: Literal["job end"] = "job end"
    format: Literal[1] = 1
    how: Literal["complete", "broken off"]
    reason: Words


JobRecord = (
    JobBegun
    | JobCalibration
    | JobGaugeUsed
    | JobGate
    | JobPoint
    | JobResult
    | JobException
    | JobEnded
)
"""Any record of a job."""
