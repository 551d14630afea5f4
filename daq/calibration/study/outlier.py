"""Does one value not belong to the others? Grubbs' test.

Source: F. E. Grubbs, Technometrics 11 (1969) 1; NIST/SEMATECH e-Handbook, 1.3.5.17.1.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from daq.calibration.study.errors import StudyError
from daq.calibration.study.numerics import t_quantile
from daq.settle.statistics import mean_and_sd

Side = Literal["either", "high", "low"]


@dataclass(frozen=True, slots=True)
class Grubbs:
    """The value furthest from the mean, and whether it is further than chance takes it.

    The test holds for values of one normal distribution and for one outlier. It says that a value
    is odd, not that it is wrong: look for the reason before leaving it out.
    """

    index: int
    value: float
    g: float
    """Distance from the mean over the standard deviation of all values, itself included."""
    critical: float
    level: float
    side: Side

    @property
    def is_outlier(self) -> bool:
        """Whether ``g`` is above its critical value."""
        return self.g > self.critical


def grubbs(values: Sequence[float], *, level: float = 0.05, side: Side = "either") -> Grubbs:
    """Test the furthest value.

    Args:
        values: 3 at least, in any order.
        level: how often the test may call out a value of a sound set; above 0 and below 1.
        side: which end is looked at: the one that is further, or one chosen beforehand.

    Raises:
        StudyError: fewer than 3 values, or no scatter, or a level that is none.
    """
    n = len(values)
    if n < 3:
        raise StudyError(f"{n} values: which of them is odd nobody can say; 3 at least")
    if not 0 < level < 1:
        raise StudyError(f"a level of {level} is none; it is above 0 and below 1")
    mean, sd = mean_and_sd(values)
    if sd == 0.0:
        raise StudyError("all values are equal: none is further off than another")
    away = [value - mean for value in values]
    if side != "high":
        away = [-each if side == "low" else abs(each) for each in away]
    index = max(range(n), key=away.__getitem__)
    tail = level / (2 * n if side == "either" else n)
    t = t_quantile(1 - tail, n - 2)
    critical = (n - 1) / math.sqrt(n) * math.sqrt(t * t / (n - 2 + t * t))
    return Grubbs(index, values[index], away[index] / sd, critical, level, side)
