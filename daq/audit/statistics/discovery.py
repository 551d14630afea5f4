"""Which of many findings are told, so that few of those told are false.

An audit of a fleet makes a test for each gauge, run and operator. At a level of 1 % for each, ten
thousand sound gauges give a hundred findings. So the level is set for the whole: of the findings
told, a share of at most q is expected to be false.

Sources: Y. Benjamini and Y. Hochberg, J. R. Statist. Soc. B 57 (1995) 289; Y. Benjamini and
D. Yekutieli, Ann. Statist. 29 (2001) 1165 (for tests that depend on each other in any way).
"""

import numpy as np
import numpy.typing as npt


def benjamini_hochberg(
    p: npt.ArrayLike, q: float, *, tests: int | None = None, any_dependence: bool = False
) -> npt.NDArray[np.bool_]:
    """Which of the tests are findings, with a false discovery rate of at most ``q``.

    The rate is held where the tests are independent, or depend on each other positively.

    Args:
        p: one chance a test; shape (n,). A chance that is no number is never a finding.
        q: the share of false findings among those told that is allowed, above 0 and below 1.
        tests: how many tests were made, where only the smaller chances were kept; at least n.
        any_dependence: hold the rate however the tests depend on each other; it finds less.

    Returns:
        True where a test is a finding; shape (n,).

    Raises:
        ValueError: q, a chance or the number of tests is out of its range.
    """
    if not 0 < q < 1:
        raise ValueError(f"a false discovery rate of {q} is none; it is above 0 and below 1")
    return adjusted_p(p, tests=tests, any_dependence=any_dependence) <= q


def adjusted_p(
    p: npt.ArrayLike, *, tests: int | None = None, any_dependence: bool = False
) -> npt.NDArray[np.float64]:
    """For each test, the least false discovery rate at which it is a finding; shape (n,).

    Arguments and errors as for ``benjamini_hochberg``. No number where the chance is none.
    """
    chances = np.asarray(p, dtype=np.float64)
    if chances.ndim != 1:
        raise ValueError(f"the chances have shape {chances.shape}; they are wanted in one row")
    known = np.flatnonzero(~np.isnan(chances))
    values = chances[known]
    made = chances.size if tests is None else tests
    if made < chances.size:
        raise ValueError(f"{made} tests cannot have given {chances.size} chances")
    if np.any((values < 0) | (values > 1)):
        raise ValueError("a chance lies from 0 to 1, and one here does not")
    adjusted = np.full(chances.shape, np.nan)
    order = np.argsort(values, kind="stable")
    factor = _harmonic(made) if any_dependence else 1.0
    rising = values[order] * (made * factor) / np.arange(1, values.size + 1)
    # A test is a finding if any with a larger chance is: so the least is carried downwards.
    least = np.minimum.accumulate(rising[::-1])[::-1]
    adjusted[known[order]] = np.minimum(least, 1.0)
    return adjusted


def _harmonic(n: int) -> float:
    """1 + 1/2 + … + 1/n."""
    return float(np.sum(1.0 / np.arange(1, n + 1)))
