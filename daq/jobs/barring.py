"""The fewest degrees of barring, always in running direction. Pure geometry of a circle."""

from collections.abc import Hashable, Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import TypeVar

Thing = TypeVar("Thing", bound=Hashable)


@dataclass(frozen=True, slots=True)
class Route:
    """Crank angles to visit, in order.

    ``bars_deg`` has one entry a visit: how far to bar on from the one before. The first is counted
    from where the crank stands, or is zero if that was not known.
    """

    visits_deg: tuple[Fraction, ...]
    bars_deg: tuple[Fraction, ...]

    @property
    def total_deg(self) -> Fraction:
        """All the barring together."""
        return sum(self.bars_deg, Fraction(0))


def shortest_route(
    options: Mapping[Thing, Iterable[Fraction]], cycle_deg: int, start_deg: Fraction | None = None
) -> Route | None:
    """The visits that do everything with the fewest degrees, and among those the fewest visits.

    Args:
        options: by thing to do, the crank angles at which it can be done.
        cycle_deg: the crank angle after which everything is as before.
        start_deg: where the crank stands; None if it may be brought to the first visit freely.

    Returns:
        The route; None if something can be done nowhere.
    """
    sets = {thing: frozenset(angle % cycle_deg for angle in o) for thing, o in options.items()}
    if not all(sets.values()):
        return None
    if not sets:
        return Route((), ())
    if start_deg is not None:
        return _from(start_deg % cycle_deg, sets, cycle_deg)
    starts = sorted(frozenset().union(*sets.values()))
    least = min(_reach(start, sets, cycle_deg) for start in starts)
    routes = [
        _from(start, sets, cycle_deg) for start in starts if _reach(start, sets, cycle_deg) == least
    ]
    return min(routes, key=lambda route: len(route.visits_deg))


def _reach(start: Fraction, sets: Mapping[Thing, frozenset[Fraction]], cycle_deg: int) -> Fraction:
    """How far the crank must go from ``start`` to have passed an option of everything."""
    return max(min((angle - start) % cycle_deg for angle in o) for o in sets.values())


def _from(start: Fraction, sets: Mapping[Thing, frozenset[Fraction]], cycle_deg: int) -> Route:
    reach = _reach(start, sets, cycle_deg)
    ahead = {
        thing: frozenset(d for angle in o if (d := (angle - start) % cycle_deg) <= reach)
        for thing, o in sets.items()
    }
    chosen = sorted(_fewest(set(ahead.values())))
    bars = tuple(b - a for a, b in zip([Fraction(0), *chosen], chosen, strict=False))
    return Route(tuple((start + d) % cycle_deg for d in chosen), bars)


def _fewest(sets: set[frozenset[Fraction]]) -> tuple[Fraction, ...]:
    """The fewest members that hit every set, the earlier ones first among equals."""
    # One member a set is always enough, so this ends.
    tries = (_hit(sets, size) for size in range(len(sets) + 1))
    return next(found for found in tries if found is not None)


def _hit(sets: set[frozenset[Fraction]], size: int) -> tuple[Fraction, ...] | None:
    """At most ``size`` members that hit every set, or None."""
    if not sets:
        return ()
    narrow = min(sets, key=lambda each: (len(each), sorted(each)))
    single = len([each for each in sets if len(each) == 1])
    if size == 0 or single > size:
        return None
    for member in sorted(narrow):
        rest = _hit({each for each in sets if member not in each}, size - 1)
        if rest is not None:
            return (member, *rest)
    return None
