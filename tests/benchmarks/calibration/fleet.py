"""A fleet of gauges judged by a rule: how many are accepted and rejected wrongly, and how many
should be.

The gauges err in proportion to their travel, so that the largest error is that at the end of the
range and its uncertainty is one figure. It comes mostly from one block, which is normal and known.
"""

import math
from dataclasses import dataclass
from decimal import Decimal

import numpy as np

from daq.calibration.assess import Conditions, How, assess
from daq.calibration.decision import Word
from daq.calibration.forms import GaugeIdentity, ReferenceStandard
from daq.calibration.plan import prepared
from daq.calibration.plan_file import plan_from_bytes
from daq.calibration.points import Point
from daq.calibration.risk import Band, GlobalRisks, NormalPrior, global_risks
from daq.spec.rules import GuardBand, SimpleAcceptance

from .gauges import ON

LIMIT_MM, STEP_MM, S_MM = 0.006, 0.0001, 0.0002
U_BLOCK_MM = {1: 0.0001, 10: 0.001}
CONFORMING = 0.95
"""Share of the fleet that is within its limit: errors are normal about zero."""

RULES = {"simple acceptance": SimpleAcceptance(), "guard band of 1 U": GuardBand()}

PLAN = """\
[plan]
title = "Invented plan"
revision = "A"
range = "10 mm"
points = ["0 mm", "1 mm", "10 mm"]
directions = "up"

[[repeats]]
at = "1 mm"
times = 10
"""


@dataclass(frozen=True)
class Judged:
    """What came of a fleet, in shares of all; ``computed`` is what was to be expected."""

    gauges: int
    accepted_wrongly: float
    rejected_wrongly: float
    computed: GlobalRisks

    def sigmas(self):
        """How far both are from what was computed, in standard deviations of a binomial count."""
        return tuple(
            (seen - wanted) / math.sqrt(wanted * (1 - wanted) / self.gauges)
            for seen, wanted in (
                (self.accepted_wrongly, self.computed.consumer),
                (self.rejected_wrongly, self.computed.producer),
            )
        )


def judge_fleet(rule, gauges, seed):
    """Calibrate so many gauges, and judge each of them."""
    rng, bench = np.random.default_rng(seed), _bench()
    prior = NormalPrior.of_reliability(Band(-LIMIT_MM, LIMIT_MM), CONFORMING)
    wrongly = {True: 0, False: 0}
    expanded_mm, u_mm = [], []
    for _ in range(gauges):
        true_mm = prior.sd * rng.standard_normal()
        points = _points(bench[0], true_mm, rng)
        made = assess(*bench, points, "as found", Conditions(Decimal(20)), ON, How(rule))
        (worst,) = (e for e in made.characteristics if e.found.what == "fixed-zero error")
        accepted = worst.word is Word.PASS
        if accepted != (abs(true_mm) <= LIMIT_MM):
            wrongly[accepted] += 1
        end = next(e for e in made.points if e.point.nominal_mm == 10).stated
        u_mm.append(float(end.u_mm))
        expanded_mm.append(float(end.expanded_mm))
    tolerance = Band(-LIMIT_MM, LIMIT_MM)
    guard_mm = float(np.mean(expanded_mm)) * float(getattr(rule, "r", 0))
    computed = global_risks(float(np.mean(u_mm)), tolerance, tolerance.narrowed(guard_mm), prior)
    return Judged(gauges, wrongly[True] / gauges, wrongly[False] / gauges, computed)


def _bench():
    standard = ReferenceStandard.model_validate({
        "id": "blocks", "kind": "block set", "what": "Invented blocks", "certificate": "INV-2",
        "issuer": "Invented laboratory",
        "values": [
            {"nominal": Decimal(n), "length": Decimal(n), "k": 2,
             "expanded_u": Decimal(str(2 * U_BLOCK_MM[n]))}
            for n in U_BLOCK_MM
        ],
        "expansion": "11.5", "u_expansion": "1", "drift_per_year": "0 mm",
        "valid_from": "2026-01-10", "due": "2028-01-10",
    })  # fmt: skip
    gauge = GaugeIdentity.model_validate({
        "label": "DI-7", "kind": "indicator", "range": "10 mm", "step": Decimal(str(STEP_MM)),
        "profile": "decimal-line",
        "limits": {
            "source": "own rule", "over_range": Decimal(str(LIMIT_MM)), "zero": "fixed",
        },
    })  # fmt: skip
    return prepared(plan_from_bytes(PLAN.encode(), "plan.toml"), standard, ON), gauge


def _points(plan, true_mm, rng):
    block_mm = {n: n + u * rng.standard_normal() for n, u in U_BLOCK_MM.items()} | {0: 0.0}
    stops = plan.plan.stops
    at_mm = [block_mm[int(s.nominal_mm)] + true_mm * float(s.nominal_mm) / 10 for s in stops]
    noise = S_MM * rng.standard_normal(len(stops))
    counts = np.floor((np.array(at_mm) + noise) / STEP_MM + rng.random())
    step_mm = Decimal(str(STEP_MM))
    return [
        Point(
            s.place, s.series, s.nominal_mm, s.direction, *plan.reference_mm(s.nominal_mm),
            int(n - counts[0]) * step_mm, round(step_mm / Decimal(12).sqrt(), 9),
        )
        for s, n in zip(stops, counts, strict=True)
    ]  # fmt: skip
