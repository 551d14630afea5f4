"""A hand that reads a deviation and turns a screw until it is zero: a fitter, with human flaws.

It has no clock: it is told how much time has passed and what it sees. It looks, decides, turns with
limited speed and not quite as far as it meant to, waits for the reading to come to rest, and looks
again. Seeded: the same seed makes the same mistakes.
"""

import random
from dataclasses import dataclass, field
from typing import Literal

Doing = Literal["waiting", "turning", "done"]

WORSE = 1.5
"""A deviation that grew by this factor after a turn, and clearly so, tells of a wrong way."""

ROUNDING_MM = 1e-9
"""Differences of floats are out by less; no display shows so little."""


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
        doing: what it is at; once ``"done"``, it looks again only after ``go_on``.
        turns_made: how many times it has turned the screw for this length.
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
    _left_mm: float = field(default=0.0, init=False, repr=False)
    _waited_s: float = field(default=0.0, init=False, repr=False)
    _missed_mm: float = field(default=0.0, init=False, repr=False)
    _way: int = field(default=1, init=False, repr=False)
    _random: random.Random = field(init=False, repr=False)

    def __post_init__(self) -> None:
        # The seed is also the gauge's and its wire's: each must make its own of it.
        self._random = random.Random(f"hand {self.seed}")

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
        self.aim_mm, self.doing = aim_mm, "waiting"
        self._waited_s, self._missed_mm, self.turns_made = 0.0, 0.0, 0

    def _decide(self, missing_mm: float) -> None:
        if abs(missing_mm) <= self.good_enough_mm + ROUNDING_MM:
            self.doing = "done"
            return
        if self._went_the_wrong_way(missing_mm):
            self._way = -self._way
        self._missed_mm = missing_mm
        meant_mm = self._way * missing_mm
        self._left_mm = meant_mm * max(0.1, self._random.gauss(1.0, self.clumsiness))
        self.doing = "turning"
        self.turns_made += 1

    def _went_the_wrong_way(self, missing_mm: float) -> bool:
        """Whether the turn before made it worse: a gauge that counts backwards."""
        if missing_mm * self._missed_mm <= 0:
            return False
        return abs(missing_mm) > WORSE * abs(self._missed_mm) + 2 * self.good_enough_mm

    def _turn(self, dt_s: float) -> None:
        most_mm = self.turns_s * self.pitch_mm * dt_s
        move_mm = max(-most_mm, min(most_mm, self._left_mm))
        self.moved_mm += move_mm
        self._left_mm -= move_mm
        if abs(self._left_mm) < ROUNDING_MM:
            self.doing, self._waited_s = "waiting", 0.0
