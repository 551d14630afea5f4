"""The hand of a fitter at an engine, with human flaws.

It turns too far or too little, now and then the wrong way; its nuts shift what they lock, and one
may slip; it is slow to begin. Which great mistakes it makes, and where, is written down beforehand
in ``Flaws``, so that whoever watches knows what ought to be caught. Seeded: the same seed errs by
the same amounts in the same order.
"""

import random
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Literal, Protocol

Mistake = Literal["presses early", "forgets to lift", "bumps", "knocks"]
"""Presses the key while the plunger moves; presses it without having lifted the plunger; bumps into
the stand; knocks the stand out of place and does not notice."""


class Turned(Protocol):
    """What a hand needs of an engine; see ``engine.Engine``."""

    def turn(self, place: str, turns: float) -> None:
        """Turn a screw."""

    def loosen(self, place: str) -> None:
        """Loosen a nut."""

    def tighten(self, place: str, shifts_mm: float = 0.0) -> None:
        """Tighten a nut."""


@dataclass(frozen=True, slots=True)
class Flaws:
    """What a hand will do wrong, by place.

    ``wrong_way``: how many turns go the wrong way there, before it is noticed. ``slips_mm``: how
    far the nut slips the first time it is tightened. ``mistakes``: what else happens there, once.
    """

    wrong_way: Mapping[str, int] = field(default_factory=dict)
    slips_mm: Mapping[str, float] = field(default_factory=dict)
    mistakes: Iterable[tuple[Mistake, str]] = ()


class EngineHand:
    """A hand at the screws and nuts of an engine.

    Args:
        engine: what it works on.
        flaws: its great mistakes.
        clumsiness: standard deviation of a turn's size, as a share of what was meant.
        nut_mm: standard deviation of the shift that a nut brings.
        off_mm: how far from zero it puts up a stand, at most.
        reaction_s: how long it takes at least to begin anything; up to three times as long.
        seed: of its errors.
    """

    def __init__(
        self,
        engine: Turned,
        flaws: Flaws | None = None,
        *,
        clumsiness: float = 0.06,
        nut_mm: float = 0.002,
        off_mm: float = 0.4,
        reaction_s: float = 0.2,
        seed: int = 0,
    ) -> None:
        flaws = flaws or Flaws()
        self._engine = engine
        self._clumsiness, self._nut_mm, self._off_mm = clumsiness, nut_mm, off_mm
        self._reaction_s = reaction_s
        self._wrong_way, self._slips_mm = dict(flaws.wrong_way), dict(flaws.slips_mm)
        self._mistakes = set(flaws.mistakes)
        self._random = random.Random(f"engine hand {seed}")

    def turn(self, place: str, turns: float) -> float:
        """Turn the screw nearly so far, or the wrong way; gives how far it was turned."""
        turned = turns * max(0.3, self._random.gauss(1.0, self._clumsiness))
        if self._wrong_way.get(place, 0) > 0:
            self._wrong_way[place] -= 1
            turned = -turned
        self._engine.turn(place, turned)
        return turned

    def tighten(self, place: str) -> None:
        """Tighten the nut; it shifts a little, or slips."""
        shifts_mm = self._slips_mm.pop(place, None)
        if shifts_mm is None:
            shifts_mm = self._random.gauss(0.0, self._nut_mm)
        self._engine.tighten(place, shifts_mm)

    def does(self, mistake: Mistake, place: str) -> bool:
        """Whether it makes this mistake here and now; it makes none of them twice."""
        if (mistake, place) not in self._mistakes:
            return False
        self._mistakes.discard((mistake, place))
        return True

    def misses_mm(self) -> float:
        """By how much a stand is put up off zero."""
        return self._random.uniform(-self._off_mm, self._off_mm)

    def begins_after_s(self) -> float:
        """How long it takes until it begins with the next thing."""
        return self._reaction_s * self._random.uniform(1.0, 3.0)
