"""The inputs of an uncertainty budget: an estimate, and how its standard uncertainty was reached.

Every figure is a float in the input's own unit. What was stated (a half-width, an expanded
uncertainty, readings) is kept beside the standard uncertainty, with the divisor between the two.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from daq.calibration.errors import CalibrationError
from daq.calibration.student import normal_k, student_k
from daq.settle.statistics import mean_and_sd

Distribution = Literal["normal", "rectangular", "triangular", "arcsine", "t"]
"""What is known of an input. ``arcsine`` is the U-shaped one: of a swing about a set point."""

DIVISORS: dict[Distribution, float] = {
    "rectangular": math.sqrt(3),
    "triangular": math.sqrt(6),
    "arcsine": math.sqrt(2),
}
"""Half-width over standard uncertainty. Source: JCGM 100:2008, 4.3.7 and 4.3.9; H.1.3.4."""


@dataclass(frozen=True, slots=True)
class Input:
    """One input quantity: its estimate, its standard uncertainty and what that rests on.

    ``stated`` over ``divisor`` is the standard uncertainty: a half-width, an expanded uncertainty,
    or the standard deviation of one reading. ``dof`` are the degrees of freedom, infinite where u
    is taken as known. ``basis`` says it in words. The functions below make inputs.

    Raises:
        CalibrationError: a figure is not finite, ``stated`` is below zero, the divisor is not
            above zero, ``dof`` is not above zero, or there is no name.
    """

    name: str
    estimate: float
    distribution: Distribution
    stated: float
    divisor: float = 1.0
    dof: float = math.inf
    unit: str = ""
    basis: str = ""

    def __post_init__(self) -> None:
        if not self.name.strip():
            raise CalibrationError("an input has no name; every input needs one")
        for what, figure in (("estimate", self.estimate), ("stated figure", self.stated)):
            if not math.isfinite(figure):
                raise CalibrationError(f"the {what} of '{self.name}' is {figure}, not a number")
        if self.stated < 0:
            raise CalibrationError(
                f"the uncertainty of '{self.name}' is {self.stated:g}; it must be 0 or more"
            )
        if not (math.isfinite(self.divisor) and self.divisor > 0):
            raise CalibrationError(
                f"the divisor of '{self.name}' is {self.divisor}; it must be above 0"
            )
        if not self.dof > 0:
            raise CalibrationError(
                f"'{self.name}' has {self.dof} degrees of freedom; they must be above 0"
            )

    @property
    def u(self) -> float:
        """Standard uncertainty (k = 1), in the input's unit."""
        return self.stated / self.divisor


def dof_from_unreliability(relative: float) -> float:
    """Degrees of freedom of a u that may be wrong by ``relative``: 0.25 for 25 %.

    Raises:
        CalibrationError: ``relative`` is not above 0 and at most 1.

    Source: JCGM 100:2008, G.4.2, equation (G.3): ½ (Δu/u)⁻².
    """
    if not 0 < relative <= 1:
        raise CalibrationError(
            f"an unreliability of {relative} makes no sense; 0.25 means that u may be wrong by 25 %"
        )
    return 0.5 / (relative * relative)


def standard(
    name: str, estimate: float, u: float, *, dof: float = math.inf, unit: str = ""
) -> Input:
    """An input whose standard uncertainty is given as such."""
    return Input(name, estimate, "normal", u, 1.0, dof, unit, "standard uncertainty given")


def from_expanded(
    name: str, estimate: float, expanded: float, *, k: float, dof: float = math.inf, unit: str = ""
) -> Input:
    """An input from a certificate that states U and its coverage factor k: u = U / k.

    Source: JCGM 100:2008, 4.3.3.
    """
    return Input(name, estimate, "normal", expanded, k, dof, unit, f"U with k = {k:g}")


def from_level(
    name: str,
    estimate: float,
    expanded: float,
    *,
    level: float,
    dof: float = math.inf,
    unit: str = "",
) -> Input:
    """An input from a half-interval stated for a level of confidence.

    The divisor is the normal k, or Student's t where the degrees of freedom are stated too.

    Source: JCGM 100:2008, 4.3.4 and 4.3.5; H.1.3.2 for Student's t.
    """
    k = normal_k(level) if math.isinf(dof) else student_k(level, dof)
    return Input(
        name, estimate, "normal", expanded, k, dof, unit, f"interval for {level * 100:g} %"
    )


def from_limits(
    name: str,
    estimate: float,
    half_width: float,
    distribution: Literal["rectangular", "triangular", "arcsine"] = "rectangular",
    *,
    unreliability: float | None = None,
    unit: str = "",
) -> Input:
    """An input known to lie within ``estimate`` ± ``half_width``.

    Args:
        name: what it is.
        estimate: the middle of the limits.
        half_width: half the distance between them.
        distribution: how it lies between them.
        unreliability: by how much, relatively, the half-width may be wrong; None if it is certain.
        unit: of the figures.

    Source: JCGM 100:2008, 4.3.7 to 4.3.9.
    """
    if distribution not in DIVISORS:
        raise CalibrationError(f"'{distribution}' has no limits; take one of {', '.join(DIVISORS)}")
    dof = math.inf if unreliability is None else dof_from_unreliability(unreliability)
    basis = f"within ±{half_width:g}"
    if unreliability is not None:
        basis += f", reliable to {unreliability * 100:g} %"
    divisor = DIVISORS[distribution]
    return Input(name, estimate, distribution, half_width, divisor, dof, unit, basis)


def from_step(name: str, step: float, *, unit: str = "") -> Input:
    """The rounding of a display with the digital step ``step``: zero, within half a step.

    Zero setting and reading each round once: such an input belongs into the budget twice.

    Source: JCGM 100:2008, F.2.2.1: u = step / √12.
    """
    divisor = DIVISORS["rectangular"]
    basis = f"display step {step:g}"
    return Input(name, 0.0, "rectangular", step / 2, divisor, math.inf, unit, basis)


def from_readings(name: str, readings: Sequence[float], *, unit: str = "") -> Input:
    """An input that is the mean of independent repeated readings: u = s/√n with n - 1 dof.

    Raises:
        CalibrationError: fewer than two readings, or one that is not finite.

    Source: JCGM 100:2008, 4.2.3.
    """
    n = len(readings)
    if n < 2 or not all(math.isfinite(each) for each in readings):
        raise CalibrationError(
            f"'{name}' needs at least two readings, all finite; it has {n}. "
            "One reading says nothing of its scatter"
        )
    mean, sd = mean_and_sd(readings)
    return Input(name, mean, "t", sd, math.sqrt(n), n - 1, unit, f"mean of {n} readings")


def from_pooled(
    name: str, estimate: float, sd: float, *, n: int, dof: float, unit: str = ""
) -> Input:
    """An input that is the mean of ``n`` readings, their scatter known from earlier ones.

    Args:
        name: what it is.
        estimate: the mean.
        sd: pooled standard deviation of one reading.
        n: readings in the mean.
        dof: degrees of freedom of ``sd``.
        unit: of the figures.

    Source: JCGM 100:2008, 4.2.4.
    """
    if n < 1:
        raise CalibrationError(f"'{name}' is the mean of {n} readings; it needs at least one")
    basis = f"mean of {n}, pooled s"
    return Input(name, estimate, "t", sd, math.sqrt(n), dof, unit, basis)


def correlation_of_means(first: Sequence[float], second: Sequence[float]) -> float:
    """The correlation coefficient of two means whose readings were taken in pairs.

    Raises:
        CalibrationError: not the same number of readings, fewer than three pairs, or readings
            that do not vary.

    Source: JCGM 100:2008, 5.2.3, equations (17) and (18); with two pairs it would be ±1 always.
    """
    if len(first) != len(second) or len(first) < 3:
        raise CalibrationError(
            f"a correlation needs three pairs or more, not {len(first)} and {len(second)} readings"
        )
    (mean_a, sd_a), (mean_b, sd_b) = mean_and_sd(first), mean_and_sd(second)
    if sd_a == 0 or sd_b == 0:
        raise CalibrationError("readings that do not vary have no correlation; leave it out")
    products = math.fsum(
        (a - mean_a) * (b - mean_b) for a, b in zip(first, second, strict=True)
    ) / (len(first) - 1)
    return max(-1.0, min(1.0, products / (sd_a * sd_b)))
