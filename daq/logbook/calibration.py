"""The records of a calibration, format 1 each: begun, gate, point, result, ended.

A calibration is its records and nothing else: which point comes next is worked out from them, so it
goes on at the same place after any interruption. Nothing is overwritten; a point taken again, or a
run begun anew, adds records. Lengths are exact decimals in millimetres, written as text.
"""

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from daq.logbook.capture import Filled
from daq.logbook.fields import Day, ExactDecimal, StrictModel, Uid, UtcTime, Words

RunName = Literal["as found", "as left"]
CalibrationWord = Literal["pass", "conditional pass", "conditional fail", "fail", "not judged"]

CalibrationGateName = Literal["conditions", "adjusted", "not adjusted", "anew"]
"""What a person has confirmed. ``conditions``: gauge and standard lay together, and this is their
temperature; ``adjusted``: the gauge was adjusted after its as-found run, and what was done;
``not adjusted``: it was not, so that as found is as left; ``anew``: the run is begun again from its
zero, and why."""


class CalibrationBegun(StrictModel):
    """A calibration of one gauge by one plan against one standard."""

    kind: Literal["calibration"] = "calibration"
    format: Literal[1] = 1
    uid: Uid
    at: UtcTime
    station: Words
    operator: Filled
    gauge: Uid
    """The record by which the gauge was entered."""
    gauge_label: Filled
    identity: Words
    """The identity of the adapter that was plugged in, or empty if it has none."""
    standard: Uid
    """The record by which the standard was entered."""
    flat: Uid | None
    """Of the flat on which it is zeroed, where that has a certificate of its own."""
    plan_name: Filled
    plan_sha256: Annotated[str, Field(pattern="^[0-9a-f]{64}$")]
    plan_toml: Filled
    """The plan itself, so that the calibration can be read without any file of the day."""
    rule: Filled
    """The decision rule, as ``daq.spec.rule_from`` reads it."""
    largest_expanded_mm: ExactDecimal | None
    """The most that an expanded uncertainty may be, whatever the rule; None for no bound."""
    level: ExactDecimal
    """Level of confidence of the expanded uncertainties, such as 0.95."""
    place: Words
    """Where it is done."""
    customer: Words
    """For whom, with what is needed to reach them; empty if nobody said."""
    order: Words


class _OfCalibration(StrictModel):
    """What every later record of a calibration says."""

    uid: Uid
    at: UtcTime
    operator: Filled
    calibration: Uid
    """The uid of the calibration's first record."""


class CalibrationGate(_OfCalibration):
    """Somebody confirmed what was asked."""

    kind: Literal["calibration gate"] = "calibration gate"
    format: Literal[1] = 1
    gate: CalibrationGateName
    run: RunName
    asked: Words
    """What was asked, in words, as it stood on the screen."""
    said: Words
    """What was answered: what was adjusted, why it is begun anew; or empty."""
    temperature_c: ExactDecimal | None
    """For ``conditions``: of gauge and standard."""


class CalibrationPoint(_OfCalibration):
    """A capture at a known length, and what it was taken for."""

    kind: Literal["calibration point"] = "calibration point"
    format: Literal[1] = 1
    run: RunName
    place: Annotated[int, Field(ge=1)]
    """Which of the plan's readings it is."""
    series: Literal["up", "down", "repeat"]
    direction: Literal["up", "down"]
    nominal_mm: ExactDecimal
    reference_mm: ExactDecimal
    """The travel by the standard's certificate, at 20 °C."""
    u_reference_mm: ExactDecimal
    capture: Uid
    reading_mm: ExactDecimal
    u_reading_mm: ExactDecimal
    is_return: bool
    """Whether it only shows, after an interruption, that the gauge still reads what it did."""
    temperature_c: ExactDecimal
    lowest_mm: ExactDecimal | None
    highest_mm: ExactDecimal | None
    """What the gauge passed since the point before; None if nobody watched all the way."""
    insisted: Words
    """Why it was taken although it looked like a mistake, and who answers for it; or empty."""
    words: Words
    """What was asked for, as it stood on the screen."""


class PointResult(StrictModel):
    """The error at one point, with its expanded uncertainty."""

    place: int
    series: Literal["up", "down", "repeat"]
    direction: Literal["up", "down"]
    nominal_mm: ExactDecimal
    reference_mm: ExactDecimal
    reading_mm: ExactDecimal
    error_mm: ExactDecimal
    u_mm: ExactDecimal
    """Combined standard uncertainty (k = 1)."""
    dof: ExactDecimal | None
    """Effective degrees of freedom, cut down to a whole number; None for infinitely many."""
    k: ExactDecimal
    expanded_mm: ExactDecimal
    point: Uid
    """The record of the point."""


class CharacteristicResult(StrictModel):
    """One characteristic of a gauge: its value, its uncertainty, and what the rule makes of it."""

    what: Filled
    value_mm: ExactDecimal
    where: Words
    """The points that made it, in words."""
    places: tuple[int, ...]
    u_mm: ExactDecimal
    dof: ExactDecimal | None
    k: ExactDecimal
    expanded_mm: ExactDecimal
    limit_mm: ExactDecimal | None
    """The permissible error; None if it has none, and then nothing is judged."""
    word: CalibrationWord | None
    reason: Words
    guard_mm: ExactDecimal | None
    p_conform: ExactDecimal | None
    """The probability that the true value is within the limit; None where nothing is judged."""

    @model_validator(mode="after")
    def _is_judged_by_a_limit(self) -> Self:
        if (self.word is None) != (self.limit_mm is None):
            raise ValueError(f"{self.what}: there is a word where there is a limit, and only there")
        return self


class BudgetLine(StrictModel):
    """One component of an uncertainty budget (JCGM 100:2008)."""

    name: Filled
    distribution: Words
    basis: Words
    """Where its size comes from."""
    u: ExactDecimal
    unit: Words
    dof: ExactDecimal | None
    sensitivity: ExactDecimal
    contribution_mm: ExactDecimal
    """|sensitivity| times u."""


class BudgetKept(StrictModel):
    """An uncertainty budget: of a characteristic, or of the least sure point."""

    of: Filled
    u_mm: ExactDecimal
    dof: ExactDecimal | None
    k: ExactDecimal
    expanded_mm: ExactDecimal
    lines: Annotated[tuple[BudgetLine, ...], Field(min_length=1)]


class CorrectionKept(StrictModel):
    """A row of the correction table: what to add to a reading."""

    nominal_mm: ExactDecimal
    reading_mm: ExactDecimal
    correction_mm: ExactDecimal
    u_mm: ExactDecimal
    between_ways_mm: ExactDecimal


class MonteCarloKept(StrictModel):
    """What Monte Carlo found for a budget (JCGM 101:2008), and whether the two agree."""

    of: Filled
    trials: int
    seed: int
    u_mm: ExactDecimal
    low_mm: ExactDecimal
    high_mm: ExactDecimal
    """The ends of the coverage interval, about the value."""
    agrees: bool
    reason: Words


class LineKept(StrictModel):
    """A straight line through the errors: error = at_zero + slope · travel."""

    at_zero_mm: ExactDecimal
    u_at_zero_mm: ExactDecimal
    slope: ExactDecimal
    u_slope: ExactDecimal
    correlation: ExactDecimal
    residual_s_mm: ExactDecimal
    dof: int


class CalibrationResult(_OfCalibration):
    """What the points of one run come to."""

    kind: Literal["calibration result"] = "calibration result"
    format: Literal[1] = 1
    run: RunName
    word: CalibrationWord
    """The worst of all characteristics that have a limit."""
    points: Annotated[tuple[PointResult, ...], Field(min_length=1)]
    characteristics: Annotated[tuple[CharacteristicResult, ...], Field(min_length=1)]
    budgets: tuple[BudgetKept, ...]
    correction: tuple[CorrectionKept, ...]
    """Empty where no table can be made of the points."""
    line: LineKept | None
    monte_carlo: tuple[MonteCarloKept, ...]
    remarks: tuple[Words, ...]
    doubts: tuple[Words, ...]
    """Reasons to look again; a calibration that ends with one says so on its certificate."""


class CalibrationEnded(_OfCalibration):
    """The calibration is over: with a certificate, or broken off."""

    kind: Literal["calibration end"] = "calibration end"
    format: Literal[1] = 1
    how: Literal["complete", "broken off"]
    reason: Words
    certificate: Words
    """The certificate's number; empty if it was broken off."""
    as_found: CalibrationWord | None
    as_left: CalibrationWord | None
    from_mm: ExactDecimal | None
    to_mm: ExactDecimal | None
    """The range that it may be used in, where that is not all of it."""
    due: Day | None
    """The day on which it is due next."""
    due_words: Words
    """What that day rests on."""
    authorised_by: Words
    """Who answers for the certificate, as typed by that person; empty if nobody did."""
    remarks: Words

    @model_validator(mode="after")
    def _is_one_or_the_other(self) -> Self:
        if self.how == "complete" and not (self.certificate and self.as_left):
            raise ValueError("a complete calibration has a certificate number and a word as left")
        if self.how == "broken off" and not self.reason:
            raise ValueError("a calibration that is broken off needs a reason")
        return self


CalibrationRecord = (
    CalibrationBegun | CalibrationGate | CalibrationPoint | CalibrationResult | CalibrationEnded
)
"""Any record of a calibration."""
