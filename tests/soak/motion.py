"""A plunger at work for hours: each quarter of a minute it is set to another place."""

import math
import random
from dataclasses import dataclass

PERIOD_S = 15.0


@dataclass(frozen=True)
class AtWork:
    """Rests at a place drawn by the seed, then moves to the next one, and so on for ever."""

    seed: int
    tau_s: float = 0.3
    period_s: float = PERIOD_S

    def place_mm(self, number):
        return random.Random(f"{self.seed} {int(number)}").uniform(0.0, 10.0)

    def at(self, t_s):
        number, since_s = divmod(t_s, self.period_s)
        here, before = self.place_mm(number), self.place_mm(number - 1)
        return here + (before - here) * math.exp(-since_s / self.tau_s)
