"""The hand that works on a calibration's rig, with human flaws.

It puts the plunger on the stack that is asked for without reversing; now and then it goes past,
puts another block there, does not back off, or a sleeve presses the unit key. Which great mistakes
it makes, and where, is written down beforehand in ``RigSlips``. Nothing here has a clock.
"""

import random
from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Protocol

from simulated_devices.calibration_rig import Pieces
from simulated_devices.gauge import Key

PASSED_BY_MM = 0.4
"""How far a hand that errs goes past a point before it comes back."""

BACKED_OFF_MM = 0.5
"""How far a hand backs off where it has to come to a point again."""


@dataclass(frozen=True, slots=True)
class RigSlips:
    """What a hand does wrong, by which of the plan's readings it is; each of it once.

    ``passes``: it goes past the point and comes back. ``takes``: it puts something else there.
    ``stays``: it does not back off before it comes to the point again. ``unit``: a sleeve presses
    the unit key on the way there. ``battery``: the battery runs low.
    """

    passes: frozenset[int] = frozenset()
    takes: Mapping[int, tuple[Decimal, ...]] = field(default_factory=dict)
    stays: frozenset[int] = frozenset()
    unit: frozenset[int] = frozenset()
    battery: frozenset[int] = frozenset()


class Worked(Protocol):
    """What a hand needs of a rig; see ``CalibrationRig``."""

    def travel_mm(self, pieces: Pieces) -> float:
        """How far the plunger truly travels from the base to a stack."""

    def rests_mm(self) -> float:
        """The travel at which the plunger will be in the end."""

    def press(self, key: Key) -> None:
        """Press a key of the gauge."""

    def change_unit(self) -> None:
        """Press the unit key."""


class RigHand:
    """A hand that works on a rig: it tells where it goes, a move at a time.

    Args:
        rig: where it works.
        slips: what it does wrong.
        reaction_s: how long it takes at least to begin anything; up to three times as long.
        seed: of its times.
    """

    def __init__(
        self,
        rig: Worked,
        slips: RigSlips | None = None,
        *,
        reaction_s: float = 0.2,
        seed: int = 0,
    ) -> None:
        self._rig, self._slips = rig, slips or RigSlips()
        self._reaction_s = reaction_s
        self._random = random.Random(f"rig hand {seed}")
        self._slipped: set[tuple[str, int]] = set()

    def begins_after_s(self) -> float:
        """How long it takes until it begins with the next thing."""
        return self._reaction_s * self._random.uniform(1.0, 3.0)

    def way_to(
        self, place: int, pieces: Pieces, *, is_down: bool, again: bool
    ) -> tuple[float, ...]:
        """Where it goes, one travel after the other, to put the plunger on a stack.

        Args:
            place: which of the plan's readings it is.
            pieces: the stack.
            is_down: whether the stack is to be come to from above.
            again: whether it has to back off first, to come to the same point once more.
        """
        takes = self._slips.takes.get(place)
        if takes is not None and self._slips_at("takes", place):
            return (self._rig.travel_mm(takes),)
        there_mm = self._rig.travel_mm(pieces)
        beyond = -1.0 if is_down else 1.0
        if place in self._slips.unit and self._slips_at("unit", place):
            self._rig.change_unit()
        if place in self._slips.battery and self._slips_at("battery", place):
            self._rig.press("battery")
        if place in self._slips.passes and self._slips_at("passes", place):
            return there_mm + beyond * PASSED_BY_MM, there_mm
        is_short = (there_mm - self._rig.rests_mm()) * beyond > 0
        if place in self._slips.stays and self._slips_at("stays", place):
            return (there_mm,)
        if again or not is_short:
            return there_mm - beyond * BACKED_OFF_MM, there_mm
        return (there_mm,)

    def _slips_at(self, what: str, place: int) -> bool:
        """Whether it slips here and now; it never does so twice."""
        if (what, place) in self._slipped:
            return False
        self._slipped.add((what, place))
        return True
