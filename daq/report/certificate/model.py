"""What a certificate says, whole: every file of it is made from this and nothing else.

It carries what ISO/IEC 17025:2017, 7.8.2 and 7.8.4, ask of a calibration certificate.
"""

from typing import Literal

from daq.logbook.calibration import CalibrationWord
from daq.logbook.fields import Day, ExactDecimal, StrictModel, Words
from daq.report.certificate.lines import (
    AdjustmentFacts,
    Deviation,
    GaugeFacts,
    Laboratory,
    RunReport,
    StandardFacts,
    Statement,
    TemperatureLine,
    WordMeaning,
)
from daq.report.lines import Amount, Instant

State = Literal["issued", "draft", "void"]
"""``draft``: the calibration has not ended. ``void``: it was broken off, taken back, or its records
contradict each other. Neither is a certificate."""


class Dates(StrictModel):
    """When it was received, performed and issued."""

    received: Day | None
    """None if nobody said."""
    begun: Instant
    last: Instant
    """The calibration's last record."""
    performed_from: Day
    performed_to: Day
    """First and last day on which a point was taken, by the clock on the wall."""
    issued: Day | None
    """None if it has not ended with a certificate."""


class Method(StrictModel):
    """The plan, by which it was calibrated."""

    plan: Words
    """The plan's file, by name."""
    title: Words
    revision: Words
    sha256: Words
    words: tuple[Words, ...]
    """What the plan asks, a sentence each."""
    remarks: tuple[Words, ...]


class Environment(StrictModel):
    """The temperatures that were read, and what the plan allows. In °C; ``change_k`` in kelvin."""

    readings: tuple[TemperatureLine, ...]
    lowest_c: ExactDecimal | None
    highest_c: ExactDecimal | None
    coldest_c: ExactDecimal | None
    warmest_c: ExactDecimal | None
    change_k: ExactDecimal | None
    words: Words


class DecisionFacts(StrictModel):
    """The decision rule, and what its words mean."""

    rule: Words
    """As ``daq.spec.rule_from`` reads it."""
    words: Words
    level: ExactDecimal
    level_shown: Words
    """In per cent."""
    largest_expanded: Amount | None
    """The most that an expanded uncertainty may be, whatever the rule."""
    meanings: tuple[WordMeaning, ...]


class Verdict(StrictModel):
    """The statement of conformity."""

    as_found: CalibrationWord | None
    as_left: CalibrationWord | None
    meaning: Words
    """Of ``as_left``."""
    sentences: tuple[Words, ...]
    range_from: Amount | None
    range_to: Amount | None
    """What the gauge may be used in, where that is not its whole range."""


class DueFacts(StrictModel):
    """The day on which it is due next, and what that rests on."""

    on: Day
    rests_on: Words
    note: Words
    """Why a date stands on a certificate at all (ISO/IEC 17025:2017, 7.8.4.3)."""


class Proof(StrictModel):
    """Where the records lie, and what vouches for them.

    Records that the logbook got later do not change it.
    """

    logbook_id: Words
    first_record: int
    last_record: int
    """First and last record of this calibration, with notes about it."""
    last_hash: Words
    """The hash of the last of them."""
    verify: Words
    """The command that holds a logbook against it."""


class CertificateModel(StrictModel):
    """A whole certificate, or a draft or void document that says plainly that it is none."""

    state: State
    why: tuple[Words, ...]
    """Why it is no certificate; empty if it is one."""
    title: Words
    number: Words
    """Unique; empty if it is no certificate."""
    mark: Words
    """What stands on every page: the number, or that it is a draft or void."""
    calibration: Words
    """The uid of the calibration's first record."""
    laboratory: Laboratory
    place: Words
    """Where it was done; empty if nobody said."""
    station: Words
    customer: Words
    order: Words
    operators: tuple[Words, ...]
    """Everybody who recorded something, in the order of appearance."""
    dates: Dates
    gauge: GaugeFacts
    method: Method
    standards: tuple[StandardFacts, ...]
    verdict: Verdict
    decision: DecisionFacts
    adjustment: AdjustmentFacts
    runs: tuple[RunReport, ...]
    """As found, then as left. One only if the gauge was not adjusted: as found is as left."""
    environment: Environment
    deviations: tuple[Deviation, ...]
    remarks: tuple[Words, ...]
    """Of the record that ends it."""
    doubts: tuple[Words, ...]
    """Of the runs, each with its run."""
    due: DueFacts | None
    authorised_by: Words
    """As typed by that person; empty if nobody did."""
    authorised_words: Words
    statements: tuple[Statement, ...]
    """Uncertainty, traceability, what it relates to, reproduction."""
    proof: Proof

    @property
    def final(self) -> RunReport | None:
        """The run that the gauge is used by: as left, or as found if it was not adjusted."""
        return self.runs[-1] if self.runs else None

    def run(self, name: str) -> RunReport | None:
        """A run by its name."""
        return next((each for each in self.runs if each.run == name), None)
