"""How often gauges are found within their errors at the end of their interval, and the next one.

A proposal is a proposal: it says by which rule it was made and which data it rests on.

Sources: C. J. Clopper and E. S. Pearson, Biometrika 26 (1934) 404 (exact interval); ILAC-G24 / OIML
D 10 (how intervals may be chosen: fixed, stepwise after each result, from the fleet's reliability).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from daq.calibration.study.errors import StudyError
from daq.calibration.study.numerics import beta_quantile

Found = Literal["within", "near", "beyond"]
"""As found at calibration: well within the permissible error, within but near it, or beyond it."""


@dataclass(frozen=True, slots=True)
class Binomial:
    """A share observed, and the interval that holds the true one with ``confidence`` at least."""

    successes: int
    trials: int
    low: float
    high: float
    confidence: float

    @property
    def observed(self) -> float:
        """Successes over trials."""
        return self.successes / self.trials


@dataclass(frozen=True, slots=True)
class Proposal:
    """A calibration interval, in the unit of the one before it."""

    interval: float
    rule: str
    """By which rule it was made, in words."""
    rests_on: str
    """Which data it was made from, in words."""


@dataclass(frozen=True, slots=True)
class Staircase:
    """How an interval is changed after a calibration, within ``shortest`` and ``longest``.

    ``longer`` and ``shorter`` are factors. ``near`` says from which share of the permissible error
    an error as found counts as near. The figures are a house's own choice, not a standard's.
    """

    shortest: float
    longest: float
    longer: float = 1.25
    shorter: float = 0.5
    near: float = 0.8

    def __post_init__(self) -> None:
        if not 0 < self.shortest <= self.longest < math.inf:
            raise StudyError(
                f"intervals from {self.shortest} to {self.longest} are none; write the shorter "
                "first, above 0"
            )
        if not (self.longer >= 1 and 0 < self.shorter <= 1 and 0 < self.near <= 1):
            raise StudyError(
                f"factors longer {self.longer}, shorter {self.shorter}, near {self.near}: the "
                "first must be 1 or more, the others above 0 and at most 1"
            )

    def found(self, error: float, permissible: float) -> Found:
        """What an error as found counts as; both in one unit, ``permissible`` above 0."""
        if not permissible > 0:
            raise StudyError(f"a permissible error of {permissible} is none; it is above 0")
        share = abs(error) / permissible
        return "beyond" if share > 1 else "near" if share > self.near else "within"


def binomial_interval(successes: int, trials: int, confidence: float = 0.95) -> Binomial:
    """The exact two-sided interval for a share, after Clopper and Pearson.

    Raises:
        StudyError: no trials, more successes than trials, or a confidence that is none.
    """
    if not (trials > 0 and 0 <= successes <= trials and 0 < confidence < 1):
        raise StudyError(
            f"{successes} of {trials} at a confidence of {confidence} has no interval; it takes 1 "
            "trial or more, no more successes than trials, and a confidence between 0 and 1"
        )
    tail, failures = (1 - confidence) / 2, trials - successes
    low = beta_quantile(tail, successes, failures + 1) if successes else 0.0
    # The upper end is one less the lower end of the failures: so both keep their digits.
    high = 1.0 - (beta_quantile(tail, failures, successes + 1) if failures else 0.0)
    return Binomial(successes, trials, low, high, confidence)


def trials_without_failure(reliability: float, confidence: float) -> int:
    """How many successes without a failure show a reliability with this confidence (one-sided).

    Raises:
        StudyError: one of them is not above 0 and below 1.
    """
    if not (0 < reliability < 1 and 0 < confidence < 1):
        raise StudyError("reliability and confidence must each be above 0 and below 1")
    # The tiny part taken off keeps an exact whole number from being rounded up by its last bit.
    return math.ceil(math.log(1 - confidence) / math.log(reliability) - 1e-12)


def fixed(interval: float) -> Proposal:
    """The same interval again."""
    return Proposal(_length(interval), "fixed interval", "no data: the interval is set by hand")


def stepwise(interval: float, found: Sequence[Found], rule: Staircase) -> Proposal:
    """Longer after a result well within, the same after one near, shorter after one beyond.

    Args:
        interval: the one that has just ended.
        found: the gauge's own results, oldest first; the last one decides.
        rule: the factors and bounds.

    Raises:
        StudyError: no result, or no interval.
    """
    if not found:
        raise StudyError("no calibration so far: a stepwise rule has nothing to go by; fix one")
    factor, done = {
        "within": (rule.longer, "lengthened"),
        "near": (1.0, "kept"),
        "beyond": (rule.shorter, "shortened"),
    }[found[-1]]
    wanted = _length(interval) * factor
    held = min(max(wanted, rule.shortest), rule.longest)
    bound = "" if held == wanted else f", held at {held:g}"
    return Proposal(
        held,
        f"stepwise: {done} by a factor of {factor:g}{bound}",
        f"the last result ({found[-1]}) of {len(found)}",
    )


def scaled_interval(interval: float, observed: float, target: float) -> float:
    """The interval at whose end the reliability is ``target``, if failures come at a constant rate.

    interval · ln(target) / ln(observed): the exponential model.

    Raises:
        StudyError: a reliability that is not above 0 and below 1, or no interval.
    """
    if not (0 < observed < 1 and 0 < target < 1):
        raise StudyError(
            f"reliability {observed} observed, {target} wanted: each must be above 0 and below 1"
        )
    return _length(interval) * math.log(target) / math.log(observed)


def for_reliability(
    interval: float,
    in_tolerance: int,
    calibrations: int,
    *,
    target: float,
    shortest: float,
    longest: float,
    confidence: float = 0.95,
) -> Proposal:
    """The interval for a fleet that has been calibrated at one interval.

    It is changed only where the data say so: shorter, to what the share observed gives, if even
    the upper end of its interval is below ``target``; longer, to what the lower end gives, if that
    is above. Between, the data cannot tell, and the interval stays.

    Args:
        interval: the one that all these calibrations ended.
        in_tolerance: how many were found within their errors.
        calibrations: how many there were.
        target: the wanted share found within.
        shortest: no interval is proposed below it.
        longest: no interval is proposed above it.
        confidence: of the binomial interval.

    Raises:
        StudyError: as ``binomial_interval`` and ``scaled_interval``.
    """
    seen = binomial_interval(in_tolerance, calibrations, confidence)
    if not 0 < target < 1:
        raise StudyError(f"a target of {target} is none; it is above 0 and below 1")
    bounds = Staircase(shortest, longest)
    rests_on = (
        f"{in_tolerance} of {calibrations} found within their errors at the end of {interval:g}: "
        f"{100 * seen.observed:.1f} %, "
        f"{100 * confidence:g} % interval {100 * seen.low:.1f} % to {100 * seen.high:.1f} %"
    )
    if seen.high < target:
        # With none found within, the share observed gives no rate: its upper end is used.
        rate = seen.observed if in_tolerance > 0 else seen.high
        wanted, done = scaled_interval(interval, rate, target), "shortened"
    elif seen.low > target:
        wanted, done = scaled_interval(interval, seen.low, target), "lengthened"
    else:
        wanted, done = _length(interval), "kept: the data cannot tell it from the target"
    held = min(max(wanted, bounds.shortest), bounds.longest)
    bound = "" if held == wanted else f", held at {held:g}"
    return Proposal(held, f"reliability target {100 * target:.1f} %: {done}{bound}", rests_on)


def _length(interval: float) -> float:
    if not (math.isfinite(interval) and interval > 0):
        raise StudyError(f"an interval of {interval} is none; it is above 0")
    return interval
