"""The lines of a report: figures, moments, results, and what is said of them.

Numbers stand twice where they are shown large: ``exact`` as they were recorded, and ``shown``
rounded for the eye. Times are UTC. Record numbers are those of the logbook.
"""

from typing import Literal

from daq.logbook.fields import ExactDecimal, StrictModel, UtcTime, Words

Unit = Literal["mm", "in", "deg", "mm/m"]


class Amount(StrictModel):
    """A figure: exact as recorded, and rounded as it is shown, perhaps in another unit."""

    exact: ExactDecimal
    unit: Unit
    shown: Words
    """Digits only, with a true minus sign; a deviation carries its plus."""
    shown_unit: Unit


class Instant(StrictModel):
    """A moment in UTC, and what the clock on the wall showed."""

    utc: UtcTime
    local: Words


class Measured(StrictModel):
    """A result in short, as a table of targets shows it."""

    record: int
    value: Amount
    expanded: Amount
    """Expanded uncertainty U = k·u."""
    deviation: Amount | None
    verdict: Words
    captures: tuple[int, ...]
    operator: Words
    at: UtcTime


class Component(StrictModel):
    """One component of a result's uncertainty (JCGM 100:2008, 5.1.3)."""

    name: Words
    u: ExactDecimal
    unit: Words
    sensitivity: ExactDecimal


class PartLine(StrictModel):
    """A secondary number of a result, as recorded."""

    name: Words
    of: Words
    value: ExactDecimal
    unit: Unit
    u: ExactDecimal | None
    """Its standard uncertainty, k = 1."""


class CorrectionLine(StrictModel):
    """A correction that is in the value, as recorded."""

    name: Words
    amount: ExactDecimal
    unit: Unit
    why: Words


class ResultLine(StrictModel):
    """One result as recorded, with all that it is made of."""

    record: int
    phase: Words
    what: Words
    value: ExactDecimal
    u: ExactDecimal
    """Combined standard uncertainty, k = 1."""
    unit: Unit
    deviation: ExactDecimal | None
    guard_mm: ExactDecimal | None
    verdict: Words
    rule: Words
    captures: tuple[int, ...]
    operator: Words
    at: UtcTime
    components: tuple[Component, ...]
    parts: tuple[PartLine, ...]
    corrections: tuple[CorrectionLine, ...]
    remarks: tuple[Words, ...]
    doubts: tuple[Words, ...]


class AcrossLine(StrictModel):
    """A limit on several results together."""

    name: Words
    value: Amount
    expanded: Amount | None
    limit: Amount
    verdict: Words
    targets: tuple[Words, ...]
    missing: tuple[Words, ...]


class MasterLine(StrictModel):
    """What a gauge read where it was checked, before or after measuring."""

    record: int
    when: Words
    what: Words
    value: Amount
    expanded: Amount
    reference_mm: ExactDecimal | None
    """What it was held against."""
    deviation: Amount | None
    verdict: Words
    captures: tuple[int, ...]
    operator: Words
    at: UtcTime


class GateLine(StrictModel):
    """Something a person confirmed."""

    record: int
    gate: Words
    step: Words
    target: Words
    asked: Words
    asked_turns: ExactDecimal | None
    """For a turn of the adjuster: what was asked, clockwise above zero."""
    part_c: ExactDecimal | None
    gauge_c: ExactDecimal | None
    """Temperatures in °C, where they were read."""
    operator: Words
    at: UtcTime


class CaptureLine(StrictModel):
    """A settled value and what it was taken for."""

    number: int
    step: Words
    target: Words
    purpose: Words
    position: Words
    gauge: Words
    value_mm: ExactDecimal
    u_mm: ExactDecimal
    readings: int
    rest: Words
    at: UtcTime


class NoteLine(StrictModel):
    """A note about one of the job's records."""

    record: int
    about: int
    purpose: Words
    text: Words
    operator: Words
    at: UtcTime


class CalibrationLine(StrictModel):
    """How a gauge stood by its calibration when the job was begun or taken up again."""

    record: int
    standing: Words
    words: Words
    """The same, in one sentence."""
    certificate: Words
    due: Words
    """The day, after ISO 8601, or empty."""
    used: Words
    """Why it was used though it might not be, and who answers for it; empty if it might."""
    at: UtcTime


class GaugeLine(StrictModel):
    """A gauge that served in a role of the sheet."""

    role: Words
    label: Words
    profile: Words
    identity: Words
    resolution_mm: ExactDecimal
    calibration: Words
    """What was said of it when the job was begun, without a register."""
    calibrations: tuple[CalibrationLine, ...]
    """What the register said of it, oldest first; the last one counts. Empty without one."""


class NotPassed(StrictModel):
    """A result, a limit across or a master check that is not within its limits."""

    step: Words
    target: Words
    why: Words


class Exempted(StrictModel):
    """Something skipped, overruled or measured again: the reason, and who answers for it."""

    record: int
    what: Words
    step: Words
    target: Words
    reason: Words
    by: Words
    operator: Words
    at: UtcTime


class Doubt(StrictModel):
    """Something said against results of a step, and the captures behind them."""

    step: Words
    targets: tuple[Words, ...]
    why: Words
    captures: tuple[int, ...]


class ToDo(StrictModel):
    """What was not done when the report was made."""

    step: Words
    targets: tuple[Words, ...]
    """Empty for the step as a whole."""
    what: Words
