"""Rules by which points of a chart say that something has changed.

Two sets, and a chart says which was used. ``limits``: a point beyond three standard deviations.
``zones``: that, and three patterns within the limits, which see small lasting changes sooner and
cry wolf more often: once in 92 points of a process that has not changed, instead of once in 370.

Source: C. W. Champ and W. H. Woodall, Technometrics 29 (1987) 393 (the four rules and how often
each set is wrong); NIST/SEMATECH e-Handbook, 6.3.2 (run rules).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

RuleSet = Literal["limits", "zones"]

BEYOND = "beyond a limit"


@dataclass(frozen=True, slots=True)
class Flag:
    """A point that breaks a rule, and the rule in words."""

    index: int
    """Position of the point, from 0."""
    rule: str


@dataclass(frozen=True, slots=True)
class _Pattern:
    """So many of so many successive points beyond a distance from the centre, on one side."""

    many: int
    of: int
    beyond: float
    words: str


_PATTERNS = (
    _Pattern(2, 3, 2.0, "2 of 3 beyond 2 standard deviations, on one side"),
    _Pattern(4, 5, 1.0, "4 of 5 beyond 1 standard deviation, on one side"),
    _Pattern(8, 8, 0.0, "8 in a row on one side of the centre"),
)


def broken_rules(
    values: Sequence[float], centre: float, sd: float, rules: RuleSet = "zones"
) -> tuple[Flag, ...]:
    """Every rule that is broken, at the point that breaks it, in the order of the points.

    The point itself must be beyond the pattern's distance: one that has come back is not flagged
    for what those before it did. A point exactly on a line is not beyond it.

    Args:
        values: in the order in which they were taken.
        centre: the centre line.
        sd: standard deviation of one value, above 0.
        rules: which set.
    """
    scaled = [(value - centre) / sd for value in values]
    flags = []
    for i, z in enumerate(scaled):
        if abs(z) > 3.0:
            flags.append(Flag(i, BEYOND))
        if rules == "limits":
            continue
        side = 1.0 if z > 0 else -1.0
        for each in _PATTERNS:
            last = scaled[max(0, i + 1 - each.of) : i + 1]
            if side * z > each.beyond and sum(side * x > each.beyond for x in last) >= each.many:
                flags.append(Flag(i, each.words))
    return tuple(flags)
