"""What the report of an audit is made from: plain facts, whoever worked them out.

Times are whole microseconds since 1970-01-01 UTC, lengths whole nanometres (float64 where they come
out of a computation), as in `daq.audit.layout`; `NULL` stands for an integer that is missing.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    Ints = npt.NDArray[np.int64]
    Floats = npt.NDArray[np.float64]

Severity = Literal["high", "medium", "low"]
Strength = Literal["exact", "p"]


@dataclass(frozen=True, slots=True)
class Excerpt:
    """The first of the rows that a finding cites, as they stand in the log; ``of`` so many."""

    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    of: int


@dataclass(frozen=True, slots=True)
class FindingFacts:
    """One finding. What a finding is not about is empty, or None.

    ``said`` is the rule's sentence with this finding's figures. ``seq_lo`` to ``seq_hi`` are rows
    of the gauge. ``file`` and ``line_lo`` to ``line_hi`` say where they stand, if that is known;
    lines count from 1. ``p``: the chance of it, for a rule that tells by chance.
    """

    said: str
    gauge: str = ""
    site: str = ""
    run: str = ""
    seq_lo: int | None = None
    seq_hi: int | None = None
    p: float | None = None
    file: str = ""
    line_lo: int | None = None
    line_hi: int | None = None
    excerpt: Excerpt | None = None


@dataclass(frozen=True, slots=True)
class RuleFacts:
    """A rule that was run. ``findings``: the worst first; ``count`` may be more than are here.

    ``tests``: how many looks were taken, for a rule that tells by chance. ``parameters``: by name,
    with unit.
    """

    rule: str
    title: str
    severity: Severity
    rests_on: str
    innocent: str
    action: str
    strength: Strength
    count: int
    findings: Sequence[FindingFacts]
    tests: int | None = None
    parameters: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class NotRunFacts:
    """A rule that was not run, and why: what it needs that the log has not."""

    rule: str
    title: str
    why: str


@dataclass(frozen=True, slots=True)
class RejectedRow:
    """A row that could not be read. ``line`` counts from 1; 0 for the whole file."""

    file: str
    line: int
    column: str
    reason: str
    value: str


@dataclass(frozen=True, slots=True)
class RejectedFacts:
    """Rows that could not be read and are in no other figure.

    ``lost``: files nothing could be read of, each with the reason. ``reasons``: file, column,
    reason, how many rows.
    """

    count: int = 0
    lost: Sequence[tuple[str, str]] = ()
    reasons: Sequence[tuple[str, str, str, int]] = ()
    rows: Sequence[RejectedRow] = ()


@dataclass(frozen=True, slots=True)
class SizeFacts:
    """How much was audited. Times are of points and captures; None where there are none."""

    sites: int
    gauges: int
    calibrations: int
    points: int
    captures: int
    first_us: int | None
    last_us: int | None


@dataclass(frozen=True, slots=True, eq=False)
class DueFacts:
    """Until when each gauge is in date: shape (gauges,), `NULL` where no date is known."""

    due_us: "Ints"


@dataclass(frozen=True, slots=True, eq=False)
class DriftFacts:
    """A straight line through the errors of each gauge; arrays of shape (gauges,).

    Slopes are in nanometres a year with the interval of 95 %; no number where too few calibrations
    are there. ``leaves_us``: when the line leaves the limit; `NULL` where it never does, or where
    there is no limit. ``of`` says which errors the line is laid through.
    """

    of: str
    gauges: Sequence[str]
    calibrations: "Ints"
    slope_nm: "Floats"
    low_nm: "Floats"
    high_nm: "Floats"
    limit_nm: "Ints"
    leaves_us: "Ints"


@dataclass(frozen=True, slots=True, eq=False)
class CurveFacts:
    """The errors of one run at its lengths, in the order of the points; shape (points,)."""

    run: str
    found: str
    """``as found``, ``as left``, or empty."""
    at_us: int
    nominal_nm: "Ints"
    error_nm: "Ints"


@dataclass(frozen=True, slots=True)
class GaugeCurves:
    """A gauge with findings: its runs, oldest first."""

    gauge: str
    site: str
    limit_nm: int | None
    findings: int
    runs: Sequence[CurveFacts]


@dataclass(frozen=True, slots=True)
class ReliabilityFacts:
    """Calibrations at the end of an interval: how many found the gauge within its limits."""

    kind: str
    interval_days: int | None
    calibrations: int
    within: int


@dataclass(frozen=True, slots=True)
class SiteFacts:
    """A site and the findings about its gauges and people. The name is empty if it has none."""

    site: str
    gauges: int
    calibrations: int
    captures: int
    high: int
    medium: int
    low: int

    @property
    def findings(self) -> int:
        """All of them."""
        return self.high + self.medium + self.low


@dataclass(frozen=True, slots=True)
class FleetFacts:
    """How the whole fleet stands. A part is None where the log has not what it takes.

    ``curves``: of the gauges with the worst findings first; ``gauges_with_findings`` may be more.
    """

    due: DueFacts | None = None
    drift: DriftFacts | None = None
    curves: Sequence[GaugeCurves] = ()
    gauges_with_findings: int = 0
    reliability: Sequence[ReliabilityFacts] = ()
    sites: Sequence[SiteFacts] = ()


@dataclass(frozen=True, slots=True)
class AuditFacts:
    """All that a report says. ``on``: the day the audit is for; what is overdue is so on it.

    ``rate``: the share of false findings that was allowed among those told by chance. ``sources``:
    the names of what was read. ``notes``: what is no mistake and must be said. ``edited``: where
    the chain of an export does not hold, a sentence each. ``engine``:
    what ran the rules.
    """

    on: date
    sources: Sequence[str]
    size: SizeFacts
    rules: Sequence[RuleFacts]
    not_run: Sequence[NotRunFacts] = ()
    rejected: RejectedFacts = field(default_factory=RejectedFacts)
    fleet: FleetFacts = field(default_factory=FleetFacts)
    rate: float | None = None
    notes: Sequence[str] = ()
    edited: Sequence[str] = ()
    engine: str = ""
