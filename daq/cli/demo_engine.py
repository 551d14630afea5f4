"""The demo's engine: every length of a job sheet as it truly is, for gauges to feel.

All figures but the sheet's are drawn from a seed, and are no engine's.
"""

import math
import random
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from daq.jobs.recipes import POSITIONS
from daq.jobs.sheet import PlannedStep, Sheet, Target
from drivers.profiles import load_profile
from simulated_devices.engine import Engine, Place

OFF_MM = 0.12
"""What a screw sets is found off by this much at most."""

IN_SHARE = 0.2
"""What no screw sets is found off by this share of the room between its limits, at most."""

POINT_MM = 0.008
"""The points of one part differ from each other by twice this at most."""

STOPS = ("lower stop", "higher stop")
"""Where a part that can be rocked comes to rest."""

PIN_DEG = dict(zip(POSITIONS, (30.0, 90.0, 180.0, 270.0, 330.0), strict=True))
"""The crank pin's angle from bottom where a crank web is measured, 30° past it and before it."""


@dataclass(frozen=True, slots=True)
class DemoGauge:
    """A gauge of the demo: what is on its label, how it sends, and the roles it serves in."""

    label: str
    profile: str
    roles: tuple[str, ...]


def place_of(step: str, target: str) -> str:
    """What the place of a target is called on the engine."""
    return f"{step}, {target}"


def master_of(planned: PlannedStep) -> str:
    """What the setting master of a step is called among the places."""
    return f"the {planned.step.master} master"


def engine_of(
    sheet: Sheet,
    variant: str,
    gauges: tuple[DemoGauge, ...],
    seed: int,
    off_mm: Mapping[tuple[str, str], float] | None = None,
    clock: Callable[[], float] | None = None,
) -> Engine:
    """An engine that has everything on it that the sheet measures, each off by something.

    Args:
        sheet: the job sheet.
        variant: which of its figures.
        gauges: the gauges on the bench.
        seed: of how far off each length is found, and of the gauges' noise.
        off_mm: by step and target, how far off a length is found, where that must be so.
        clock: what the gauges go by; see ``Engine``.
    """
    chance, known = random.Random(f"demo engine {seed}"), off_mm or {}
    places: dict[str, Place] = {}
    for planned in sheet.for_variant(variant):
        if planned.step.master is not None:
            places[master_of(planned)] = Place({"": float(planned.step.master.mm)})
        for target in planned.targets:
            off = known.get((planned.name, target.name), _off_mm(planned, chance))
            length_mm = float(planned.spec.nominal_mm) + off
            places[place_of(planned.name, target.name)] = _place(planned, length_mm, chance)
    profiles = {gauge.label: load_profile(gauge.profile) for gauge in gauges}
    return Engine(places, profiles, seed=seed, clock=clock)


def _off_mm(planned: PlannedStep, chance: random.Random) -> float:
    spec = planned.spec
    if planned.step.adjuster is not None:
        return chance.uniform(-OFF_MM, OFF_MM)
    if spec.lower_mm is None or spec.upper_mm is None:  # "as little as can be"
        return chance.uniform(0.2, 0.5) * float(spec.upper_mm or spec.lower_mm or 0)
    middle_mm = float(spec.lower_mm + spec.upper_mm) / 2
    return middle_mm + chance.uniform(-IN_SHARE, IN_SHARE) * float(spec.upper_mm - spec.lower_mm)


def _place(planned: PlannedStep, length_mm: float, chance: random.Random) -> Place:
    """The place of one target that truly is ``length_mm``, by the recipe that measures it."""
    step = planned.step
    turn_mm = 0.0
    if step.adjuster is not None:
        sense = 1 if step.adjuster.clockwise == "raises" else -1
        turn_mm = sense * float(step.adjuster.mm_per_turn)
    match step.recipe:
        case "length":
            return Place({"": length_mm}, turn_mm, step.lock)
        case "points":
            off_mm = [chance.uniform(-POINT_MM, POINT_MM) for _ in step.points]
            mean_mm = math.fsum(off_mm) / len(off_mm)
            points = zip(step.points, off_mm, strict=True)
            return Place({point: length_mm + off - mean_mm for point, off in points})
        case "play":
            ratio = float(step.ratio or 1)
            stops = dict(zip(STOPS, (0.0, length_mm / ratio), strict=True))
            return Place(stops, turn_mm / ratio, step.lock)
        case "run-out":
            # Highest at one of the eight places that are asked for, and lowest at another.
            return Place({"": 0.0}, wave_mm=length_mm / 2, high_deg=chance.choice((45.0, 225.0)))
        case "deflection":
            wave_mm = length_mm / _swings(planned)
            return Place({"": 0.0}, wave_mm=wave_mm, high_deg=PIN_DEG["top"])
        case "dead centre":
            raise ValueError("the demo's engine has no dead centre to find")


def _swings(planned: PlannedStep) -> float:
    """Top less the mean about bottom, for a wave of height 1 that is highest at the top."""
    past_deg = float(planned.step.past_bottom or PIN_DEG[POSITIONS[0]])
    return 1 + math.cos(math.radians(past_deg))


def crank_deg_of(planned: PlannedStep, position: str) -> float:
    """Where the crank pin of a web's throw stands, degrees from bottom, at a named position."""
    past_deg = float(planned.step.past_bottom or PIN_DEG[POSITIONS[0]])
    return {POSITIONS[0]: past_deg, POSITIONS[4]: 360 - past_deg}.get(position, PIN_DEG[position])


def truth_mm(engine: Engine, planned: PlannedStep, target: Target) -> float:
    """What a target truly measures now."""
    place = place_of(planned.name, target.name)
    spots_mm = [*engine.spots_mm(place).values()]
    match planned.step.recipe:
        case "play":
            return (spots_mm[1] - spots_mm[0]) * float(planned.step.ratio or 1)
        case "run-out":
            return 2 * engine.wave_mm(place)
        case "deflection":
            return engine.wave_mm(place) * _swings(planned)
        case _:
            return math.fsum(spots_mm) / len(spots_mm)
