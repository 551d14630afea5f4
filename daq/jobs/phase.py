"""The phase model: where each cylinder is in its cycle at a crank angle, and what is open there."""

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from daq.jobs.names import Item, degrees_words
from daq.jobs.timing import CYCLE_DEG, MIDDLE, Arc, Stroke, ValveTiming


@dataclass(frozen=True, slots=True)
class Position:
    """A place to bar the crank to.

    ``crank_deg`` is counted in running direction from cylinder 1 at firing top dead centre (the
    first cylinder named, where they have no numbers), from 0 up to the cycle's length. ``words``
    are how a fitter finds it: ``cylinder 5 at firing TDC``.
    """

    crank_deg: Fraction
    words: str

    def __str__(self) -> str:
        return self.words


@dataclass(frozen=True, slots=True)
class PhaseModel:
    """Where every cylinder is in its cycle.

    Args:
        stroke: of the engine.
        firing_deg: by cylinder, the crank angle of its firing top dead centre.
        timing: the valve timing, or None.
    """

    stroke: Stroke
    firing_deg: Mapping[str, Fraction]
    timing: ValveTiming | None = None

    @property
    def cycle_deg(self) -> int:
        """Degrees of crank angle from one firing of a cylinder to its next."""
        return CYCLE_DEG[self.stroke]

    def phase_deg(self, cylinder: str, crank_deg: Fraction) -> Fraction:
        """Degrees since the cylinder's own firing top dead centre, from 0 up to the cycle."""
        return (crank_deg - self.firing_deg[cylinder]) % self.cycle_deg

    def arc(self, item: Item) -> Arc | None:
        """Where a valve is open by the timing; None for an injector or without a timing."""
        if item.kind == "injector" or self.timing is None:
            return None
        return self.timing.arc(item.kind, self.stroke)

    def clearance_deg(self, item: Item, crank_deg: Fraction) -> Fraction | None:
        """How far the crank is from where a valve opens or closes, whichever is nearer.

        Returns:
            Degrees, above zero where the valve is closed; zero or less where it is open; None
            if the timing does not say.
        """
        arc = self.arc(item)
        if arc is None:
            return None
        return arc.clearance_deg(self.phase_deg(item.cylinder, crank_deg), self.cycle_deg)

    def is_open(self, item: Item, crank_deg: Fraction) -> bool:
        """Whether a valve is off its base circle.

        Without a timing only the middle of its stroke counts as open, where every valve is.
        """
        if item.kind == "injector":
            return False
        arc = self.arc(item) or MIDDLE[self.stroke][item.kind]
        return arc.clearance_deg(self.phase_deg(item.cylinder, crank_deg), self.cycle_deg) <= 0

    def why_open(self, item: Item, crank_deg: Fraction) -> str:
        """Where the cylinder is and where the valve is open, for a message."""
        phase = self.phase_deg(item.cylinder, crank_deg)
        arc = self.arc(item)
        known = arc or MIDDLE[self.stroke][item.kind]
        return (
            f"cylinder {item.cylinder} is then {degrees_words(phase)} past its firing TDC, and its "
            f"{item.kind} is open from {degrees_words(known.opens_deg)} to "
            f"{degrees_words(known.closes_deg)}" + ("" if arc else " whatever the timing")
        )

    def position(
        self, cylinder: str, *, overlap: bool = False, after_deg: Fraction = Fraction(0)
    ) -> Position:
        """A position named after a cylinder.

        Args:
            cylinder: its name.
            overlap: at overlap top dead centre instead of firing; four-stroke only.
            after_deg: degrees past it in running direction; below zero is before it.
        """
        centre = "TDC" if self.stroke == "two" else ("overlap TDC" if overlap else "firing TDC")
        place = f"cylinder {cylinder} at {centre}"
        if after_deg:
            side = "after" if after_deg > 0 else "before"
            place = f"cylinder {cylinder} {degrees_words(abs(after_deg))} {side} {centre}"
        crank = self.firing_deg[cylinder] + (360 if overlap else 0) + after_deg
        return Position(crank % self.cycle_deg, place)
