"""How much a report shows: a fleet has more than anybody reads."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Most:
    """At most so many of each; what is left out is counted and said."""

    findings: int = 12
    """Of a rule."""
    excerpts: int = 2
    """Findings of a rule whose rows are shown."""
    excerpt_rows: int = 8
    sources: int = 8
    edited: int = 12
    reasons: int = 20
    rejected: int = 20
    months: int = 18
    drifts: int = 20
    gauges: int = 8
    """Whose error curves are shown."""
    runs: int = 8
    """Of such a gauge."""
    reliabilities: int = 24
    sites: int = 30
