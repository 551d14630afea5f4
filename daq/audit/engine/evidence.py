"""A finding: what was found of whom, in which rows, how sure it is, and what it means."""

from dataclasses import dataclass, field
from typing import Any

DIGITS = 9
"""Significant digits of every float in a finding. Powers and exponentials differ in the sixteenth
from one engine to the other, and sums by the order they are made in; with these they are equal."""


def steady(value: Any) -> Any:
    """A float to `DIGITS` significant digits; all else as it is."""
    return float(f"{value:.{DIGITS - 1}e}") if isinstance(value, float) else value


@dataclass(frozen=True, slots=True)
class Evidence:
    """One finding of one rule.

    ``gauge`` and ``run`` are empty where a finding is about a person or a place; ``seq_lo`` and
    ``seq_hi`` are numbers of rows of the table ``about``. ``strength`` is "exact" for a fact, or
    "p", and then ``p`` is the chance that it came about by itself. ``facts`` are the columns of the
    query, names as text. Floats have `DIGITS` significant digits, the same on every engine.
    """

    rule: str
    severity: str
    about: str
    gauge: str
    run: str
    seq_lo: int | None
    seq_hi: int | None
    score: float
    strength: str
    p: float | None
    words: str
    facts: dict[str, Any] = field(default_factory=dict, hash=False)
    gauge_number: int | None = None
    """The number of the gauge in its source, to look its rows up by."""


@dataclass(frozen=True, slots=True)
class NotRun:
    """A rule that was not run, and why; never to be taken for one that found nothing."""

    rule: str
    why: str


@dataclass(frozen=True, slots=True)
class Ran:
    """A rule that was run: how many tests it made (None where it states facts), and found."""

    rule: str
    findings: int
    tests: int | None = None


@dataclass(frozen=True, slots=True)
class Audit:
    """What an audit came to.

    ``rows`` by table; ``rate`` is the share of false findings that was allowed to rules by chance.
    ``answers`` are what else was asked of its tables, by name, each as plain arrays.
    """

    findings: tuple[Evidence, ...]
    ran: tuple[Ran, ...]
    not_run: tuple[NotRun, ...]
    rows: dict[str, int]
    rate: float
    answers: dict[str, dict[str, Any]] = field(default_factory=dict, hash=False, compare=False)
