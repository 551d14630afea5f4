"""What can be set at which position of the crank, by each method there is.

Methods and phase model: ``docs/crank.md``.
"""

from collections.abc import Iterator, Mapping
from enum import StrEnum
from fractions import Fraction

from daq.jobs.engine import Engine, EngineError
from daq.jobs.names import Item, Kind, degrees_words
from daq.jobs.phase import Position
from daq.jobs.valve_table import VALVES, kinds_in, problems_in

MOST_WITHOUT_TIMING = 8
"""The half rule is taken without a timing up to this many cylinders: they fire 90° or more apart.

It fails where an intake opens, or an exhaust closes, as far from TDC as the firing interval. Few
engines reach 90°; strongly charged ones reach 60°.
"""

Ways = Mapping[Item, frozenset[Position]]
"""By item, the positions at which it can be set."""


class Method(StrEnum):
    """How it was found what can be set where."""

    TABLE = "maker's table"
    HALF_RULE = "half rule"
    TIMING = "valve timing"
    OWN_TDC = "each cylinder at its own firing TDC"


def half_rule(engine: Engine, cylinder: str) -> tuple[Item, ...]:
    """What the half rule sets with ``cylinder`` at firing top dead centre.

    In the firing order from that cylinder: both of the first; exhaust only of those up to half way;
    none of the one half way, the companion; intake only of the rest.

    Raises:
        EngineError: the rule does not hold for such an engine, or there is no such cylinder.
    """
    if why_not := _why_no_half_rule(engine):
        raise EngineError(why_not)
    engine.position(cylinder)  # refuses a cylinder that there is not
    order = engine.firing_order
    begin, half = order.index(cylinder), len(order) // 2
    turned = (*order[begin:], *order[:begin])
    kinds: dict[str, tuple[Kind, ...]] = {turned[0]: VALVES, turned[half]: ()}
    kinds |= dict.fromkeys(turned[1:half], ("exhaust",))
    kinds |= dict.fromkeys(turned[half + 1 :], ("intake",))
    return tuple(item for item in engine.items(*VALVES) if item.kind in kinds[item.cylinder])


def settable(engine: Engine, position: Position) -> tuple[Item, ...]:
    """Everything that the valve timing allows to be set at a position.

    Valves that are closed there and at least ``keep_clear`` from opening and from closing;
    injectors where the maker's table has them, or else at their cylinder's firing TDC.

    Raises:
        EngineError: the engine has no valve timing.
    """
    if engine.timing is None:
        raise EngineError(
            "The valve timing is not known, so it cannot tell what is closed. Add [engine.timing]."
        )
    phases, clear = engine.phases, Fraction(engine.timing.keep_clear)
    gaps = {item: phases.clearance_deg(item, position.crank_deg) for item in engine.items(*VALVES)}
    valves = [item for item, gap in gaps.items() if gap is not None and gap > 0 and gap >= clear]
    injectors = [
        item
        for item, places in _injectors(engine).items()
        if position.crank_deg in {place.crank_deg for place in places}
    ]
    return (*valves, *injectors)


def first_that_applies(engine: Engine, kinds: frozenset[Kind]) -> tuple[Method, tuple[str, ...]]:
    """The method to take for an engine, and why a usual one was passed over.

    Raises:
        EngineError: the engine fires unevenly, valves are to be set and there is no table.
    """
    told = frozenset(kinds_in(engine.valve_table))
    valves = kinds & frozenset(VALVES)
    if (valves or kinds) & told == (valves or kinds):
        return Method.TABLE, ()
    if not valves:
        return Method.OWN_TDC, ()
    if not engine.fires_evenly:
        raise EngineError(
            "This engine fires unevenly: its valve positions are not worked out here. Enter the "
            "engine maker's valve table, or ask for each cylinder at its own firing TDC."
        )
    if engine.injectors and "injector" in kinds - told:
        return Method.OWN_TDC, ()  # the crank goes to each of them anyway
    if _why_no_half_rule(engine):
        return (Method.TIMING if engine.timing else Method.OWN_TDC), ()
    if engine.timing is not None:
        failures = tuple(_failures_of_half_rule(engine))
        return (Method.TIMING, failures) if failures else (Method.HALF_RULE, ())
    if engine.cylinders <= MOST_WITHOUT_TIMING:
        return Method.HALF_RULE, ()
    return Method.OWN_TDC, (
        f"The half rule was not taken: {engine.cylinders} cylinders fire only "
        f"{interval_words(engine)} apart, and the valve timing is not known.",
    )


def ways(engine: Engine, method: Method, kinds: frozenset[Kind]) -> Iterator[Ways]:
    """The ways in which a method sets everything of these kinds; any one of them will do.

    Raises:
        EngineError: the method does not hold for the engine; with every reason.
    """
    injectors = _injectors(engine) if "injector" in kinds else {}
    valves = engine.items(*(kind for kind in VALVES if kind in kinds))
    match method:
        case Method.TABLE:
            choices = [_by_table(engine, kinds & frozenset(VALVES) or kinds)]
        case Method.HALF_RULE:
            choices = _by_half_rule(engine, valves)
        case Method.TIMING:
            choices = [_by_timing(engine, valves)]
        case Method.OWN_TDC:
            choices = [{item: frozenset({engine.position(item.cylinder)}) for item in valves}]
    for choice in choices:
        yield {**choice, **injectors}


def interval_words(engine: Engine) -> str:
    """How far apart an evenly firing engine fires: ``90°``."""
    return degrees_words(Fraction(engine.cycle_deg, engine.cylinders))


def _why_no_half_rule(engine: Engine) -> str:
    """Why the half rule says nothing about an engine; empty if it does."""
    if engine.stroke == "two":
        return "The half rule is for four-stroke engines; this one is a two-stroke."
    if not engine.fires_evenly:
        return (
            "This engine fires unevenly, and the half rule is for even firing. "
            "Enter the engine maker's valve table."
        )
    if engine.cylinders % 2:
        return (
            f"The half rule pairs cylinders, and {engine.cylinders} is an odd number. Give the "
            "valve timing, or set each cylinder at its own firing TDC."
        )
    return ""


def _failures_of_half_rule(engine: Engine) -> Iterator[str]:
    """Valves that the rule names though they are open; even firing makes all positions alike."""
    phases, name = engine.phases, engine.names[0]
    at = phases.position(name)
    for item in half_rule(engine, name):
        if phases.is_open(item, at.crank_deg):
            yield (
                f"The half rule fails here: {item} is open with {at}; "
                f"{phases.why_open(item, at.crank_deg)}."
            )


def _injectors(engine: Engine) -> Ways:
    """Where the maker's table has them, or else each at its cylinder's firing TDC."""
    if "injector" in kinds_in(engine.valve_table):
        return _by_table(engine, frozenset({"injector"}))
    return {item: frozenset({engine.position(item.cylinder)}) for item in engine.items("injector")}


def _by_table(engine: Engine, kinds: frozenset[Kind]) -> Ways:
    """As the maker's table says, which is checked once more."""
    rows, phases = engine.valve_table, engine.phases
    if missing := sorted(kinds - frozenset(kinds_in(rows))):
        raise EngineError(
            f"No valve table is given for: {', '.join(missing)}. Enter the engine maker's."
        )
    wrong = list(problems_in(rows, engine.names, engine.counts, engine.stroke, phases))
    if wrong:
        raise EngineError(*wrong)
    return {
        item: frozenset({row.position(phases)})
        for row in rows
        for kind in kinds_in(rows)
        if kind in kinds
        for item in row.items(kind, engine.counts)
    }


def _by_half_rule(engine: Engine, valves: tuple[Item, ...]) -> list[Ways]:
    """One way for each cylinder to begin with; its companion is the other position."""
    if why_not := _why_no_half_rule(engine):
        raise EngineError(why_not)
    if failures := tuple(_failures_of_half_rule(engine)):
        raise EngineError(*failures)
    order, half = engine.firing_order, engine.cylinders // 2
    found: list[Ways] = []
    for name in engine.names:
        now = frozenset(half_rule(engine, name))
        here = engine.position(name)
        there = engine.position(order[(order.index(name) + half) % len(order)])
        found.append({item: frozenset({here if item in now else there}) for item in valves})
    return found


def _by_timing(engine: Engine, valves: tuple[Item, ...]) -> Ways:
    """Wherever the timing allows it, among the dead centres, which a flywheel has marks for."""
    if not engine.fires_evenly:
        raise EngineError(
            "This engine fires unevenly: a plan is not made from its timing alone. Enter the "
            "engine maker's valve table."
        )
    found: dict[Item, set[Position]] = {item: set() for item in valves}
    for position in _dead_centres(engine):
        for item in set(settable(engine, position)) & set(found):
            found[item].add(position)
    return {item: frozenset(places) for item, places in found.items()}


def _dead_centres(engine: Engine) -> list[Position]:
    """Every top dead centre of the cycle once, named by a cylinder that fires there, if any."""
    found: dict[Fraction, Position] = {}
    for overlap in (False, True) if engine.stroke == "four" else (False,):
        for name in engine.names:
            position = engine.position(name, overlap=overlap)
            found.setdefault(position.crank_deg, position)
    return list(found.values())
