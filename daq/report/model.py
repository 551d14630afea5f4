"""What a report says, whole: HTML, PDF, CSV and JSON are made from this and nothing else."""

from typing import Literal

from daq.logbook.fields import ExactDecimal, StrictModel, Words
from daq.report.lines import (
    AcrossLine,
    Amount,
    CaptureLine,
    Doubt,
    Exempted,
    GateLine,
    GaugeLine,
    Instant,
    MasterLine,
    Measured,
    NoteLine,
    NotPassed,
    ResultLine,
    ToDo,
    Unit,
)

Status = Literal["passed", "not passed", "unfinished", "broken off"]
"""Of the job. ``passed``: everything was done, and every result stands by itself."""

State = Literal["passed", "not passed", "overruled", "skipped", "in doubt", "not done"]
"""Of one target."""


class Heading(StrictModel):
    """What was worked on, by what, by whom, where and when."""

    engine: Words
    job: Words
    """The uid of the job's first record."""
    sheet_title: Words
    sheet_revision: Words
    sheet_sha256: Words
    prepared_by: Words
    sources: tuple[Words, ...]
    variant: Words
    plate: Words
    """What the engine's plate must say for this variant."""
    operators: tuple[Words, ...]
    """Everybody who recorded something, in the order of appearance."""
    station: Words
    begun: Instant
    last: Instant
    """The job's last record."""
    ended: Instant | None
    rule: Words
    rule_words: Words


class Outcome(StrictModel):
    """Did it pass, and how many of how many."""

    status: Status
    why: tuple[Words, ...]
    """Why it has not passed and what to know of it, a short sentence each."""
    total: int
    passed: int
    not_passed: int
    overruled: int
    skipped: int
    in_doubt: int
    not_done: int


class TargetReport(StrictModel):
    """One target of a step: found, done, left."""

    name: Words
    words: Words
    state: State
    as_found: Measured | None
    as_left: Measured | None
    latest: Measured | None
    """The newest result where none counts as left."""
    adjustments: int
    """How often it was set: turns confirmed or settings measured, whichever are more."""
    locking_shift: Amount | None
    results: tuple[ResultLine, ...]
    """Every result there is, oldest first."""


class StepReport(StrictModel):
    """One step: its figures with their source, and every target."""

    name: Words
    what: Words
    recipe: Words
    condition: Words
    nominal: Words
    """As the sheet writes it."""
    limits: Words
    unit: Unit
    """What results are shown in."""
    nominal_mm: ExactDecimal
    lower_mm: ExactDecimal | None
    upper_mm: ExactDecimal | None
    source: Words
    gauge_role: Words
    gauge_label: Words
    crank: Words
    procedure: tuple[Words, ...]
    """What the sheet asks beyond measuring: repeats, locking, exercise, master, seal."""
    targets: tuple[TargetReport, ...]
    across: tuple[AcrossLine, ...]
    masters: tuple[MasterLine, ...]


class Proof(StrictModel):
    """Where the records lie, and what vouches for them."""

    logbook_id: Words
    first_record: int
    last_record: int
    """First and last record of this job."""
    log_records: int
    """How many records the logbook held when the report was made."""
    last_hash: Words
    """The hash of the last of them."""
    verify: Words
    """The command that holds a logbook against it."""


class JobReport(StrictModel):
    """A whole report."""

    heading: Heading
    outcome: Outcome
    not_passed: tuple[NotPassed, ...]
    exempted: tuple[Exempted, ...]
    doubts: tuple[Doubt, ...]
    """Reasons for which a result does not count as passed."""
    raised: tuple[Doubt, ...]
    """What measuring itself found odd; it does not change the verdict."""
    to_do: tuple[ToDo, ...]
    gauges: tuple[GaugeLine, ...]
    steps: tuple[StepReport, ...]
    gates: tuple[GateLine, ...]
    captures: tuple[CaptureLine, ...]
    notes: tuple[NoteLine, ...]
    coverage_factor: ExactDecimal
    """k in U = k·u."""
    proof: Proof
    cautions: tuple[Words, ...]
