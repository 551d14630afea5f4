"""How long a control chart runs before a rule on its points speaks: the average run length.

Exact, by a Markov chain over what the rules still remember of past points. Points are independent
and normal with a known centre and standard deviation; a rule is on zones of that scale.

Source: C. W. Champ and W. H. Woodall, Technometrics 29 (1987) 393. The sets of rules: Western
Electric (1956) as given there; L. S. Nelson, J. Quality Technology 16 (1984) 237 (from memory).
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

import numpy as np

from daq.spec.probability import between

_MOST_STATES = 4_000
_LONGEST = 1e12

State = tuple[tuple[bool, ...], ...]
"""For each watch, which of the last points still count, oldest first."""


@dataclass(frozen=True, slots=True)
class RunRule:
    """``many`` of ``of`` successive points in a zone, in standard deviations from the centre.

    The zone begins at ``low`` and ends at ``high``. ``side``: on one side, whichever it is; or on
    both sides together.
    """

    many: int
    of: int
    low: float = 0.0
    high: float = math.inf
    side: Literal["one", "both"] = "one"

    def __post_init__(self) -> None:
        if not (1 <= self.many <= self.of and 0 <= self.low < self.high):
            raise ValueError(
                f"{self.many} of {self.of} points from {self.low} to {self.high} is no rule"
            )


BEYOND_3 = RunRule(1, 1, 3.0)
TWO_OF_THREE = RunRule(2, 3, 2.0)
FOUR_OF_FIVE = RunRule(4, 5, 1.0)
RUN_OF_8 = RunRule(8, 8)
RUN_OF_9 = RunRule(9, 9)
HUGGING_15 = RunRule(15, 15, 0.0, 1.0, "both")
AVOIDING_8 = RunRule(8, 8, 1.0, math.inf, "both")

WESTERN_ELECTRIC = (BEYOND_3, TWO_OF_THREE, FOUR_OF_FIVE, RUN_OF_8)
NELSON = (BEYOND_3, TWO_OF_THREE, FOUR_OF_FIVE, RUN_OF_9)
"""Those of Nelson's rules that look at zones on one side."""


@dataclass(frozen=True, slots=True)
class _Watch:
    """A rule as it looks at one set of zones of the real line."""

    many: int
    of: int
    zones: tuple[tuple[float, float], ...]

    def sees(self, z: float) -> bool:
        return any(low < z < high for low, high in self.zones)


def average_run_length(rules: Sequence[RunRule], shift: float = 0.0) -> float:
    """How many points go by, on average, until one of the rules speaks; that point included.

    Args:
        rules: one or more; they all watch.
        shift: of the mean of the points, in standard deviations. At 0 a rule that speaks is wrong.

    Raises:
        ValueError: no rule, rules that remember too much to be worked out, or a run of more than
            1e12 points, of which a float would keep too few digits.
    """
    watches = [watch for rule in rules for watch in _watches(rule)]
    if not watches:
        raise ValueError("without a rule nothing ever speaks")
    zones = _zones(watches, shift)
    start: State = tuple((False,) * (watch.of - 1) for watch in watches)
    numbers = {start: 0}
    waiting, moves = [start], []
    while waiting:
        state = waiting.pop()
        for chance, seen in zones:
            following = _after(state, seen, watches)
            if following is None:
                continue
            if following not in numbers:
                numbers[following] = len(numbers)
                waiting.append(following)
            moves.append((numbers[state], numbers[following], chance))
        if len(numbers) > _MOST_STATES:
            raise ValueError(f"these rules have more than {_MOST_STATES} states; leave some out")
    staying = np.zeros((len(numbers), len(numbers)))
    for source, target, chance in moves:
        staying[source, target] += chance
    lengths = np.linalg.solve(np.eye(len(numbers)) - staying, np.ones(len(numbers)))
    if not 0 < lengths[0] < _LONGEST:
        raise ValueError("these rules hardly ever speak: a run is longer than can be worked out")
    return float(lengths[0])


def chance_of_trend(points: int) -> float:
    """The chance that so many successive points all rise or all fall: 2/n!."""
    return 2.0 / math.factorial(points)


def chance_of_alternation(points: int) -> float:
    """The chance that so many successive points go up and down in turn: 2·E/n!.

    E is the number of alternating permutations, by the triangle of Seidel and Entringer.
    """
    row = [1]
    for _ in range(points):
        following = [0]
        for each in reversed(row):
            following.append(following[-1] + each)
        row = following
    return 2.0 * row[-1] / math.factorial(points) if points > 1 else 1.0


def _watches(rule: RunRule) -> Iterable[_Watch]:
    above, below = (rule.low, rule.high), (-rule.high, -rule.low)
    if rule.side == "both":
        # Where the zone begins at the centre, the two touch and are one.
        zones = ((-rule.high, rule.high),) if rule.low == 0 else (below, above)
        return (_Watch(rule.many, rule.of, zones),)
    if rule.of == 1:
        return (_Watch(1, 1, (below, above)),)
    return (_Watch(rule.many, rule.of, (above,)), _Watch(rule.many, rule.of, (below,)))


def _zones(watches: Sequence[_Watch], shift: float) -> list[tuple[float, tuple[bool, ...]]]:
    """The zones between all borders: the chance of a point there, and which watches see it."""
    ends = {end for watch in watches for zone in watch.zones for end in zone}
    borders = sorted(ends | {-math.inf, math.inf})
    zones = []
    for low, high in pairwise(borders):
        inside = _inside(low, high)
        chance = between(low - shift, high - shift)
        zones.append((chance, tuple(watch.sees(inside) for watch in watches)))
    return zones


def _inside(low: float, high: float) -> float:
    """A place between two borders, either of which may be infinite."""
    if math.isinf(low):
        return 0.0 if math.isinf(high) else high - 1.0
    return low + 1.0 if math.isinf(high) else (low + high) / 2


def _after(state: State, seen: Sequence[bool], watches: Sequence[_Watch]) -> State | None:
    """What is remembered after a point; None if a rule speaks."""
    following = []
    for past, now, watch in zip(state, seen, watches, strict=True):
        last = (*past, now)
        if sum(last) >= watch.many:
            return None
        following.append(_what_counts(last[1:], watch.many))
    return tuple(following)


def _what_counts(last: tuple[bool, ...], many: int) -> tuple[bool, ...]:
    """The past of a watch without the points that can no longer make it speak."""
    kept = list(last)
    for place in range(len(kept)):
        # With this point and ever more hits after it, can the rule speak before it is forgotten?
        if not any(sum(kept[s:]) + s + 1 >= many for s in range(place + 1)):
            kept[place] = False
    return tuple(kept)
