"""Last digits of what gauges showed, counted by site, operator and step.

A pass is one sample: its points are of one gauge at one level, and so of the same few digits. So
the share of 0 and 5 is kept pass by pass, with its square, and people are compared by that.
"""

import numpy as np
import numpy.typing as npt

from daq.audit.kernel.passes import Passes, Table
from daq.audit.source import Block, Ints

_INCH_NM = 25_400_000

_PARTS = 2.0**26
"""Shares and their squares are whole multiples of 1/this. Sums of such floats are exact up to 2^27
passes, so they come out the same in whatever order and on however many machines they are added."""


def digits(block: Block, made: Passes) -> Table:
    """A row a site, operator and step: ``passes, share, share_squared, d0 … d9``.

    ``share`` is the sum over passes of the share of readings that end in 0 or 5, and
    ``share_squared`` the sum of its squares, each rounded to a multiple of 2^-26. Gauges whose step
    does not let all ten digits come (0.005 mm, say) are left out, and those without a known step.
    """
    step = made.passes["step_nm"].astype(np.int64)
    use = _all_ten(step) & (made.passes["operator"].astype(np.int64) != -1)
    people = np.stack([made.passes["site"], made.passes["operator"], step], axis=1)
    groups, group = _distinct(people[use].astype(np.int64))
    number = np.full(step.size, -10, dtype=np.int64)
    number[use] = group * 10
    digit = _last_digit(block["indicated_nm"], np.maximum(step, 1), made.sizes)
    ends = (digit == 0) | (digit == 5)
    shares = np.add.reduceat(ends, made.starts, dtype=np.int32) / made.sizes
    cell = np.repeat(number, made.sizes) + digit
    counts = np.bincount(cell if use.all() else cell[cell >= 0], minlength=len(groups) * 10)
    found: Table = {
        "site": groups[:, 0],
        "operator": groups[:, 1],
        "step_nm": groups[:, 2],
        "passes": np.bincount(group, minlength=len(groups)),
        "share": _summed(group, _exact(shares[use]), len(groups)),
        "share_squared": _summed(group, _exact(shares[use] ** 2), len(groups)),
    }
    for place in range(10):
        found[f"d{place}"] = counts.reshape(-1, 10)[:, place]
    return found


def _last_digit(values: Ints, step: Ints, sizes: Ints) -> npt.NDArray[np.int8]:
    """The last digit of each value, counted in steps of its pass.

    By division of fractions, which takes a fifth of the time and is exact for all lengths below
    2^53 nm: such a quotient is no nearer to a whole number above it than it can be told apart.
    """
    counts = np.add(values, np.repeat(step // 2, sizes), dtype=np.float64)
    np.divide(counts, np.repeat(step.astype(np.float64), sizes), out=counts)
    np.floor(counts, out=counts)
    tens = counts / 10
    np.floor(tens, out=tens)
    counts -= tens * 10
    return np.clip(counts, 0, 9, out=counts).astype(np.int8)


def _distinct(rows: Ints) -> tuple[Ints, Ints]:
    """The distinct rows, and which of them each row is: by sorting one number a row, not three."""
    odd = np.array([0x1E3779B97F4A7C15, 0x3F58476D1CE4E5B9, 1], dtype=np.int64)
    _, first, group = np.unique((rows * odd).sum(axis=1), return_index=True, return_inverse=True)
    if np.array_equal(rows[first][group], rows):
        return rows[first], group
    found, group = np.unique(rows, axis=0, return_inverse=True)
    return found, group.ravel()


def _summed(group: Ints, values: np.ndarray, groups: int) -> np.ndarray:
    """The sum of each group; of numbers with a fraction also where there is none."""
    return np.bincount(group, weights=values, minlength=groups).astype(np.float64)


def _exact(shares: np.ndarray) -> np.ndarray:
    """Shares of which every sum is exact."""
    return np.rint(shares * _PARTS) / _PARTS


def _all_ten(step: np.ndarray) -> np.ndarray:
    """Whether a step is a power of ten, of a millimetre or of an inch."""
    powers = [10**power for power in range(8)]
    powers += [_INCH_NM // 10**power for power in range(1, 7) if _INCH_NM % 10**power == 0]
    return np.isin(step, powers)
