"""What makes the errors of one run uncertain, and the budget of any sum of them.

With the display's zero set at the start, travel L by the certificate, and θ = t − 20 °C:

    e = x + δd + δr − (zero: δd₀ + δr₀) − L·(1 + (αₛ − αg)·θ + αₛ·δt) − δL − L·δcos

x is the reading, δd and δr are what the display rounds off and how far a reading scatters, δL is
the error of the reference, δt how far the standard is warmer than the gauge, δcos the tilt. A
characteristic is a sum of errors with factors ±1. Its budget is made from these same inputs, each
with the sensitivity that the whole sum has, so what is common to its points cancels by itself.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from functools import cached_property

from daq.calibration.assess.scatter import Scatter
from daq.calibration.budget import Budget, Term, linear
from daq.calibration.forms import GaugeIdentity, ReferenceStandard
from daq.calibration.inputs import Input, from_limits, standard
from daq.calibration.plan import PreparedPlan
from daq.calibration.points import Point

DAYS_A_YEAR = 365.25
MM_A_KELVIN = 1e-6
"""Of one millimetre, for a coefficient of 1 µm/(m·K)."""

Part = tuple[float, Point]
"""A point's error with its factor."""

_BEYOND = "beyond display step and repeatability"


@dataclass(frozen=True, slots=True)
class Extra:
    """``u_mm``: a standard uncertainty that comes from the scatter too; ``words`` say of what."""

    u_mm: float
    words: str


@dataclass(frozen=True)
class Sources:
    """The inputs that all points of a run share.

    temperature_c: of gauge and standard, mean of the run. on: the day of the run. zero_noise_mm:
    standard uncertainty of the reading at which the zero was set, from noise at rest.
    """

    prepared: PreparedPlan
    gauge: GaugeIdentity
    temperature_c: Decimal
    on: date
    scatter: Scatter
    zero_noise_mm: float

    def budget(
        self,
        measurand: str,
        parts: Sequence[Part],
        value_mm: float,
        extreme: Extra | None = None,
    ) -> Budget:
        """The budget of the sum of ``parts``.

        Args:
            measurand: what it is.
            parts: points with their factors.
            value_mm: the result.
            extreme: what being an extreme adds, where the sum was chosen among others.
        """
        terms = [
            *self.shared(parts), *self.of_zero(parts), *self._readings(parts, extreme)
        ]  # fmt: skip
        return linear(measurand, kept(terms), estimate=value_mm, unit="mm")

    def shared(self, parts: Sequence[Part]) -> list[Term]:
        """What comes from reference, temperature and tilt; one with sensitivity 0 cancels."""
        travel_mm = math.fsum(c * float(p.nominal_mm) for c, p in parts)
        return [
            *self._reference(parts),
            *(Term(each, travel_mm * factor) for each, factor in self._by_travel),
        ]

    def of_zero(self, parts: Sequence[Part]) -> list[Term]:
        """What comes from setting the zero, its repeatability left out; 0 where it cancels."""
        zero = _of_zero(parts)
        noise_mm = self._noise_beyond(self.zero_noise_mm)
        noise = Input("noise at rest, zero", 0.0, "normal", noise_mm, 1.0, math.inf, "mm", _BEYOND)
        steps = [self.step("zero")] if zero else []
        return [*steps, Term(noise, zero if noise_mm else 0.0)]

    def repeated(self, factor: float) -> Term:
        """The repeatability; it stands in the budget with 0 where the display step counts."""
        return Term(self.scatter.repeated, factor if self.scatter.repeated_counts else 0.0)

    def step(self, of: str) -> Term:
        """What the display rounds off in one setting or reading; 0 where the scatter holds it."""
        named = replace(self.scatter.step, name=f"display step, {of}")
        return Term(named, 0.0 if self.scatter.repeated_counts else 1.0)

    def reading_mm(self, point: Point) -> float:
        """Standard uncertainty of one reading: scatter, display step and noise at rest together."""
        own_mm = self._noise_beyond(float(point.u_reading_mm))
        return math.hypot(self.scatter.u_reading_mm, own_mm)

    def _readings(self, parts: Sequence[Part], extreme: Extra | None) -> Iterator[Term]:
        factors = [c for c, _ in parts]
        for name in ("reading",) if len(parts) == 1 else ("one reading", "other reading"):
            yield self.step(name)
        # One s for zero, readings and their choice: one input, or its degrees of freedom would
        # count more than once.
        again = self.repeated(math.hypot(_of_zero(parts), *factors))
        if extreme is not None and self.scatter.repeated_counts:
            factor = math.hypot(again.sensitivity, extreme.u_mm / again.input.u)
            basis = f"{again.input.basis}; {extreme.words}"
            yield Term(replace(again.input, basis=basis), factor)
        else:
            yield again
            if extreme is not None and extreme.u_mm:
                yield Term(
                    Input("extreme", 0.0, "normal", extreme.u_mm, unit="mm", basis=extreme.words)
                )
        noise_mm = math.hypot(*(c * self._noise_beyond(float(p.u_reading_mm)) for c, p in parts))
        noise = Input("noise at rest", 0.0, "normal", noise_mm, 1.0, math.inf, "mm", _BEYOND)
        yield Term(noise, 1.0 if noise_mm else 0.0)

    def _noise_beyond(self, u_mm: float) -> float:
        """What of a reading's own uncertainty step and scatter do not hold already."""
        return math.sqrt(max(0.0, u_mm**2 - self.scatter.u_reading_mm**2))

    @cached_property
    def _by_travel(self) -> list[tuple[Input, float]]:
        """Inputs that count by travel: each with its sensitivity for a millimetre."""
        heading, of, gauge = self.prepared.plan.heading, self.prepared.standard, self.gauge
        away = float(self.temperature_c) - 20.0
        unit, both = "µm/(m·K)", float(of.expansion - gauge.expansion)
        lean = 1 / math.cos(math.radians(float(heading.tilt))) - 1
        tilt = from_limits("alignment", 0.0, lean, unit="1")
        apart = from_limits("gauge and standard apart", 0.0, float(heading.apart), unit="K")
        return [
            (_given("expansion of the standard", of.expansion, of.u_expansion, unit),
             -away * MM_A_KELVIN),
            (_given("expansion of the gauge", gauge.expansion, gauge.u_expansion, unit),
             away * MM_A_KELVIN),
            (_given("temperature", self.temperature_c, heading.u_temperature, "°C"),
             -both * MM_A_KELVIN),
            (apart, -float(of.expansion) * MM_A_KELVIN),
            (replace(tilt, basis=f"tilt up to {heading.tilt}°, one-sided, not corrected"),
             -1.0 if lean else 0.0),
        ]  # fmt: skip

    def _reference(self, parts: Sequence[Part]) -> list[Term]:
        """The pieces that do not cancel, with the most that they can be wrong together.

        Pieces of one set may all be wrong the same way or against each other: their uncertainties
        add up as they stand, as in ``Stack.travel_from``.
        """
        pieces = [piece for piece in self._pieces(parts).items() if abs(piece[1]) > 1e-9]
        u_mm = math.fsum(abs(c) * float(self._u_mm[key]) for key, c in pieces)
        drift_mm = math.fsum(abs(c) * self._drift_mm[key[0]] for key, c in pieces)
        reference = Input(
            "reference", 0.0, "normal", u_mm, 1.0, math.inf, "mm",
            "U / k on the certificate, pieces added up",
        )  # fmt: skip
        drift = from_limits("drift of the reference", 0.0, drift_mm, unit="mm")
        return [
            Term(reference, -1.0 if u_mm else 0.0),
            Term(replace(drift, basis="most a year since the certificate, pieces added up"),
                 -1.0 if drift_mm else 0.0),
        ]  # fmt: skip

    def _pieces(self, parts: Sequence[Part]) -> dict[tuple[str, Decimal], float]:
        """How often each piece of the standards counts."""
        factors: dict[tuple[str, Decimal], float] = {}
        for factor, point in parts:
            own, base = self.prepared.stacks[point.nominal_mm], self.prepared.base
            for stack, signed in ((own, factor), (base, -factor)):
                for piece in stack.pieces:
                    key = stack.standard, piece.nominal_mm
                    factors[key] = factors.get(key, 0.0) + signed
        return factors

    @cached_property
    def _u_mm(self) -> dict[tuple[str, Decimal], Decimal]:
        stacks = (*self.prepared.stacks.values(), self.prepared.base)
        return {(s.standard, p.nominal_mm): p.u_mm for s in stacks for p in s.pieces}

    @cached_property
    def _drift_mm(self) -> dict[str, float]:
        """By standard: the most that one of its lengths may have changed."""
        both = (self.prepared.standard, self.prepared.flat)
        return {each.id: _drifted_mm(each, self.on) for each in both if each is not None}


def kept(terms: Sequence[Term]) -> list[Term]:
    """The terms that a budget shows: not those that cancel or have no size.

    Display step and repeatability stay, of which one counts: both were thought of.
    """
    shown = ("display step", "repeatability")
    return [each for each in terms if each.contribution or each.input.name.startswith(shown)]


def _of_zero(parts: Sequence[Part]) -> float:
    """How often the zero counts: minus the sum of the factors."""
    zero = -math.fsum(c for c, _ in parts)
    return 0.0 if abs(zero) < 1e-9 else zero


def reference_seen_mm(
    reference_mm: Decimal, of: ReferenceStandard, gauge: GaugeIdentity, temperature_c: Decimal
) -> Decimal:
    """The travel that a gauge without error shows at a temperature, where its scale expands too.

    It is what a reading is compared with, so that the error is that at 20 °C.

    Source: JCGM 100:2008, H.1.2, to first order.
    """
    both = (of.expansion - gauge.expansion) * (temperature_c - 20) / 1_000_000
    seen_mm = reference_mm * (1 + both)
    return reference_mm if both == 0 else seen_mm.quantize(Decimal("0.0000000001"))


def _drifted_mm(of: ReferenceStandard, on: date) -> float:
    return float(of.drift_per_year_mm) * max(0, (on - of.valid_from).days) / DAYS_A_YEAR


def _given(name: str, estimate: Decimal, u: Decimal, unit: str) -> Input:
    return standard(name, float(estimate), float(u), unit=unit)
