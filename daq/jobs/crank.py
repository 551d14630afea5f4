"""The crank plan: at which positions of the crank to set what, in the fewest degrees of barring.

Method and phase model: ``docs/crank.md``. The engine maker's current table wins over any plan.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from fractions import Fraction

from daq.jobs.barring import Route, shortest_route
from daq.jobs.engine import Engine, EngineError
from daq.jobs.names import Item, Kind, degrees_words, listed
from daq.jobs.phase import Position
from daq.jobs.valve_table import VALVES, kinds_in
from daq.jobs.ways import Method, Ways, first_that_applies, interval_words, ways

CAUTIONS = (
    "The engine maker's current table and figures win over this plan.",
    "Isolate and lock out starting energy (air, battery, hydraulics) and fuel before barring.",
    "Bar only in running direction. Gone too far? Go back well past the position and come up "
    "to it again, so that the play in the gears lies on one side.",
    "Take barring gear and timing pins out before a start.",
)


@dataclass(frozen=True, slots=True)
class Step:
    """One position of a plan.

    ``bar_deg`` is how far to bar on in running direction; None for the first position where it is
    not known where the crank stands. ``words`` say the same to a fitter, ``sets`` lists ``items``,
    and ``tell`` is how to see that it is this turn of the crank and not the other; it may be empty.
    """

    position: Position
    bar_deg: Fraction | None
    items: tuple[Item, ...]
    words: str
    sets: str
    tell: str


@dataclass(frozen=True, slots=True)
class Plan:
    """Positions in the order of barring, each item set once.

    ``total_deg`` is all the barring from where the crank stands, or from the first position where
    that is not known. ``notes`` say what the plan relies on; ``cautions`` are shown with it.
    """

    method: Method
    running_direction: str
    steps: tuple[Step, ...]
    total_deg: Fraction
    notes: tuple[str, ...]
    cautions: tuple[str, ...] = CAUTIONS


def plan(
    engine: Engine,
    kinds: Iterable[Kind] = VALVES,
    *,
    start: Position | None = None,
    method: Method | None = None,
) -> Plan:
    """Where to bar the crank to, in which order, and what to set at each position.

    Args:
        engine: which engine.
        kinds: what is to be set.
        start: where the crank stands; None if that is not known.
        method: how to find what can be set where; None takes the first that applies of: the
            maker's table; each cylinder at its own firing TDC, if injectors are set there anyway;
            the half rule; the valve timing; each at its own firing TDC.

    Raises:
        EngineError: the engine does not allow it; with every reason.
    """
    wanted = frozenset(kind for kind in kinds if engine.counts[kind])
    if not wanted:
        raise EngineError("This engine has nothing of that kind to set.")
    chosen, passed_over = (method, ()) if method else first_that_applies(engine, wanted)
    best: tuple[Ways, Route] | None = None
    for way in ways(engine, chosen, wanted):
        route = _route(engine, way, start)
        if route and (best is None or route.total_deg < best[1].total_deg):
            best = way, route
    if best is None:
        raise EngineError("Some valve can be set at none of the dead centres; lower keep_clear.")
    steps = tuple(_steps(engine, *best, start))
    notes = (*passed_over, *_notes(engine, chosen, wanted, steps))
    return Plan(chosen, engine.running_direction, steps, best[1].total_deg, notes)


def _route(engine: Engine, way: Ways, start: Position | None) -> Route | None:
    angles = {item: [place.crank_deg for place in places] for item, places in way.items()}
    return shortest_route(angles, engine.cycle_deg, None if start is None else start.crank_deg)


def _steps(engine: Engine, way: Ways, route: Route, start: Position | None) -> Iterator[Step]:
    """The visits of a route, each valve at the one where it is furthest from moving."""
    phases = engine.phases
    named: dict[Fraction, Position] = {}
    at: dict[Fraction, list[Item]] = {angle: [] for angle in route.visits_deg}
    for item, places in way.items():
        there = {place.crank_deg: place for place in places}
        visited = [angle for angle in route.visits_deg if angle in there]
        gaps = [phases.clearance_deg(item, angle) or Fraction(0) for angle in visited]
        best = visited[gaps.index(max(gaps))]
        named.setdefault(best, there[best])
        at[best].append(item)
    for number, (angle, bar) in enumerate(zip(route.visits_deg, route.bars_deg, strict=True)):
        known = None if number == 0 and start is None else bar
        yield Step(
            position=named[angle],
            bar_deg=known,
            items=tuple(at[angle]),
            words=_words(named[angle], known),
            sets=listed(at[angle], engine.names, engine.counts),
            tell=_tell(engine, angle),
        )


def _words(position: Position, bar_deg: Fraction | None) -> str:
    """What a fitter does to get to a position."""
    if bar_deg is None:
        return f"bar in running direction to {position}"
    if bar_deg == 0:
        return f"stay: {position}"
    angle = degrees_words(bar_deg)
    turn = {"360°": " (one full turn)", "180°": " (half a turn)"}.get(angle, "")
    return f"bar on {angle} in running direction{turn}: {position}"


def _tell(engine: Engine, crank_deg: Fraction) -> str:
    """How to see that the crank is on this turn; empty if nothing tells, or nothing needs to."""
    if engine.stroke == "two":
        return ""
    at = {engine.phases.phase_deg(name, crank_deg): name for name in engine.names}
    if 360 in at:
        name = at[Fraction(360)]
        return f"cylinder {name} changes over there: its exhaust closes as its intake opens"
    return f"the valves of cylinder {at[Fraction(0)]} are closed there" if 0 in at else ""


def _notes(
    engine: Engine, method: Method, kinds: frozenset[Kind], steps: tuple[Step, ...]
) -> Iterator[str]:
    """What a plan relies on, and what was and was not checked."""
    if len(engine.banks) > 1 and not engine.intervals:
        yield (
            f"The sheet lists no intervals, so the engine is taken to fire every "
            f"{interval_words(engine)}. V engines may not."
        )
    valves = kinds & frozenset(VALVES)
    if method is Method.TABLE:
        yield f"The positions are the engine maker's, from: {engine.source}."
    elif kinds & frozenset(kinds_in(engine.valve_table)) & valves:
        yield "The engine maker's valve table was not used, as asked; it wins over this plan."
    if not valves:
        return
    if engine.timing is not None:
        yield from _nearest(engine, steps)
    elif method is Method.TABLE:
        yield "No valve timing is known: only the middle of each valve's stroke was checked."
    elif method is Method.HALF_RULE:
        yield (
            f"The half rule holds while every intake opens and every exhaust closes less than "
            f"{interval_words(engine)} from TDC. The valve timing is not known here."
        )


def _nearest(engine: Engine, steps: tuple[Step, ...]) -> Iterator[str]:
    """Which valve of a plan is set nearest to where it moves, by the timing."""
    gaps = [
        (gap, item, step.position)
        for step in steps
        for item in step.items
        if (gap := engine.phases.clearance_deg(item, step.position.crank_deg)) is not None
    ]
    if not gaps or engine.timing is None:
        return
    gap, item, position = min(gaps, key=lambda each: each[0])
    yield (
        f"Checked against the valve timing. Nearest to moving is {item}, {degrees_words(gap)} "
        f"away, with {position}."
    )
    if gap < Fraction(engine.timing.keep_clear):
        yield (
            f"That is less than {degrees_words(engine.timing.keep_clear)}: make sure that it is "
            "off the ramp of its cam before it is set."
        )
