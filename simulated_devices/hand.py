"""A hand that reads a deviation and turns a screw until it is zero: a fitter, with human flaws.

It has no clock: it is told how much time has passed and what it sees. It looks, decides, turns with
limited speed and not quite as far as it meant to, waits for the reading to come to rest, and looks
again. Where there is a lock nut it tightens it, sees that the length has moved, loosens it, and
turns again by as much less as the nut will add. Seeded: the same seed makes the same mistakes.
"""

import math
import random
from dataclasses import dataclass, field
from typing import Literal

Doing = Literal["waiting", "deciding", "turning", "locking", "loosening", "done"]

WORSE = 1.5
"""A deviation that grew by this factor after a turn, and clearly so, tells of a wrong way."""

ROUNDING_MM = 1e-9
"""Differences of floats are out by less; no display shows so little."""


@dataclass(slots=True)
class Hand:
    """A hand at an adjuster.

    Args:
        aim_mm: what the display should show, in millimetres.
        pitch_mm: how far the screw moves in a turn.
        look_s: how long it waits after a turn before it believes the display.
        turns_s: how fast it turns, in turns a second.
        clumsiness: standard deviation of a turn's size, as a share of what was meant.
        good_enough_mm: a deviation that it leaves alone.
        seed: of its mistakes.
        reaction_s: how long after its look it begins to turn; it acts on what it saw then.
        lever: how far the reading moves for each millimetre of the screw: a rocker in between.
        lock_shift_mm: how far a lock nut moves the reading when it is tightened; 0 without a nut.
        lock_s: how long tightening takes, and loosening.
        lock_scatter: standard deviation of that shift, as a share of it.
        next_after_s: how long a finished length is left alone before the next part is put in;
            infinite: until ``go_on``.
        next_off_mm: how far off the next part may be, either way.

    Attributes:
        moved_mm: how far the screw and its nut have moved the reading so far.
        doing: what it is at; once ``"done"``, it looks again only after ``go_on``.
        turns_made: how many times it has turned the screw for this length.
        locked: whether the nut is tight.
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
    reaction_s: float = 0.0
    lever: float = 1.0
    lock_shift_mm: float = 0.0
    lock_s: float = 1.0
    lock_scatter: float = 0.1
    next_after_s: float = math.inf
    next_off_mm: float = 0.0
    locked: bool = False
    _left_mm: float = field(default=0.0, init=False, repr=False)
    _waited_s: float = field(default=0.0, init=False, repr=False)
    _missed_mm: float = field(default=0.0, init=False, repr=False)
    _way: int = field(default=1, init=False, repr=False)
    _seen_mm: float = field(default=0.0, init=False, repr=False)
    _seen_loose_mm: float = field(default=0.0, init=False, repr=False)
    _nut_mm: float = field(default=0.0, init=False, repr=False)
    _nut_adds_mm: float = field(default=0.0, init=False, repr=False)
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
        match self.doing:
            case "turning":
                self._move(self.turns_s * self.pitch_mm * self.lever * dt_s)
                return
            case "locking" | "loosening":
                self._move(abs(self._nut_mm) / self.lock_s * dt_s)
                return
        self._waited_s += dt_s
        if self.doing == "waiting" and self._waited_s >= self.look_s and shown_mm is not None:
            self._seen_mm = shown_mm
            self._begin("deciding")
        if self.doing == "deciding" and self._waited_s >= self.reaction_s:
            self._decide()
        elif self.doing == "done" and self._waited_s >= self.next_after_s:
            self.moved_mm += self._random.uniform(-self.next_off_mm, self.next_off_mm)
            self.go_on(self.aim_mm)

    def go_on(self, aim_mm: float) -> None:
        """Begin anew with another length: the next part, its nut loose."""
        self.aim_mm, self._missed_mm, self.turns_made = aim_mm, 0.0, 0
        self.locked, self._nut_adds_mm = False, 0.0
        self._begin("waiting")

    def _begin(self, doing: Doing) -> None:
        self.doing, self._waited_s = doing, 0.0

    def _decide(self) -> None:
        """What to do about what was seen."""
        if self.locked:
            self._nut_adds_mm = self._seen_mm - self._seen_loose_mm
        will_add_mm = 0.0 if self.locked else self._nut_adds_mm
        missing_mm = self.aim_mm - self._seen_mm - will_add_mm
        good = abs(missing_mm) <= self.good_enough_mm + ROUNDING_MM
        if good and (self.locked or not self.lock_shift_mm):
            self._begin("done")
        elif good or self.locked:
            self._turn_the_nut()
        else:
            self._turn_the_screw(missing_mm)

    def _turn_the_nut(self) -> None:
        """Tighten it, or loosen it again: the shift is drawn once, and taken back whole."""
        if self.locked:
            self._left_mm = -self._nut_mm
            self._begin("loosening")
        else:
            self._seen_loose_mm = self._seen_mm
            self._nut_mm = self.lock_shift_mm * self._random.gauss(1.0, self.lock_scatter)
            self._left_mm = self._nut_mm
            self._begin("locking")
        self._missed_mm = 0.0  # what the nut does says nothing about the screw's way

    def _turn_the_screw(self, missing_mm: float) -> None:
        if self._went_the_wrong_way(missing_mm):
            self._way = -self._way
        self._missed_mm = missing_mm
        meant_mm = self._way * missing_mm
        self._left_mm = meant_mm * max(0.1, self._random.gauss(1.0, self.clumsiness))
        self.turns_made += 1
        self._begin("turning")

    def _went_the_wrong_way(self, missing_mm: float) -> bool:
        """Whether the turn before made it worse: a gauge that counts backwards."""
        if missing_mm * self._missed_mm <= 0:
            return False
        return abs(missing_mm) > WORSE * abs(self._missed_mm) + 2 * self.good_enough_mm

    def _move(self, most_mm: float) -> None:
        """Move the reading by what is left to do, at most so far; at the end of it, wait to see."""
        move_mm = max(-most_mm, min(most_mm, self._left_mm))
        self.moved_mm += move_mm
        self._left_mm -= move_mm
        if abs(self._left_mm) < ROUNDING_MM:
            self.locked = self.doing == "locking"
            self._begin("waiting")
