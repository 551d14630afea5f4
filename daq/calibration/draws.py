"""Random values of a budget's inputs, each from the distribution that is known of it.

This module needs numpy; `daq.calibration.monte_carlo` loads it when a run starts.
"""

import math
from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from daq.calibration.correlation import Correlations, cholesky
from daq.calibration.errors import CalibrationError
from daq.calibration.inputs import Input

Values = NDArray[np.float64]


def draw(
    inputs: Sequence[Input], correlations: Correlations, trials: int, rng: np.random.Generator
) -> Mapping[str, Values]:
    """``trials`` values of each input, by name.

    Raises:
        CalibrationError: correlated inputs that are not normal with infinite degrees of freedom:
            nothing says then how they are distributed together.

    Source: JCGM 101:2008, 6.4; 6.4.8 for correlated inputs.
    """
    together = [each for each in inputs if any(each.name in pair for pair in correlations)]
    drawn = {each.name: _one(each, trials, rng) for each in inputs if each not in together}
    if together:
        drawn |= _correlated(together, correlations, trials, rng)
    return drawn


def _one(of: Input, trials: int, rng: np.random.Generator) -> Values:
    if of.distribution in ("normal", "t"):
        # 6.4.9.2 and 6.4.9.7: with few degrees of freedom, Student's t scaled by u.
        if math.isinf(of.dof):
            return of.estimate + of.u * rng.standard_normal(trials)
        return of.estimate + of.u * rng.standard_t(of.dof, trials)
    half_width: float | Values = of.stated
    if math.isfinite(of.dof):
        # 6.4.3: limits that are not exactly known are themselves drawn from within their limits.
        inexact = min(1.0, math.sqrt(0.5 / of.dof))
        half_width = of.stated * rng.uniform(1 - inexact, 1 + inexact, trials)
    return of.estimate + half_width * _within_one(of.distribution, trials, rng)


def _within_one(distribution: str, trials: int, rng: np.random.Generator) -> Values:
    """Values within ±1."""
    if distribution == "rectangular":
        return rng.uniform(-1.0, 1.0, trials)
    if distribution == "triangular":
        return rng.random(trials) - rng.random(trials)
    return np.sin(rng.uniform(-math.pi, math.pi, trials))


def _correlated(
    inputs: Sequence[Input], correlations: Correlations, trials: int, rng: np.random.Generator
) -> dict[str, Values]:
    for each in inputs:
        if each.distribution != "normal" or math.isfinite(each.dof):
            raise CalibrationError(
                f"'{each.name}' is correlated, but not normal with u taken as known; there is no "
                "stated distribution of them together to draw from"
            )
    lower = np.array(_square(cholesky(correlations, [each.name for each in inputs])))
    normal = lower @ rng.standard_normal((len(inputs), trials))
    return {
        each.name: each.estimate + each.u * row for each, row in zip(inputs, normal, strict=True)
    }


def _square(lower: list[list[float]]) -> list[list[float]]:
    return [row + [0.0] * (len(lower) - len(row)) for row in lower]
