"""What a screw does, learned while it is turned under the eye of the gauge."""

from dataclasses import dataclass, field

from daq.jobs.adjusting import notes_of
from daq.jobs.learning import Move, learn
from daq.measure.events import AtRest
from daq.spec import Adjuster, Spec, guide


@dataclass(slots=True)
class LiveLearning:
    """Rests of one target while its screw is turned, and what they say of the screw.

    Args:
        screw: as it was known before; None without one.
    """

    screw: Adjuster | None = None
    adjuster: Adjuster | None = None
    notes: tuple[str, ...] = ()
    _moves: list[Move] = field(default_factory=list)
    _before: tuple[AtRest, float] | None = None

    def __post_init__(self) -> None:
        self.adjuster = self.screw

    def rested(self, rest: AtRest, spec: Spec | None) -> None:
        """The part has come to rest; the turn that was told at the rest before has been made."""
        if self.screw is None or spec is None or self.adjuster is None:
            return
        if self._before is not None:
            before, told = self._before
            self._moves.append(
                Move(before.value_mm, before.u_mm, rest.value_mm, rest.u_mm, told or None)
            )
            learned = learn(self.screw, self._moves)
            self.adjuster, self.notes = learned.adjuster, notes_of(learned)
        off_mm = rest.value_mm - float(spec.nominal_mm + spec.aim_mm)
        guidance = guide(off_mm, self.adjuster)
        sign = {"clockwise": 1, "anticlockwise": -1}.get(guidance.direction, 0)
        self._before = rest, sign * float(guidance.turns)
