"""Risks of a decision: accepting what does not conform, rejecting what does.

Specific risks are those of one measured value, global ones those of a whole process: how it
spreads is the prior, and must be stated. All lengths are in one unit, and measured values are
taken as normal about the true one with the standard uncertainty.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from daq.calibration.errors import CalibrationError
from daq.calibration.integration import integral
from daq.calibration.student import normal_k
from daq.spec.probability import below, between

_FAR = 12.0
"""Standard deviations: what a normal distribution holds beyond them is 4e-33."""


@dataclass(frozen=True, slots=True)
class Band:
    """Limits, either of which may be missing. What lies on a limit is within it.

    Raises:
        CalibrationError: no limit at all, one that is not finite, or the lower above the upper.
    """

    lower: float | None
    upper: float | None

    def __post_init__(self) -> None:
        ends = [end for end in (self.lower, self.upper) if end is not None]
        if not ends or not all(math.isfinite(end) for end in ends):
            raise CalibrationError(f"limits of {self.lower} and {self.upper} limit nothing")
        if len(ends) == 2 and ends[0] > ends[1]:
            raise CalibrationError(f"the lower limit {ends[0]:g} is above the upper, {ends[1]:g}")

    def narrowed(self, guard: float) -> "Band":
        """The band with a guard band taken off at each limit; a negative guard widens it.

        Raises:
            CalibrationError: nothing is left.

        Source: JCGM 106:2012, 8.3.2: w = T - A.
        """
        lower = None if self.lower is None else self.lower + guard
        upper = None if self.upper is None else self.upper - guard
        if lower is not None and upper is not None and lower > upper:
            raise CalibrationError(
                f"two guard bands of {guard:g} leave no acceptance zone between {self.lower:g} "
                f"and {self.upper:g}"
            )
        return Band(lower, upper)

    def probability(self, mean: float, sd: float) -> float:
        """How likely a normal variable lies within the band."""
        low = -math.inf if self.lower is None else (self.lower - mean) / sd
        high = math.inf if self.upper is None else (self.upper - mean) / sd
        return between(low, high)

    def probability_outside(self, mean: float, sd: float) -> float:
        """How likely it lies outside, from the tails themselves: a small one keeps its digits."""
        low = 0.0 if self.lower is None else below((self.lower - mean) / sd)
        high = 0.0 if self.upper is None else below((mean - self.upper) / sd)
        return low + high


@dataclass(frozen=True, slots=True)
class NormalPrior:
    """A process whose true values are normal with this mean and standard deviation.

    Raises:
        CalibrationError: a figure is not finite, or ``sd`` is not above 0.
    """

    mean: float
    sd: float

    def __post_init__(self) -> None:
        if not math.isfinite(self.mean) or not (math.isfinite(self.sd) and self.sd > 0):
            raise CalibrationError(
                f"a prior with mean {self.mean} and standard deviation {self.sd} makes no sense"
            )

    @classmethod
    def of_reliability(cls, band: Band, share: float) -> "NormalPrior":
        """The centred prior of which ``share`` lies within a band with two limits.

        Raises:
            CalibrationError: a limit is missing, or ``share`` is not between 0 and 1.
        """
        if band.lower is None or band.upper is None:
            raise CalibrationError("a centred prior needs limits on both sides")
        half_width = (band.upper - band.lower) / 2
        return cls((band.upper + band.lower) / 2, half_width / normal_k(share))

    def density(self, x: float) -> float:
        """Probability density of a true value ``x``."""
        z = (x - self.mean) / self.sd
        return math.exp(-0.5 * z * z) / (self.sd * math.sqrt(2 * math.pi))

    @property
    def support(self) -> tuple[float, float]:
        """Where all of it lies, to every digit."""
        return self.mean - _FAR * self.sd, self.mean + _FAR * self.sd

    @property
    def breaks(self) -> tuple[float, ...]:
        """Where to look closely: its body."""
        return tuple(self.mean + n * self.sd for n in (-4, -1, 1, 4))


@dataclass(frozen=True, slots=True)
class DensityPrior:
    """A process with any density of its true values.

    density: the function. support: where it is above 0, as two finite ends; cut it off where the
    rest no longer counts. breaks: places at which the density has a corner or a narrow peak.

    Raises:
        CalibrationError: the density does not integrate to 1 over its support, to 1e-6.
    """

    density: Callable[[float], float]
    support: tuple[float, float]
    breaks: tuple[float, ...] = ()

    def __post_init__(self) -> None:
        low, high = self.support
        if not (math.isfinite(low) and math.isfinite(high) and low < high):
            raise CalibrationError(f"a prior from {low} to {high} has no support")
        total = integral(self.density, low, high, self.breaks)
        if not abs(total - 1) <= 1e-6:
            raise CalibrationError(
                f"the prior holds {total:.7g} of probability, not 1; check the density and its ends"
            )


Prior = NormalPrior | DensityPrior
"""How the true values of a process spread."""


@dataclass(frozen=True, slots=True)
class GlobalRisks:
    """Shares of all the pieces of a process.

    consumer: accepted, though they do not conform. producer: rejected, though they conform.
    conforming, accepted: shares of all. consumer_of_accepted: of those accepted, the share that
    does not conform; None if nothing is accepted.
    """

    consumer: float
    producer: float
    conforming: float
    accepted: float

    @property
    def consumer_of_accepted(self) -> float | None:
        """Of those accepted, the share that does not conform."""
        return self.consumer / self.accepted if self.accepted > 0 else None


def consumer_risk(value: float, u: float, tolerance: Band) -> float:
    """The probability that a piece measured at ``value`` and accepted does not conform.

    Raises:
        CalibrationError: a figure is not finite, or u is not above 0.

    Source: JCGM 106:2012, 9.3.2: 1 - p_c.
    """
    _require_measured(value, u)
    return tolerance.probability_outside(value, u)


def producer_risk(value: float, u: float, tolerance: Band) -> float:
    """The probability that a piece measured at ``value`` and rejected conforms all the same.

    Raises:
        CalibrationError: a figure is not finite, or u is not above 0.

    Source: JCGM 106:2012, 9.3.3: p_c.
    """
    _require_measured(value, u)
    return tolerance.probability(value, u)


def worst_consumer_risk(r: float, k: float = 2.0) -> float:
    """The consumer's risk of a value exactly at the acceptance limit, guarded by w = r·U, U = k·u.

    It is for one limit; where the other is near, its tail comes on top.

    Source: ILAC-G8:09/2019, table of decision rules; 1 - Φ(r·k).
    """
    return below(-r * k)


def knowing(value: float, u: float, prior: NormalPrior) -> tuple[float, float]:
    """A measured value and its u, with a normal prior taken into account: mean and sd.

    Raises:
        CalibrationError: a figure is not finite, or u is not above 0.

    Source: JCGM 106:2012, 6.5 and annex on normal priors: the mean weighted by 1/u² and 1/sd².
    """
    _require_measured(value, u)
    both = math.hypot(u, prior.sd)
    mean = value + (prior.mean - value) * (u / both) ** 2
    return mean, u * prior.sd / both


def global_risks(u: float, tolerance: Band, acceptance: Band, prior: Prior) -> GlobalRisks:
    """What a decision rule lets through and holds back, over a whole process.

    Args:
        u: standard uncertainty of each measured value.
        tolerance: within which a true value conforms.
        acceptance: within which a measured value is accepted, as `Band.narrowed` gives it.
        prior: how the true values spread.

    Raises:
        CalibrationError: ``u`` is not above 0, or not finite.

    Source: JCGM 106:2012, 9.5.2 and 9.5.3, integrated over the true value.
    """
    _require_measured(0.0, u)
    low, high = prior.support
    breaks = list(prior.breaks)
    for end in (acceptance.lower, acceptance.upper):
        if end is not None:  # the step from accepted to rejected, which may be narrow
            breaks += [end + n * u for n in (-8, -3, -1, 0, 1, 3, 8)]

    def share(of: Callable[[float], float], inside: bool) -> float:
        pieces = _pieces(low, high, tolerance, inside)
        return math.fsum(
            integral(lambda x: prior.density(x) * of(x), a, b, breaks) for a, b in pieces
        )

    def accepts(x: float) -> float:
        return acceptance.probability(x, u)

    def rejects(x: float) -> float:
        return acceptance.probability_outside(x, u)

    consumer = share(accepts, inside=False)
    return GlobalRisks(
        consumer=consumer,
        producer=share(rejects, inside=True),
        conforming=share(lambda _: 1.0, inside=True),
        accepted=share(accepts, inside=True) + consumer,
    )


def _pieces(low: float, high: float, band: Band, inside: bool) -> Sequence[tuple[float, float]]:
    """The parts of ``low`` to ``high`` that lie inside, or outside, the band."""
    lower = low if band.lower is None else min(max(band.lower, low), high)
    upper = high if band.upper is None else min(max(band.upper, low), high)
    return [(lower, upper)] if inside else [(low, lower), (upper, high)]


def _require_measured(value: float, u: float) -> None:
    if not math.isfinite(value):
        raise CalibrationError(f"a measured value of {value} has no risk; measure again")
    if not (math.isfinite(u) and u > 0):
        raise CalibrationError(f"a risk needs a standard uncertainty above 0, not {u}")
