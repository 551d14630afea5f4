"""The first harmonic of a turn: how far off centre, where the high spot is, and what is left."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from daq.jobs.recipes.chance import highest_of
from daq.jobs.recipes.fitting import Fit, fit

KNOWN = 3.0
"""The high spot is known when the half swing is this many times its u. Common practice."""

_LOST = math.sqrt(-2 * math.log(0.05)) / 2
"""Where the half swing is lost in noise, 2u must reach 95 % of a Rayleigh distribution, not of a
normal one: 1.22 times as far."""

_ALIASES = (2, 3, 4)
"""Harmonics of form that may leak into the first one where the angles are unequal."""


@dataclass(frozen=True, slots=True)
class FirstHarmonic:
    """mean + half_swing · cos(angle - high), fitted to values over a turn.

    half_swing: in the values' unit, with u_half_swing. high_deg: where the value is highest, 0 to
    360, with u_high_deg; the u is None, and the angle means nothing, where the half swing is not
    three times its u. residuals: value less fit, in the order given: the form, with the noise.
    """

    mean: float
    half_swing: float
    u_half_swing: float
    high_deg: float
    u_high_deg: float | None
    residuals: tuple[float, ...]


def first_harmonic(
    angles_deg: Sequence[float],
    values: Sequence[float],
    u: Sequence[float],
    u_angle_deg: float = 0.0,
) -> FirstHarmonic:
    """Fit the first harmonic by least squares, at any angles.

    Args:
        angles_deg: of the part; need not be equally spaced.
        values: at those angles, in one unit.
        u: their standard uncertainties, independent, in the same unit.
        u_angle_deg: standard uncertainty of each angle, independent.

    Returns:
        The fit. Its u holds the u of values and angles and, at unequal angles, the form of the
        part, which then leaks into the first harmonic; at equal angles it does not. Noise makes a
        half swing near nothing read too large, to first order by u²/(2 · half swing); where it
        is not three times its u, the u is widened for that.

    Raises:
        NoFitError: the angles cannot tell it, as when all lie at two places.

    Source: least squares of cosines, textbook; propagation after JCGM 100:2008, 5.1.2.
    """
    turns = [math.radians(angle) for angle in angles_deg]
    found = fit([[1.0, math.cos(t), math.sin(t)] for t in turns], values)
    mean, a, b = found.parameters
    half_swing, high = math.hypot(a, b), math.atan2(b, a)
    steep = half_swing * math.radians(u_angle_deg)
    u_all = [math.hypot(each, steep * math.sin(t - high)) for each, t in zip(u, turns, strict=True)]
    excess = _form(found, u_all)
    u_along, u_across = (
        math.hypot(
            *(g * each for g, each in zip(gains, u_all, strict=True)),
            excess * _leak(gains, turns),
        )
        for gains in (
            _gains(found, math.cos(high), math.sin(high)),
            _gains(found, -math.sin(high), math.cos(high)),
        )
    )
    known = half_swing > KNOWN * max(u_along, u_across)
    return FirstHarmonic(
        mean,
        half_swing,
        u_along if known else _LOST * max(u_along, u_across),
        math.degrees(high) % 360.0,
        math.degrees(u_across / half_swing) if known else None,
        found.residuals,
    )


def peak_to_valley(values: Sequence[float], u: Sequence[float]) -> tuple[float, float, float]:
    """Highest less lowest of noisy values, and what noise does to it.

    Returns:
        The difference; the standard uncertainty of the two values it is from; and by how much
        noise may have made it too large: of values that noise cannot tell from the highest, it
        picks the luckiest, and so for the lowest. It is not taken off: as run-out and form have an
        upper limit, that errs to the safe side.

    Source: common practice; the size of the effect after Blom, see `highest_of`.
    """
    top, bottom = max(values), min(values)
    u_each = math.hypot(*u) / math.sqrt(len(u))
    near = 3 * math.sqrt(2) * u_each
    tops = sum(value >= top - near for value in values)
    bottoms = sum(value <= bottom + near for value in values)
    upward = u_each * (highest_of(tops) + highest_of(bottoms))
    return top - bottom, math.sqrt(2) * u_each, upward


def _gains(found: Fit, times_a: float, times_b: float) -> list[float]:
    """How the first harmonic in one direction follows each value."""
    _, of_a, of_b = found.gains
    return [times_a * a + times_b * b for a, b in zip(of_a, of_b, strict=True)]


def _form(found: Fit, u: Sequence[float]) -> float:
    """Amplitude of the form left over that the values' own u does not explain."""
    if found.dof < 1:
        return 0.0
    square = math.fsum(r * r for r in found.residuals) / found.dof
    own = math.fsum(each * each for each in u) / len(u)
    return math.sqrt(2 * max(0.0, square - own))


def _leak(gains: Sequence[float], turns: Sequence[float]) -> float:
    """How much of a higher harmonic of unknown phase comes through, as a standard deviation."""
    return max(
        math.hypot(
            math.fsum(g * math.cos(k * t) for g, t in zip(gains, turns, strict=True)),
            math.fsum(g * math.sin(k * t) for g, t in zip(gains, turns, strict=True)),
        )
        for k in _ALIASES
    ) / math.sqrt(2)
