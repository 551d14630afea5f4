"""What to report of a rest: the mean with the least uncertainty, and how far it may be off.

Lengths are in tolerances.
"""

import math
from dataclasses import dataclass

from daq.settle.lookback import LookBacks
from daq.settle.statistics import quantisation_u
from daq.settle.vibration import Sway

LARGEST_BIAS = 0.35
LARGEST_U = 0.6
BIAS = 3.0  # weight of the squared bias in u squared: it is no normal deviation


@dataclass(frozen=True, slots=True)
class Found:
    """A rest in tolerances.

    level, u; s2: variance of one reading as it matters for the mean; n readings; index of the
    first bin; spread2: variance of the readings themselves; the sway about the rest, if any.
    """

    level: float
    u: float
    s2: float
    n: int
    first: int
    spread2: float
    sway: Sway | None = None


def best_mean(o: LookBacks, explained: list[bool], longest: int, step: float) -> Found | None:
    """The mean with the least uncertainty among the look-backs up to ``longest``, or None."""
    # The longer ones that saw the motion die out know best how much of it may be left.
    dying = [
        (o.left2[i], o.tau_s[i])
        for i in range(longest + 1, len(o.span_s))
        if explained[i] and o.moving[i] > 0.5
    ]
    best: tuple[float, float, int] | None = None
    for i in range(longest + 1):
        mean2 = o.s2[i] / o.n[i]
        dying2 = max(
            (left2 * _growth(o.span_s[i] / tau_s) ** 2 for left2, tau_s in dying), default=0.0
        )
        bias2 = max(o.bias2[i], o.left2[i], o.late[i] ** 2 - 1.67 * mean2, dying2)
        if o.blocks[i] < 4 or bias2 > LARGEST_BIAS**2:
            continue
        u2 = (1 + 2 / o.dof[i]) * mean2 + quantisation_u(step, o.raw[i]) ** 2
        if best is None or u2 + 4 * bias2 < best[0]:
            best = (u2 + 4 * bias2, u2 + BIAS * bias2, i)
    if best is None or best[1] > LARGEST_U**2:
        return None
    i = best[2]
    spread2 = max(o.s2[i], o.raw[i])
    return Found(o.mean[i], math.sqrt(best[1]), o.s2[i], int(o.n[i]), o.first[i], spread2)


def _growth(kappa: float) -> float:
    """Mean of an exponential decay over the last ``kappa`` time constants, over its value now."""
    kappa = min(kappa, 3.0)
    return math.expm1(kappa) / kappa if kappa > 0.01 else 1.0
