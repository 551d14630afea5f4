"""A hand that reads a deviation and turns a screw until it is zero: a fitter, with human flaws.

It has no clock: it is told how much time has passed and what it sees. It looks, decides, turns with
limited speed and not quite as far as it meant to, waits for the reading to come to rest, and looks
again. Seeded: the same seed makes the same mistakes.
"""

import random
from dataclasses import dataclass, field
from typing import Literal

Doing = Literal["waiting", "turning", "done"]


@dataclass(slots=True)
class Hand:
    """A hand at an adjuster.

    Args:
        aim_mm: what the display should show, in millimetres.
        pitch_mm: how far the reading moves in a turn of the screw.
        look_s: how long it waits after a turn before it believes the display.
        turns_s: how fast it turns, in turns a second.
        clumsiness: standard deviation of a turn's size, as a share of what was meant.
        good_enough_mm: a deviation that it leaves alone.
        seed: of its mistakes.

    Attributes:
        moved_mm: how far the screw has moved the reading so far.
        doing: what it is at.
        turns_made: how many times it has turned the screw.
    """

    aim_mm: float
    pitch_mm: float
    look_s: float = 1.5
    turns_s: float = 0.25
    clumsiness: float = 0.08
    good_enough_mm: float = 0.001
    seed: int = 0
    moved_mm: float = 0.0
    doing: Doing = "waiting"
    turns_made: int = 0
    _left_mm: float = 0.0
    _waited_s: float = 0.0
    _random: random.Random = field(init=False, repr=False)

    def __post_init__(self) -> None:
        self._random = random.Random(self.seed)

    def advance(self, dt_s: float, shown_mm: float | None) -> None:
        """Let ``dt_s`` seconds pass.

        Args:
            dt_s: seconds, above zero.
            shown_mm: what the display shows now; None while it shows no number.
        """
        if self.doing == "turning":
            self._turn(dt_s)
            return
        self._waited_s += dt_s
        if self.doing == "waiting" and self._waited_s >= self.look_s and shown_mm is not None:
            self._decide(self.aim_mm - shown_mm)

    def go_on(self, aim_mm: float) -> None:
        """Begin anew with another length."""
        self.aim_mm, self.doing, self._waited_s, self.turns_made = aim_mm, "waiting", 0.0, 0

    def _decide(self, missing_mm: float) -> None:
        if abs(missing_mm) <= self.good_enough_mm:
            self.doing = "done"
            return
        self._left_mm = missing_mm * max(0.1, self._random.gauss(1.0, self.clumsiness))
        self.doing = "turning"
        self.turns_made += 1

    def _turn(self, dt_s: float) -> None:
        most_mm = self.turns_s * self.pitch_mm * dt_s
        move_mm = max(-most_mm, min(most_mm, self._left_mm))
        self.moved_mm += move_mm
        self._left_mm -= move_mm
        if abs(self._left_mm) < 1e-12:
            self.doing, self._waited_s = "waiting", 0.0
