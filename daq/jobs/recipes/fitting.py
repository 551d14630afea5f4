"""Least squares for a few parameters, and how far the residuals agree with the values' own u.

Plain Python: a recipe has a handful of points, and a job must start at once.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from daq.jobs.recipes.chance import chi_square_tail, safety_factor

WIDENED_AT = 0.3
"""Scatter that chance gives less often than this is taken as real.

Found by simulation: from three repeats on, ±2u then covers 92 % to 97 %, whatever the true scatter.
Common practice, no source.
"""

DOUBTED_AT = 0.01
"""Scatter that chance gives less often than this is told to the fitter. Common practice."""

_LEAST_U_MM = 1e-6
"""A nanometre: an uncertainty of nothing is not believed."""


class NoFitError(ValueError):
    """The points do not lie so that the parameters could be told from them."""


@dataclass(frozen=True, slots=True)
class Fit:
    """Parameters by ordinary least squares.

    gains: for each parameter how it follows each value, so that any uncertainty of the values can
    be carried through. dof: values less parameters.
    """

    parameters: tuple[float, ...]
    gains: tuple[tuple[float, ...], ...]
    residuals: tuple[float, ...]
    dof: int

    def own_u(self, parameter: int, u: Sequence[float]) -> float:
        """Standard uncertainty of a parameter from that of the values, taken as independent."""
        return math.hypot(*(g * each for g, each in zip(self.gains[parameter], u, strict=True)))


def fit(rows: Sequence[Sequence[float]], values: Sequence[float]) -> Fit:
    """Parameters p that bring rows · p nearest to the values, all of equal weight.

    Args:
        rows: for each value, how it follows each parameter.
        values: at least as many as there are parameters.

    Raises:
        NoFitError: the rows do not tell the parameters apart.
    """
    count = len(rows[0])
    if len(values) < count:
        raise NoFitError(f"{len(values)} values cannot give {count} parameters")
    inverse = _inverse(
        [[math.fsum(row[i] * row[j] for row in rows) for j in range(count)] for i in range(count)]
    )
    gains = tuple(
        tuple(math.fsum(g * x for g, x in zip(line, row, strict=True)) for row in rows)
        for line in inverse
    )
    found = tuple(
        math.fsum(g * value for g, value in zip(line, values, strict=True)) for line in gains
    )
    residuals = tuple(
        value - math.fsum(p * x for p, x in zip(found, row, strict=True))
        for row, value in zip(rows, values, strict=True)
    )
    return Fit(found, gains, residuals, len(values) - count)


@dataclass(frozen=True, slots=True)
class Agreement:
    """How residuals agree with the u of the values.

    factor: what every u must be multiplied by, 1 or more. scatter: standard deviation seen;
    expected: what it should be from the values' own u; both in the values' unit. chance: how often
    chance alone would give as much scatter.
    """

    factor: float
    scatter: float
    expected: float
    chance: float

    @property
    def is_doubtful(self) -> bool:
        """Whether the scatter is more than chance would ever give."""
        return self.chance < DOUBTED_AT


def agreement(residuals: Sequence[float], u: Sequence[float], dof: int) -> Agreement:
    """The larger of scatter and own u, as a factor on the own u.

    While chance explains the scatter, the factor is scatter over own u, but at least 1. Where it
    does not, the own u does not hold, and only the few residuals tell the scatter: the factor then
    grows by the safety factor for so few, so that ±2u still covers 95 %.

    Args:
        residuals: values less what was fitted.
        u: standard uncertainty of each value, in the same unit.
        dof: degrees of freedom of the residuals; 0 gives a factor of 1.

    Source: larger of the two after JCGM 100:2008, 4.2 and 4.3; safety factor: see `safety_factor`.
    """
    expected = max(math.hypot(*u) / math.sqrt(len(u)), _LEAST_U_MM)
    if dof < 1:
        return Agreement(1.0, 0.0, expected, 1.0)
    scatter = math.hypot(*residuals) / math.sqrt(dof)
    ratio = scatter / expected
    chance = chi_square_tail(ratio * ratio * dof, dof)
    factor = max(1.0, ratio)
    if chance < WIDENED_AT:
        factor = ratio * safety_factor(dof)
    return Agreement(factor, scatter, expected, chance)


def _inverse(matrix: list[list[float]]) -> list[list[float]]:
    """Inverse of a small symmetric positive matrix, scaled to a unit diagonal for a fair check."""
    n = len(matrix)
    scale = [math.sqrt(matrix[i][i]) for i in range(n)]
    if min(scale) == 0:
        raise NoFitError("a parameter has no effect on any value")
    work = [
        [matrix[i][j] / (scale[i] * scale[j]) for j in range(n)]
        + [1.0 if i == j else 0.0 for j in range(n)]
        for i in range(n)
    ]
    for k in range(n):
        best = max(range(k, n), key=lambda row: abs(work[row][k]))
        # Below this two parameters act alike to within a part in ten thousand.
        if abs(work[best][k]) < 1e-8:
            raise NoFitError("the points lie so that the parameters cannot be told apart")
        work[k], work[best] = work[best], work[k]
        work[k] = [each / work[k][k] for each in work[k]]
        for row in range(n):
            if row != k:
                times = work[row][k]
                work[row] = [a - times * b for a, b in zip(work[row], work[k], strict=True)]
    return [[work[i][n + j] / (scale[i] * scale[j]) for j in range(n)] for i in range(n)]
