"""What happens in the demo's job: who works with which gauges, and what goes wrong on the way.

Names and figures are invented.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

from daq.cli.demo_engine import DemoGauge, place_of
from daq.jobs.sheet import Sheet, demo_sheet
from simulated_devices.engine_hand import Flaws

Where = tuple[str, str]
"""A step and one of its targets, by their names."""


@dataclass(frozen=True, slots=True)
class Excuse:
    """Why something was left, and who answers for it."""

    reason: str
    by: str


@dataclass(frozen=True, slots=True)
class Story:
    """One job: the sheet and everything that is known beforehand.

    Args:
        sheet: the job's sheet.
        variant: which of its figures.
        engine: what the engine is called.
        operator: who works on it.
        gauges: the gauges on the bench.
        off_mm: by step and target, how far off a length is found, where that must be so.
        flaws: what the hand does wrong.
        skips: what is not measured.
        lets_stand: results that stand although they are outside their limits.
    """

    sheet: Sheet
    variant: str
    engine: str
    operator: str
    gauges: tuple[DemoGauge, ...]
    off_mm: Mapping[Where, float] = field(default_factory=dict)
    flaws: Flaws = field(default_factory=Flaws)
    skips: Mapping[Where, Excuse] = field(default_factory=dict)
    lets_stand: Mapping[Where, Excuse] = field(default_factory=dict)

    @property
    def labels(self) -> dict[str, str]:
        """By role, the label of the gauge that serves in it."""
        return {role: gauge.label for gauge in self.gauges for role in gauge.roles}


def demo_story() -> Story:
    """The whole demo sheet, with a fitter who makes every kind of mistake once."""
    sheet = demo_sheet()
    return Story(
        sheet=sheet,
        variant=sheet.variants[0].name,
        engine="auxiliary 2",
        operator="R. Vale",
        gauges=(
            DemoGauge("G-14", "decimal-line", ("rack", "height")),
            DemoGauge("G-09", "packed-digits", ("rocker",)),
            DemoGauge("G-21", "fixed-fields", ("deck",)),
            DemoGauge("G-22", "decimal-line", ("web",)),
            DemoGauge("D-03", "packed-digits", ("shaft", "stop")),
        ),
        off_mm={
            ("liner projection", "cylinder 2"): 0.047,
            ("rack reference", "injector 3"): -0.11,
            ("rack reference", "injector 5"): 0.09,
            ("timing height", "injector 4"): 0.10,
            ("intake clearance", "intake 2"): -0.09,
        },
        flaws=Flaws(
            wrong_way={
                place_of("rack reference", "injector 3"): 2,
                place_of("intake clearance", "intake 2"): 1,
            },
            slips_mm={place_of("timing height", "injector 4"): 0.031},
            mistakes=(
                ("presses early", place_of("liner projection", "cylinder 1")),
                ("forgets to lift", place_of("liner projection", "cylinder 3")),
                ("bumps", place_of("web deflection", "cylinder 2")),
                ("knocks", place_of("rack reference", "injector 5")),
            ),
        ),
        skips={
            ("exhaust clearance", "exhaust 5"): Excuse(
                "the adjusting screw is worn and a new one is on order", "M. Lind"
            )
        },
        lets_stand={
            ("liner projection", "cylinder 2"): Excuse(
                "stays until the next overhaul, agreed with the owner", "M. Lind"
            )
        },
    )
