"""The lines of a certificate: results, points, budgets, and what is said of them.

Figures stand twice where they are stated: ``exact`` as recorded, and ``shown`` rounded, U upwards
to two figures and the value to the same place (`daq.calibration.rounding`). All lengths are in
millimetres, the unit of the measurand. Record numbers are those of the logbook.
"""

from typing import Literal

from daq.logbook.calibration import CalibrationWord, RunName
from daq.logbook.fields import Day, ExactDecimal, StrictModel, UtcTime, Words
from daq.report.lines import Amount

Direction = Literal["up", "down"]
Series = Literal["up", "down", "repeat"]


class Stated(StrictModel):
    """A value with its expanded uncertainty, and how that was formed."""

    value: Amount
    expanded: Amount
    """U = k·u."""
    u_mm: ExactDecimal
    """Combined standard uncertainty (k = 1)."""
    dof: ExactDecimal | None
    """Effective degrees of freedom, as a whole number; None for infinitely many."""
    k: ExactDecimal
    k_shown: Words


class PointLine(StrictModel):
    """One point of a run."""

    place: int
    """Which of the plan's readings it is, from 1."""
    series: Series
    direction: Direction
    nominal: Amount
    reference: Amount
    """The travel by the standard's certificate, at 20 °C."""
    reading: Amount
    error: Stated
    """Indicated minus reference."""
    temperature_c: ExactDecimal | None
    """None if the point's own record is not at hand."""
    at: UtcTime | None
    operator: Words
    insisted: Words
    """Why it was taken although it looked like a mistake, and who answers for it; or empty."""
    record: int | None
    capture: int | None


class CharacteristicLine(StrictModel):
    """One characteristic, and what the decision rule makes of it."""

    what: Words
    result: Stated
    at: Words
    """The points that made it, by their nominal and direction."""
    where: Words
    """The same as it was recorded, with all digits."""
    places: tuple[int, ...]
    limit: Amount | None
    """The permissible error; None if it has none, and then nothing is judged."""
    word: CalibrationWord | None
    meaning: Words
    """What that word means; empty where nothing is judged for want of a limit."""
    reason: Words
    guard: Amount | None
    p_conform: ExactDecimal | None
    """The probability that the true value is within the limit."""
    p_conform_shown: Words
    """In per cent, never rounded up."""
    risk_shown: Words
    """The probability that it is not, in per cent, never rounded down."""


class RepeatLine(StrictModel):
    """The repeated readings of one point from one side."""

    nominal: Amount
    direction: Direction
    readings: tuple[Amount, ...]
    range: Amount
    s_mm: ExactDecimal | None
    """Their standard deviation; None for one reading."""
    s_shown: Words


class BudgetRow(StrictModel):
    """One component of an uncertainty budget (JCGM 100:2008)."""

    name: Words
    distribution: Words
    basis: Words
    u: ExactDecimal
    u_shown: Words
    unit: Words
    dof: ExactDecimal | None
    sensitivity: ExactDecimal
    sensitivity_shown: Words
    contribution_mm: ExactDecimal
    contribution_shown: Words
    share: Words
    """Of the combined variance, in per cent."""


class BudgetReport(StrictModel):
    """An uncertainty budget: of a characteristic, or of the least sure point."""

    of: Words
    rows: tuple[BudgetRow, ...]
    u_mm: ExactDecimal
    u_shown: Words
    dof: ExactDecimal | None
    k: ExactDecimal
    k_shown: Words
    expanded: Amount


class CorrectionRow(StrictModel):
    """A row of the correction table: what to add to a reading."""

    nominal: Amount
    reading: Amount
    correction: Amount
    u_mm: ExactDecimal
    expanded: Amount
    """Twice ``u_mm``, of reference and reading; the difference between the ways is not in it."""
    between_ways: Amount


class LineReport(StrictModel):
    """A straight line through the errors: error = at_zero + slope · travel."""

    at_zero_mm: ExactDecimal
    u_at_zero_mm: ExactDecimal
    slope: ExactDecimal
    u_slope: ExactDecimal
    correlation: ExactDecimal
    residual_s_mm: ExactDecimal
    dof: int
    words: Words
    """The same, rounded."""


class MonteCarloReport(StrictModel):
    """What Monte Carlo found for a budget (JCGM 101:2008)."""

    of: Words
    trials: int
    seed: int
    u_mm: ExactDecimal
    low_mm: ExactDecimal
    high_mm: ExactDecimal
    agrees: bool
    reason: Words
    words: Words
    """The same, rounded."""


class RunReport(StrictModel):
    """What one run came to: as found, or as left."""

    run: RunName
    record: int
    """Of the result."""
    at: UtcTime
    operator: Words
    word: CalibrationWord
    meaning: Words
    characteristics: tuple[CharacteristicLine, ...]
    points: tuple[PointLine, ...]
    repeats: tuple[RepeatLine, ...]
    budgets: tuple[BudgetReport, ...]
    correction: tuple[CorrectionRow, ...]
    line: LineReport | None
    monte_carlo: tuple[MonteCarloReport, ...]
    remarks: tuple[Words, ...]
    doubts: tuple[Words, ...]


class Laboratory(StrictModel):
    """Who calibrates, as typed by the laboratory; what is empty was not stated."""

    name: Words = ""
    address: tuple[Words, ...] = ()
    """Its lines."""
    contact: Words = ""


class GaugeFacts(StrictModel):
    """The item that was calibrated."""

    label: Words
    identity: Words
    """Of its adapter; empty if it has none."""
    kind: Words
    range: Amount
    step: Amount
    profile: Words
    condition: Words
    """What was seen of it; empty if nothing was said."""
    expansion: ExactDecimal
    u_expansion: ExactDecimal
    """µm/(m·K)."""
    limits_source: Words
    zero: Literal["fixed", "floating"]
    limits: tuple["LimitLine", ...]
    interval: Words
    record: int


class LimitLine(StrictModel):
    """A permissible error."""

    of: Words
    limit: Amount


class StandardFacts(StrictModel):
    """What it was calibrated against."""

    role: Literal["standard", "zeroed on"]
    id: Words
    kind: Words
    what: Words
    certificate: Words
    issuer: Words
    valid_from: Day
    due: Day
    values: tuple["StandardValueLine", ...]
    drift_per_year: Amount
    expansion: ExactDecimal
    u_expansion: ExactDecimal
    record: int


class StandardValueLine(StrictModel):
    """One length on the certificate of a standard, as that certificate has it."""

    nominal: Amount
    length: Amount
    expanded: Amount
    k: ExactDecimal


class TemperatureLine(StrictModel):
    """A temperature that somebody read."""

    run: RunName
    c: ExactDecimal
    asked: Words
    said: Words
    operator: Words
    at: UtcTime
    record: int


class AdjustmentFacts(StrictModel):
    """Whether the gauge was adjusted, and what was done."""

    what: Literal["adjusted", "not adjusted", "not said"]
    words: Words
    operator: Words
    at: UtcTime | None
    record: int | None


class Deviation(StrictModel):
    """Something that went other than the plan has it: begun anew, insisted, taken back."""

    what: Literal["begun anew", "insisted", "taken back", "remark"]
    about: Words
    words: Words
    operator: Words
    at: UtcTime
    record: int | None


class WordMeaning(StrictModel):
    """A word of conformity and what it means."""

    word: CalibrationWord
    meaning: Words


class Statement(StrictModel):
    """A sentence that a certificate must have."""

    about: Words
    words: Words
