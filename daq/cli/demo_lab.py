"""What the calibration demo happens in: a register, a standard as it truly is, a gauge that errs.

Names and figures are invented.
"""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from typing import TYPE_CHECKING

from daq.calibration.entered import gauge_record, standard_record
from daq.calibration.plan import Plan
from daq.calibration.plan_default import default_plan
from daq.calibration.plan_file import plan_from_bytes
from daq.calibration.register_file import Register, register_from_bytes
from drivers.profiles import load_profile
from simulated_devices.calibration_hand import RigSlips
from simulated_devices.calibration_rig import CalibrationRig, GaugeTruth, TrueStandard

if TYPE_CHECKING:
    from datetime import date, datetime

    from daq.logbook.register import GaugeEntered, StandardEntered

LABEL, STANDARD = "DI-7", "blocks-1"

BLOCKS = (
    *("0.5", "1", "1.1", "1.2", "1.3", "1.4", "1.5", "1.6", "1.7", "1.8", "1.9"),
    *("2", "3", "4", "5", "6", "7", "8", "9", "10", "20"),
)
"""The blocks of the invented set, millimetres."""

EXPANDED_U_MM = Decimal("0.00010")
"""Of each block, by its certificate, with k = 2."""

REGISTER = """
[[standards]]
id = "blocks-1"
kind = "block set"
what = "Steel blocks, invented"
certificate = "INV-001"
issuer = "Invented laboratory"
expansion = 11.5
u_expansion = 0.6
drift_per_year = "0.02 µm"
valid_from = {first}
due = {last}
values = [
{values}
]

[[gauges]]
label = "DI-7"
kind = "indicator"
range = "10 mm"
step = "0.0005 mm"
profile = "fixed-fields"

[gauges.limits]
source = "Invented work instruction 4, revision B"
over_range = "0.008 mm"
over_partial = "0.006 mm"
partial = "1 mm"
hysteresis = "0.004 mm"
repeatability = "0.003 mm"

[gauges.interval]
kind = "reactive"
months = 12
least = 6
most = 24
longer_by = 3
shorter_by = 6
"""


def _deviation_mm(place: int) -> Decimal:
    """How far a block is from its nominal length, by its certificate."""
    return Decimal((place * 37) % 15 - 7) * Decimal("0.00001")


@dataclass(frozen=True, slots=True)
class Stretched:
    """An error that grows to ``by_mm`` over 10 mm, with a wave once in a turn of 1 mm."""

    by_mm: float

    def __call__(self, travel_mm: float) -> float:
        """The error at a travel."""
        return self.by_mm * travel_mm / 10 + 0.0006 * math.sin(2 * math.pi * travel_mm)


@dataclass(frozen=True, slots=True)
class Lab:
    """One calibration: everything that is known beforehand.

    Args:
        register: of standards and gauges.
        blocks_mm: how long the standard's blocks truly are.
        found: how the gauge errs when it is found.
        adjusted: how it errs once it was adjusted.
        temperature_c: of gauge and standard.
        slips: what the hand does wrong as found; as left it does nothing wrong.
        plan: None for the default.
        operator: who works, and answers for the certificate.
    """

    register: Register
    blocks_mm: Mapping[Decimal, float]
    found: GaugeTruth
    adjusted: GaugeTruth
    temperature_c: Decimal = Decimal("20.3")
    slips: RigSlips = field(default_factory=RigSlips)
    plan: Plan | None = None
    operator: str = "M. Lind"

    @property
    def the_plan(self) -> Plan:
        """By which it is calibrated."""
        gauge, standard = self.register.gauge(LABEL), self.register.standard(STANDARD)
        return self.plan or default_plan(gauge.range_mm, gauge.step_mm, standard)

    def entries(self, at: "datetime") -> "tuple[StandardEntered, GaugeEntered]":
        """The records that enter the standard and the gauge."""
        source = self.register.name
        return (
            standard_record(self.register.standard(STANDARD), self.operator, at, source),
            gauge_record(self.register.gauge(LABEL), self.operator, at, source),
        )

    def rig(self, seed: int, clock: Callable[[], float] | None = None) -> CalibrationRig:
        """The gauge over the standard, as it is found."""
        return CalibrationRig(
            load_profile(self.register.gauge(LABEL).profile),
            self.found,
            TrueStandard(self.blocks_mm),
            base=self.base,
            temperature_c=float(self.temperature_c),
            clock=clock,
            seed=seed,
        )

    @property
    def base(self) -> tuple[Decimal, ...]:
        """The block that the gauge stands on at its zero; nothing is the bare plate."""
        base_mm = self.the_plan.heading.base_mm
        return (base_mm,) if base_mm else ()


def demo_lab(on: "date", plan: str = "", slips: RigSlips | None = None) -> Lab:
    """An invented laboratory, whose standard is in date on a day.

    Args:
        on: the day.
        plan: a plan's text; empty for the default.
        slips: what the hand does wrong; None for one of each.
    """
    blocks = [Decimal(each) for each in BLOCKS]
    values = [
        f'  {{ nominal = "{block} mm", length = "{block + _deviation_mm(place)} mm", '
        f'expanded_u = "{EXPANDED_U_MM} mm", k = 2 }},'
        for place, block in enumerate(blocks)
    ]
    text = REGISTER.format(
        values="\n".join(values),
        first=f"{on.year - 1}-{on.month:02}-01",
        last=f"{on.year + 1}-{on.month:02}-01",
    )
    return Lab(
        register=register_from_bytes(text.encode(), "demo-register.toml"),
        # Off from the certificate by as much as one standard uncertainty allows.
        blocks_mm={
            block: float(block + _deviation_mm(place) + EXPANDED_U_MM / 2 * (-1) ** place)
            for place, block in enumerate(blocks)
        },
        found=GaugeTruth(Stretched(0.0118), hysteresis_mm=0.0011),
        adjusted=GaugeTruth(Stretched(0.0009), hysteresis_mm=0.0011),
        slips=slips or DEMO_SLIPS,
        plan=plan_from_bytes(plan.encode(), "plan.toml") if plan else None,
    )


DEMO_SLIPS = RigSlips(
    passes=frozenset({6}),
    takes={9: (Decimal(2),)},
    unit=frozenset({12}),
    stays=frozenset({33}),
    battery=frozenset({20}),
)
"""A hand that goes past a point, takes another block, presses the unit key, does not back off, and
whose battery runs low."""
