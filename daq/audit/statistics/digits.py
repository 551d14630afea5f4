"""Last digits: whether they come as evenly as measuring makes them, or as people invent them.

A person who makes figures up likes some digits, mostly 0 and 5. A gauge that steps by 0.005 mm
shows no others: so which digits can come at all is worked out from the step first.
"""

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from daq.audit.statistics.gamma import chi_square_p, chi_square_statistic

_HUNDRED_THOUSANDTH_INCH_NM = 254
"""A step in millimetres is never a multiple of it, as it would have to be one of 127."""

LEAST_EXPECTED = 5.0
"""Expected in a class for the chi-square distribution to hold (W. G. Cochran, Biometrics 10 (1954)
417, from memory)."""


@dataclass(frozen=True, slots=True)
class LastDigit:
    """The place of the last digit that a gauge shows, and which digits can come there.

    ``place_nm`` is what a difference of one in it means, in nanometres.
    """

    place_nm: int
    allowed: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class DigitTest:
    """How uneven last digits are.

    ``counts`` go with ``allowed``; ``off_step`` values showed a digit that cannot come, and are not
    among them. ``p`` is the chance of counts at least as uneven, if each digit is as likely. It is
    no number where nothing can be tested: one digit alone can come, or too few values are there.
    """

    allowed: tuple[int, ...]
    counts: tuple[int, ...]
    off_step: int
    chi_square: float
    dof: int
    p: float


def last_digit(step_nm: int) -> LastDigit:
    """Which last digits a gauge can show that steps by ``step_nm``; one in inches is seen as such.

    Raises:
        ValueError: the step is not above 0.
    """
    if step_nm <= 0:
        raise ValueError(f"a step of {step_nm} nm is none; it is above 0")
    inches = step_nm % _HUNDRED_THOUSANDTH_INCH_NM == 0
    unit_nm = _HUNDRED_THOUSANDTH_INCH_NM if inches else 1
    units = step_nm // unit_nm
    while units % 10 == 0:
        units //= 10
        unit_nm *= 10
    return LastDigit(unit_nm, tuple(range(0, 10, math.gcd(units, 10))))


def last_digits(values_nm: npt.ArrayLike, step_nm: int) -> npt.NDArray[np.int64]:
    """The last digit of each value, without its sign; shape as given.

    −1 where the value lies on no step, as a mean of readings may.
    """
    shown = last_digit(step_nm)
    values = np.abs(np.asarray(values_nm, dtype=np.int64))
    return np.where(values % step_nm == 0, values // shown.place_nm % 10, -1)


def digit_test(values_nm: npt.ArrayLike, step_nm: int) -> DigitTest:
    """Whether the last digits of values from a gauge are even.

    Args:
        values_nm: as read, in nanometres; shape (n,). They must spread over many steps: the last
            digit of values that hardly differ is not even, whoever read them.
        step_nm: what the gauge steps by.
    """
    digits = last_digits(values_nm, step_nm)
    return even_digits(
        np.bincount(digits[digits >= 0], minlength=10), step_nm, int(np.sum(digits < 0))
    )


def even_digits(counts: npt.ArrayLike, step_nm: int, off_step: int = 0) -> DigitTest:
    """As ``digit_test``, from the counts of the digits 0 to 9; shape (10,).

    Raises:
        ValueError: not ten counts.
    """
    seen = np.asarray(counts, dtype=np.int64)
    if seen.shape != (10,):
        raise ValueError(f"wanted are the counts of the ten digits, not an array of {seen.shape}")
    allowed = last_digit(step_nm).allowed
    among = seen[list(allowed)]
    off_step += int(seen.sum() - among.sum())
    expected = float(among.sum()) / len(allowed)
    told = tuple(int(each) for each in among)
    if len(allowed) < 2 or expected < LEAST_EXPECTED:
        return DigitTest(allowed, told, off_step, math.nan, len(allowed) - 1, math.nan)
    statistic = chi_square_statistic(among, expected)
    return DigitTest(
        allowed, told, off_step, statistic, len(allowed) - 1, chi_square_p(among, expected)
    )
