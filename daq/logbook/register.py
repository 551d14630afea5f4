"""The records of the register, format 1 each: a standard, a gauge, a change of status.

What was entered is never changed: an entry with the same name stands in the place of the one before
from then on, and both stay. Lengths are exact decimals in millimetres, written as text.
"""

from typing import Annotated, Literal

from pydantic import Field

from daq.logbook.capture import Filled
from daq.logbook.fields import Day, ExactDecimal, StrictModel, Uid, UtcTime, Words


class StandardValue(StrictModel):
    """One length on the certificate of a standard."""

    nominal_mm: ExactDecimal
    length_mm: ExactDecimal
    """The calibrated length, at 20 °C."""
    expanded_u_mm: ExactDecimal
    k: ExactDecimal
    """The coverage factor of ``expanded_u_mm``."""


class StandardEntered(StrictModel):
    """A reference standard as its certificate has it."""

    kind: Literal["standard"] = "standard"
    format: Literal[1] = 1
    uid: Uid
    at: UtcTime
    operator: Filled
    source: Words
    """The file that it was entered from, by name."""
    id: Filled
    is_a: Literal["block set", "bench", "flat"]
    what: Filled
    certificate: Filled
    issuer: Filled
    values: Annotated[tuple[StandardValue, ...], Field(min_length=1)]
    expansion: ExactDecimal
    """Coefficient of expansion, µm/(m·K)."""
    u_expansion: ExactDecimal
    """Its standard uncertainty."""
    drift_per_year_mm: ExactDecimal
    """The most that a length may change in a year."""
    valid_from: Day
    due: Day
    """The last day on which it may be used."""


class GaugeLimits(StrictModel):
    """The permissible errors of a gauge; None where there is no limit."""

    source: Filled
    over_range_mm: ExactDecimal
    zero: Literal["fixed", "floating"]
    over_partial_mm: ExactDecimal | None
    partial_mm: ExactDecimal | None
    hysteresis_mm: ExactDecimal | None
    repeatability_mm: ExactDecimal | None


class GaugeInterval(StrictModel):
    """The rule by which a gauge is due again; None for what its rule does not use."""

    rule: Literal["fixed", "reactive", "reliability"]
    months: int
    least: int | None
    most: int | None
    longer_by: int | None
    shorter_by: int | None
    good_results: int | None
    reliability: ExactDecimal | None
    """In per cent, as ``confidence``."""
    confidence: ExactDecimal | None


class GaugeEntered(StrictModel):
    """A gauge, what it may err, and when it is due again."""

    kind: Literal["gauge"] = "gauge"
    format: Literal[1] = 1
    uid: Uid
    at: UtcTime
    operator: Filled
    source: Words
    label: Filled
    identity: Words
    """The adapter's stable identity, or empty if it has none."""
    is_a: Literal["indicator", "depth gauge", "probe"]
    range_mm: ExactDecimal
    step_mm: ExactDecimal
    profile: Filled
    expansion: ExactDecimal
    u_expansion: ExactDecimal
    limits: GaugeLimits
    interval: GaugeInterval


class StatusChanged(StrictModel):
    """A standard or a gauge is taken out of use, or may be used again."""

    kind: Literal["status"] = "status"
    format: Literal[1] = 1
    uid: Uid
    at: UtcTime
    operator: Filled
    about: Literal["standard", "gauge"]
    name: Filled
    """The standard's id or the gauge's label."""
    what: Literal["withdrawn", "returned to use"]
    reason: Filled
    by: Filled
    """Who answers for it."""


RegisterRecord = StandardEntered | GaugeEntered | StatusChanged
"""Any record of the register."""
