"""How often y ± U holds the truth: of the points, and of each characteristic."""

from dataclasses import dataclass, field

import numpy as np

from daq.calibration.assess import Conditions, How, assess
from daq.spec.rules import GuardBand

from .gauges import ON, TEMPERATURE_C, Bench

POINTS = "errors at the points"


@dataclass
class Counted:
    """How often a truth was covered: ``inside`` of ``of``; and how far off the values are.

    bias: mean of value minus truth, over the mean of U.
    """

    inside: int = 0
    of: int = 0
    off: list[float] = field(default_factory=list)
    expanded: list[float] = field(default_factory=list)

    def add(self, value, expanded, truth):
        """Count one interval."""
        self.inside += abs(value - truth) <= expanded
        self.of += 1
        self.off.append(value - truth)
        self.expanded.append(expanded)

    @property
    def percent(self):
        """Covered, in per cent."""
        return 100 * self.inside / self.of

    @property
    def bias(self):
        """Mean of value minus truth, in U."""
        return float(np.mean(self.off) / np.mean(self.expanded))


def coverage(kind, calibrations, seed, moved_mm=0.0):
    """By what is stated, how often it was covered.

    The zero itself is left out of the points: it is covered by definition. With ``moved_mm`` the
    truth is moved by so much after the points were taken, and must no longer be covered.
    """
    bench, rng = Bench(kind), np.random.default_rng(seed)
    how = How(GuardBand())
    found = {name: Counted() for name in (POINTS, *bench.true_characteristics())}
    for _ in range(calibrations):
        bench.another(rng)
        truths = bench.true_characteristics()
        points = bench.calibrate(rng)
        made = assess(
            bench.prepared, bench.gauge, points, "as found", Conditions(TEMPERATURE_C), ON, how
        )
        for each in made.points:
            if each.point.place > 1:
                value = float(each.point.error_mm)
                truth = bench.truth_mm[each.point.place - 1] + moved_mm
                found[POINTS].add(value, float(each.stated.expanded_mm), truth)
        for each in made.characteristics:
            value, expanded = float(each.found.value_mm), float(each.stated.expanded_mm)
            found[each.found.what].add(value, expanded, truths[each.found.what])
    return found
