"""What a step is done on, one by one: cylinders, valves, injectors, banks, places, the engine."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from daq.jobs.engine import Engine
from daq.jobs.names import Item, Kind
from daq.jobs.sheet.step import ForEach
from daq.jobs.valve_table import VALVES

KINDS_OF: dict[ForEach, tuple[Kind, ...]] = {
    "intake valve": ("intake",),
    "exhaust valve": ("exhaust",),
    "valve": VALVES,
    "injector": ("injector",),
}
"""By what a step is for: the kinds of items that the crank plan knows."""

IN_A_ROW: tuple[ForEach, ...] = ("cylinder", "injector", "place")
"""What stands in a row, so that each has neighbours."""


@dataclass(frozen=True, slots=True)
class Target:
    """One thing that a step is done on.

    ``name`` tells it apart within its step and goes into records: ``exhaust 3.2``. ``words`` are
    what a fitter reads. ``cylinder`` is the one that it belongs to, if any; ``item`` is what the
    crank plan calls it, if it knows it; ``row`` is what it stands in a row with, empty if nothing.
    """

    name: str
    words: str
    cylinder: str | None = None
    item: Item | None = None
    row: str = ""

    def __str__(self) -> str:
        return self.words


def targets_of(for_each: ForEach, engine: Engine, places: Sequence[str] = ()) -> tuple[Target, ...]:
    """Everything that a step is done on, in the order of the cylinders; empty if there is none.

    Args:
        for_each: what it is for.
        engine: whose it is.
        places: the step's own places, where it is for those.
    """
    match for_each:
        case "engine":
            return (Target("engine", "the engine"),)
        case "cylinder":
            return tuple(
                Target(f"cylinder {name}", f"cylinder {name}", name, row=_bank(engine, name))
                for name in engine.names
            )
        case "bank":
            return tuple(Target(f"bank {bank.name}", f"{bank.name} bank") for bank in engine.banks)
        case "place":
            return tuple(Target(place, place, row="places") for place in places)
    return tuple(_target(item, engine) for item in engine.items(*KINDS_OF[for_each]))


def neighbours(targets: Sequence[Target]) -> tuple[tuple[Target, Target], ...]:
    """Every two targets that stand side by side: of one bank, one after the other."""
    return tuple(
        (one, other) for one, other in pairwise(targets) if one.row and one.row == other.row
    )


def _target(item: Item, engine: Engine) -> Target:
    thing = item.kind if item.kind == "injector" else f"{item.kind} valve"
    # Several of a kind on one cylinder do not stand in one row through the engine.
    row = _bank(engine, item.cylinder) if item.number is None and item.kind == "injector" else ""
    return Target(str(item), f"{thing} {item.place}", item.cylinder, item, row)


def _bank(engine: Engine, cylinder: str) -> str:
    banks = [bank.name for bank in engine.banks if cylinder in bank.cylinders]
    return banks[0] if banks else "cylinders"
