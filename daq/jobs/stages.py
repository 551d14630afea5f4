"""The order of the work: stages, the stops of the crank in each, and what is done at each stop.

Steps come in the order that keeps every ``after``. Steps that are set wherever the crank plan
allows it, one behind the other, make one round of barring. Nothing here depends on what has been
done, so the order is the same after any interruption.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from daq.jobs.barring import shortest_route
from daq.jobs.crank import plan
from daq.jobs.engine import Engine
from daq.jobs.phase import Position
from daq.jobs.sheet import KINDS_OF, PlannedStep, Sheet, Target


@dataclass(frozen=True, slots=True)
class Work:
    """One step on one target."""

    planned: PlannedStep
    target: Target


@dataclass(frozen=True, slots=True)
class Stop:
    """Where the crank stands, None where it does not matter, and what is done there.

    ``tell`` is how to see that it is this turn of the crank; it may be empty.
    """

    position: Position | None
    work: tuple[Work, ...]
    tell: str = ""


@dataclass(frozen=True, slots=True)
class Stage:
    """Steps that share one round of the crank."""

    steps: tuple[PlannedStep, ...]
    stops: tuple[Stop, ...]

    @property
    def work(self) -> tuple[Work, ...]:
        """Everything that is done in this stage, in order."""
        return tuple(work for stop in self.stops for work in stop.work)


def stages_of(sheet: Sheet, variant: str) -> tuple[Stage, ...]:
    """The whole job in order.

    Raises:
        SheetError: there is no such variant.
        EngineError: the engine gives no plan for what the sheet asks.
    """
    return tuple(
        Stage(tuple(steps), tuple(_stops(sheet.engine, steps)))
        for steps in _rounds(sheet.for_variant(variant))
    )


def _rounds(planned: Sequence[PlannedStep]) -> Iterator[list[PlannedStep]]:
    """Steps one by one, but those of the crank plan together while none waits for another."""
    group: list[PlannedStep] = []
    for each in planned:
        waits = any(each.step.after and other.name in each.step.after for other in group)
        if group and each.step.crank.manner == "plan" and not waits:
            group.append(each)
            continue
        if group:
            yield group
        group = [each] if each.step.crank.manner == "plan" else []
        if not group:
            yield [each]
    if group:
        yield group


def _stops(engine: Engine, steps: Sequence[PlannedStep]) -> Iterator[Stop]:
    manner = steps[0].step.crank.manner
    if manner == "plan":
        yield from _planned_stops(engine, steps)
    elif manner in ("own", "cylinder"):
        yield from _named_stops(engine, steps[0])
    else:
        yield Stop(None, tuple(Work(steps[0], target) for target in steps[0].targets))


def _planned_stops(engine: Engine, steps: Sequence[PlannedStep]) -> Iterator[Stop]:
    kinds = [kind for each in steps for kind in KINDS_OF[each.step.for_each]]
    by_item = {
        target.item: Work(each, target)
        for each in steps
        for target in each.targets
        if target.item is not None
    }
    for step in plan(engine, kinds).steps:
        work = tuple(by_item[item] for item in step.items if item in by_item)
        if work:
            yield Stop(step.position, work, step.tell)


def _named_stops(engine: Engine, planned: PlannedStep) -> Iterator[Stop]:
    need = planned.step.crank
    places: dict[Fraction, Position] = {}
    there: dict[Fraction, list[Target]] = {}
    for target in planned.targets:
        position = need.position(engine, target.cylinder)
        assert position is not None  # a sheet that needs a cylinder where there is none is refused
        places[position.crank_deg] = position
        there.setdefault(position.crank_deg, []).append(target)
    # From the first cylinder on: the others follow in the order in which they come round.
    start = next(iter(places))
    route = shortest_route({angle: [angle] for angle in places}, engine.cycle_deg, start)
    assert route is not None
    for angle in route.visits_deg:
        yield Stop(places[angle], tuple(Work(planned, target) for target in there[angle]))


def bar_deg(engine: Engine, here: Position | None, there: Position) -> Fraction | None:
    """How far to bar on in running direction; None if it is not known where the crank stands."""
    if here is None:
        return None
    return (there.crank_deg - here.crank_deg) % engine.cycle_deg
