"""Made-up gauges with known errors, and calibrations of them: every input drawn from what is known.

Lengths are in millimetres. A display counts whole steps from a phase that nobody knows, so setting
the zero rounds once and every reading once.
"""

import math
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

import numpy as np

from daq.calibration.forms import GaugeIdentity, ReferenceStandard
from daq.calibration.plan import prepared
from daq.calibration.plan_file import plan_from_bytes
from daq.calibration.points import Point

ON = date(2026, 7, 10)
TEMPERATURE_C = Decimal("20.4")

PLAN = """\
[plan]
title = "Invented plan"
revision = "A"
range = "10 mm"
points = [
  "0 mm", "1 mm", "2 mm", "3 mm", "4 mm", "5 mm", "6 mm", "7 mm", "8 mm", "9 mm", "10 mm",
]

[partial]
over = "1 mm"
points = ["2 mm", "2.2 mm", "2.4 mm", "2.6 mm", "2.8 mm", "3 mm"]

[[repeats]]
at = "1 mm"

[[repeats]]
at = "5 mm"

[[repeats]]
at = "9 mm"
"""


@dataclass(frozen=True)
class Kind:
    """A kind of gauge.

    step_mm: of its display. s_mm: standard deviation of a reading approached again. curve_mm,
    wave_mm: amplitudes of its error over the range and within a millimetre. back_mm: how much more
    it shows on the way down, at most; all three within 30 % from gauge to gauge. u_block_mm:
    standard uncertainty of a block.
    """

    name: str
    step_mm: float
    s_mm: float
    curve_mm: float = 0.003
    wave_mm: float = 0.0015
    back_mm: float = 0.002
    u_block_mm: float = 0.00005

    def error_mm(self, travel_mm, way, some):
        """The true error at a travel; ``some`` five figures within 0 and 1 make it one gauge."""
        x = float(travel_mm)
        turn, high = 2 * np.pi * some[:2], 0.7 + 0.6 * some[2:]
        error = self.curve_mm * high[0] * np.sin(0.55 * x + turn[0])
        error = error + self.wave_mm * high[1] * np.sin(2 * np.pi * x / 0.9 + turn[1])
        if way == "down":
            error = error + self.back_mm * high[2] * (0.3 + 0.7 * np.exp(-(((x - 6) / 2.5) ** 2)))
        return error

    def mean_range_mm(self, readings, rng):
        """What so many readings of one point range over on average, as the display shows them."""
        at = self.s_mm / self.step_mm * rng.standard_normal((100_000, readings))
        return self.step_mm * float(np.ptp(np.floor(at + rng.random((100_000, 1))), axis=1).mean())


KINDS = (
    Kind("usual", step_mm=0.001, s_mm=0.0003),
    Kind("coarse display, hardly any scatter", step_mm=0.001, s_mm=0.0001),
    Kind("scatter of one display step", step_mm=0.0005, s_mm=0.0005),
    Kind("fine display, poor blocks", step_mm=0.0001, s_mm=0.0001, u_block_mm=0.0002),
)
FLAT = Kind("no error at all", step_mm=0.001, s_mm=0.0003, curve_mm=0, wave_mm=0, back_mm=0)


class Bench:
    """One kind of gauge with a block set and a plan; ``calibrate`` draws a calibration of it."""

    def __init__(self, kind):
        self.kind = kind
        blocks = sorted({1 + n / 10 for n in range(10)} | set(range(2, 11)))
        self.standard = ReferenceStandard.model_validate({
            "id": "blocks", "kind": "block set", "what": "Invented blocks",
            "certificate": "INV-1", "issuer": "Invented laboratory",
            "values": [
                {"nominal": Decimal(str(n)), "length": Decimal(str(n)),
                 "expanded_u": Decimal(str(2 * kind.u_block_mm)), "k": 2}
                for n in blocks
            ],
            "expansion": "11.5", "u_expansion": "1", "drift_per_year": "0.00005 mm",
            "valid_from": "2026-01-10", "due": "2028-01-10",
        })  # fmt: skip
        self.gauge = GaugeIdentity.model_validate({
            "label": "DI-7", "kind": "indicator", "range": "10 mm",
            "step": Decimal(str(kind.step_mm)), "profile": "decimal-line", "expansion": "9",
            "limits": {
                "source": "own rule", "over_range": "0.010 mm", "over_partial": "0.006 mm",
                "partial": "1 mm", "hysteresis": "0.004 mm", "repeatability": "0.003 mm",
            },
        })  # fmt: skip
        plan = plan_from_bytes(PLAN.encode(), "plan.toml")
        self.prepared = prepared(plan, self.standard, ON)
        self.stops = plan.stops
        rng = np.random.default_rng(0)
        self.mean_range_mm = kind.mean_range_mm(5, rng)
        self.another(rng)

    def another(self, rng):
        """Put another gauge of this kind on the bench."""
        some = rng.random(5)
        truth_mm = [self.kind.error_mm(s.nominal_mm, s.direction, some) for s in self.stops]
        self.truth_mm = np.array(truth_mm) - truth_mm[0]

    def true_characteristics(self):
        """What each characteristic is, without noise; repeatability: mean range as shown."""
        ways = [
            (s, e) for s, e in zip(self.stops, self.truth_mm, strict=True) if s.series != "repeat"
        ]
        up = {s.nominal_mm: e for s, e in ways if s.series == "up"}
        down = {s.nominal_mm: e for s, e in ways if s.series == "down"}
        every = [*up.values(), *down.values()]
        pieces = [
            max(piece) - min(piece)
            for way in (up, down) for start in way
            if (piece := [e for x, e in way.items() if 0 <= x - start <= 1])
        ]  # fmt: skip
        return {
            "fixed-zero error": max(map(abs, every)),
            "span error": max(every) - min(every),
            "one-way span": max(up.values()) - min(up.values()),
            "partial-range error": max(pieces),
            "hysteresis": max(abs(down[x] - up[x]) for x in up),
            "repeatability": self.mean_range_mm,
        }

    def calibrate(self, rng):
        """The points of one calibration."""
        kind, heading = self.kind, self.prepared.plan.heading
        together = rng.standard_normal()
        years = (ON - self.standard.valid_from).days / 365.25
        block_mm = {
            v.nominal_mm: float(v.length_mm)
            + kind.u_block_mm * (together + rng.standard_normal()) / math.sqrt(2)
            + float(self.standard.drift_per_year_mm) * years * rng.uniform(-1, 1)
            for v in self.standard.values
        }
        of_standard = (11.5 + rng.standard_normal()) * 1e-6
        of_gauge = (9 + 2 * rng.standard_normal()) * 1e-6
        away = float(TEMPERATURE_C) - 20 + float(heading.u_temperature) * rng.standard_normal()
        apart = float(heading.apart) * rng.uniform(-1, 1)
        lean = 1 / math.cos(math.radians(float(heading.tilt) * rng.uniform(-1, 1)))
        scale = lean * (1 + of_standard * (away + apart) - of_gauge * away)
        travel_mm = np.array([
            sum(block_mm[p.nominal_mm] for p in self.prepared.stacks[s.nominal_mm].pieces)
            for s in self.stops
        ])  # fmt: skip
        at_mm = travel_mm * scale + self.truth_mm + kind.s_mm * rng.standard_normal(len(self.stops))
        counts = np.floor(at_mm / kind.step_mm + rng.random())
        counts -= counts[0]
        return [self._point(s, int(n)) for s, n in zip(self.stops, counts, strict=True)]

    def _point(self, stop, count):
        step_mm = Decimal(str(self.kind.step_mm))
        reference_mm, u_mm = self.prepared.reference_mm(stop.nominal_mm)
        return Point(
            place=stop.place,
            series=stop.series,
            nominal_mm=stop.nominal_mm,
            direction=stop.direction,
            reference_mm=reference_mm,
            u_reference_mm=u_mm,
            reading_mm=count * step_mm,
            u_reading_mm=round(step_mm / Decimal(12).sqrt(), 9),
        )
