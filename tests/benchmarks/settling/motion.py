"""A motion as a run of stretches, each from one disturbance to the next, with its true rest.

Lengths are in tolerances: one is the smallest movement that matters. Times are in seconds.
"""

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

Curve = Callable[[np.ndarray], np.ndarray]
SETTLED_WITHIN = 0.5


@dataclass
class Stretch:
    """x(t) from begin_s to end_s; `rest` is where it comes to rest, or None if it never does."""

    begin_s: float
    end_s: float
    x: Curve
    rest: Curve | None
    required: bool  # long enough at rest that a settler must report it
    settled_s: float  # from here on x stays within half a tolerance of the rest


@dataclass
class Motion:
    """Builds stretches one after the other from where the last one ended."""

    at: float
    end_s: float = 0.0
    stretches: list[Stretch] = field(default_factory=list)

    def follow(self, x: Curve, rest: Curve | None, hold_s: float, required: bool = True):
        """Append x(seconds since the disturbance); it is held hold_s after it has settled."""
        begin = self.end_s
        absolute = lambda t: x(np.maximum(t - begin, 0.0))  # noqa: E731
        resting = None if rest is None else lambda t: rest(np.maximum(t - begin, 0.0))
        settled = begin
        if resting is not None:
            grid = np.arange(begin, begin + 60, 0.002)
            outside = np.flatnonzero(np.abs(absolute(grid) - resting(grid)) > SETTLED_WITHIN)
            settled = begin if len(outside) == 0 else float(grid[outside[-1]]) + 0.002
        self.end_s = settled + hold_s
        self.stretches.append(Stretch(begin, self.end_s, absolute, resting, required, settled))
        self.at = float(absolute(np.array([self.end_s]))[0])
        return self

    def wait(self, hold_s: float = 0.8):
        """Rest where it is."""
        level = self.at
        return self.follow(*_constant(level), hold_s, required=False)

    def approach(self, target, tau_s, hold_s, *, creep=(), bounce=None, required=True):
        """Exponential approach, with slower parts [(amplitude, tau_s)] and a ringing one."""
        fast = self.at - target - sum(a for a, _ in creep)

        def x(s):
            y = target + fast * np.exp(-s / tau_s)
            for amplitude, slow_s in creep:
                y = y + amplitude * np.exp(-s / slow_s)
            if bounce:
                amplitude, hz, decay_s = bounce
                y = y + amplitude * np.exp(-s / decay_s) * np.sin(2 * np.pi * hz * s)
            return y

        return self.follow(x, _constant(target)[1], hold_s, required)


def _constant(level: float) -> tuple[Curve, Curve]:
    level_of = lambda s: np.full_like(s, level)  # noqa: E731
    return level_of, level_of
