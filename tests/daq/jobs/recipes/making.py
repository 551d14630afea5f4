"""Settled values made up for tests, and how often a stated interval holds the truth."""

import itertools

from daq.jobs.recipes import Refusal, Settled

TRIALS = 2000
"""With 95.45 % expected, the seen share of 2000 trials has a standard deviation of 0.5 %."""

_number = itertools.count(1)


def settled(value_mm, u_mm=0.0005, **where):
    """A settled value with a uid of its own."""
    return Settled(value_mm, u_mm, 20, f"c{next(_number)}", **where)


def covered(trial):
    """The share of `TRIALS` in which value ± 2u held the truth.

    ``trial`` gives value, u and truth, or None where the recipe refused, which is not counted; at
    most one in fifty may.
    """
    held = [abs(seen[0] - seen[2]) <= 2 * seen[1] for _ in range(TRIALS) if (seen := trial())]
    assert len(held) > 0.98 * TRIALS
    return sum(held) / len(held)


def refused(result, *words):
    """Whether it is a refusal that says all these words."""
    return isinstance(result, Refusal) and all(word in str(result) for word in words)
