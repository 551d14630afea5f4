"""Correlation coefficients between inputs, checked once: known names, ±1, possible together."""

import math
from collections.abc import Mapping, Sequence

from daq.calibration.errors import CalibrationError

Correlations = Mapping[tuple[str, str], float]
"""Correlation coefficients by pair of input names, in either order; what is left out is 0."""


def checked(correlations: Correlations, names: Sequence[str]) -> dict[tuple[str, str], float]:
    """The coefficients that are not zero, each pair in the order of ``names``.

    Raises:
        CalibrationError: an unknown name, an input with itself, a pair given twice, a coefficient
            beyond ±1, or coefficients that contradict each other.
    """
    place = {name: n for n, name in enumerate(names)}
    kept: dict[tuple[str, str], float] = {}
    for (a, b), r in correlations.items():
        for name in (a, b):
            if name not in place:
                raise CalibrationError(f"a correlation names '{name}', which is no input here")
        if a == b:
            raise CalibrationError(f"'{a}' needs no correlation with itself; leave it out")
        if not -1 <= r <= 1:
            raise CalibrationError(f"the correlation of '{a}' and '{b}' is {r}; it is from -1 to 1")
        pair = (a, b) if place[a] < place[b] else (b, a)
        if pair in kept:
            raise CalibrationError(f"the correlation of '{a}' and '{b}' is given twice")
        kept[pair] = r
    kept = {pair: r for pair, r in kept.items() if r != 0}
    if kept:
        cholesky(kept, sorted({n for pair in kept for n in pair}, key=place.__getitem__))
    return kept


def cholesky(correlations: Correlations, names: Sequence[str]) -> list[list[float]]:
    """The lower triangle L with L·Lᵀ equal to the correlation matrix of ``names``.

    A matrix that is only just possible, such as one with a coefficient of ±1, is allowed.

    Raises:
        CalibrationError: no quantities can be correlated like that.
    """
    lower: list[list[float]] = []
    for i, a in enumerate(names):
        row: list[float] = []
        for j, b in enumerate(names[: i + 1]):
            r = 1.0 if i == j else correlations.get((a, b), correlations.get((b, a), 0.0))
            left = r - math.fsum(
                p * q for p, q in zip(row, lower[j] if j < i else row, strict=False)
            )
            if i == j:
                if left < -1e-10:
                    raise _impossible(a)
                row.append(math.sqrt(max(left, 0.0)))
            elif lower[j][j] > 1e-7:
                row.append(left / lower[j][j])
            elif abs(left) > 1e-7:
                raise _impossible(a)
            else:
                row.append(0.0)
        lower.append(row)
    return lower


def _impossible(name: str) -> CalibrationError:
    return CalibrationError(
        f"the correlations with '{name}' contradict each other: no quantities can have them all"
    )
