"""Constants of control charts, from the distribution of the range and of the standard deviation.

All are for n independent values of a normal distribution with standard deviation 1. They are
integrated here instead of being kept as a table; a test holds them against printed tables.

Sources: L. H. C. Tippett, Biometrika 17 (1925) 364 (the range); NIST/SEMATECH e-Handbook of
Statistical Methods, 6.3.2.1 (the chart factors); A. J. Duncan, Industrial Quality Control 14 (1958)
for d2*.
"""

import math
from dataclasses import dataclass
from functools import lru_cache

_SQRT2 = math.sqrt(2.0)
_STEP_X, _FAR_X = 0.125, 8.5
_STEP_W, _FAR_W = 0.05, 14.0
_MOST = 100


@dataclass(frozen=True, slots=True)
class ChartConstants:
    """Factors for subgroups of ``n``: of the mean range R̄ or the mean standard deviation s̄."""

    n: int
    d2: float
    """Mean of the range."""
    d3: float
    """Standard deviation of the range."""
    c4: float
    """Mean of the standard deviation."""

    @property
    def a2(self) -> float:
        """Limits of averages: ± a2·R̄."""
        return 3.0 / (self.d2 * math.sqrt(self.n))

    @property
    def a3(self) -> float:
        """Limits of averages: ± a3·s̄."""
        return 3.0 / (self.c4 * math.sqrt(self.n))

    @property
    def d3_lower(self) -> float:
        """Lower limit of ranges, in R̄ (written D3)."""
        return max(0.0, 1.0 - 3.0 * self.d3 / self.d2)

    @property
    def d4_upper(self) -> float:
        """Upper limit of ranges, in R̄ (written D4)."""
        return 1.0 + 3.0 * self.d3 / self.d2

    @property
    def b3_lower(self) -> float:
        """Lower limit of standard deviations, in s̄ (written B3)."""
        return max(0.0, 1.0 - self._b)

    @property
    def b4_upper(self) -> float:
        """Upper limit of standard deviations, in s̄ (written B4)."""
        return 1.0 + self._b

    @property
    def e2(self) -> float:
        """Limits of single values: ± e2·R̄."""
        return 3.0 / self.d2

    @property
    def _b(self) -> float:
        return 3.0 * math.sqrt(1.0 - self.c4**2) / self.c4


@lru_cache(maxsize=_MOST)
def chart_constants(n: int) -> ChartConstants:
    """The constants for subgroups of ``n`` values.

    Raises:
        ValueError: n is below 2 or above 100.
    """
    if not 2 <= n <= _MOST:
        raise ValueError(f"a subgroup has from 2 to {_MOST} values, not {n}")
    d2, mean_square = _moments_of_range(n)
    c4 = math.sqrt(2.0 / (n - 1)) * math.exp(math.lgamma(n / 2) - math.lgamma((n - 1) / 2))
    return ChartConstants(n, d2, math.sqrt(mean_square - d2 * d2), c4)


def d2_star(subgroups: int, n: int) -> float:
    """√(d2² + d3²/g): what the mean range of g subgroups of n, squared, is expected to be, rooted.

    ``subgroups`` = 1 gives the divisor for a single range. It falls towards d2 as g grows.
    """
    if subgroups < 1:
        raise ValueError(f"a mean range needs 1 subgroup at least, not {subgroups}")
    of = chart_constants(n)
    return math.sqrt(of.d2**2 + of.d3**2 / subgroups)


def _moments_of_range(n: int) -> tuple[float, float]:
    """Mean and mean square of the range, from its density.

    f(w) = n(n − 1) ∫ φ(x)·φ(x + w)·(Φ(x + w) − Φ(x))^(n − 2) dx. The inner integral by the
    trapezoidal rule about its middle, where both ends vanish; the outer one by Simpson's rule.
    """
    steps = round(_FAR_W / _STEP_W)
    mean = mean_square = 0.0
    for k in range(1, steps + 1):
        w = k * _STEP_W
        weight = (1 if k == steps else 4 if k % 2 else 2) * _STEP_W / 3.0
        density = weight * n * (n - 1) * _density_core(n, w)
        mean += density * w
        mean_square += density * w * w
    return mean, mean_square


def _density_core(n: int, w: float) -> float:
    steps = round(_FAR_X / _STEP_X)
    total = 0.0
    for k in range(-steps, steps + 1):
        low = k * _STEP_X - w / 2
        high = low + w
        # By the tails on the near side: a difference of two numbers near one loses digits.
        inside = (math.erf(high / _SQRT2) - math.erf(low / _SQRT2)) / 2
        total += math.exp(-(low * low + high * high) / 2) * inside ** (n - 2)
    return total * _STEP_X / (2.0 * math.pi)
