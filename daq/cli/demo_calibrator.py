"""A simulated person who calibrates: does each task of a calibration on the demo's rig.

Like a person it sees the task and the screen and nothing else of the program. It knows no real
time: it waits by the gauge's.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from decimal import Decimal
from typing import Protocol

from daq.calibration.guided import Ending, Task
from daq.screen.calibration_run import ZERO_WORDS, Asked, Command
from daq.screen.calibration_view import CalibrationView
from simulated_devices.calibration_hand import RigHand, Worked
from simulated_devices.calibration_rig import GaugeTruth

MOVES_S = 0.9
"""How long it leaves the plunger to come to where it was sent."""

LOOKS_S = 1.0
"""How long after its last move it looks at the screen at all: what is shown before is old."""

PRESSES_S = 3.0
"""How long it waits after the gauge's zero key before it says so."""

PATIENCE_S = 8.0
"""A value that was not taken by itself after so long is taken by key."""

WHAT_WAS_DONE = "amplification set anew"

Commands = tuple[Command, ...]
Script = Iterator[Commands]
"""What is done, a moment at a time: the commands given in each."""

_GO: Commands = (Command(kind="go"),)


class WorkedRig(Worked, Protocol):
    """What is needed of a rig; see ``calibration_rig.CalibrationRig``."""

    def time_s(self) -> float:
        """Seconds since the gauge was switched on."""

    def go_to(self, travel_mm: float) -> None:
        """Bring the plunger to a travel."""

    def change_battery(self) -> None:
        """Put in a new battery."""

    def adjust(self, truth: GaugeTruth) -> None:
        """From now on the gauge errs like this."""


@dataclass(slots=True)
class Calibrator:
    """Works through what a ``CalibrationRun`` asks for; give it ``told``, ``sees``, ``commands``.

    Args:
        rig: what it works on.
        hand: how well.
        adjusted: how the gauge errs once it was adjusted.
        temperature_c: what its thermometer shows.
        name: who answers for the certificate.

    Attributes:
        caught: what the program said when something was wrong, each in its words.
    """

    rig: WorkedRig
    hand: RigHand
    adjusted: GaugeTruth
    temperature_c: Decimal
    name: str
    caught: list[str] = field(default_factory=list)
    _view: CalibrationView | None = field(default=None, init=False)
    _script: Script = field(default=iter(()), init=False)

    def told(self, asked: Asked) -> None:
        """There is a new task; whatever was being done for the one before is left."""
        self._view = None
        self._script = self._does(asked)

    def sees(self, view: CalibrationView, _now_s: float) -> None:
        """The screen shows this."""
        if view.notice == ZERO_WORDS:
            view = replace(view, notice="")  # nothing is wrong
        self._view = view
        if view.notice and view.notice not in self.caught[-1:]:
            self.caught.append(view.notice)

    def commands(self) -> Commands:
        """What it asks for at this moment; it does a moment's work meanwhile."""
        return next(self._script, ())

    def _does(self, asked: Asked) -> Script:
        task = asked.task
        yield from self._waits(self.hand.begins_after_s())
        match task.kind:
            case "conditions":
                yield (Command(kind="go", temperature_c=self.temperature_c),)
            case "point" | "return":
                yield from self._measures(task)
            case "adjusted or not":
                yield from self._adjusts(task)
            case "end":
                assert asked.ending is not None
                yield (Command(kind="go", ending=_signed(asked.ending, self.name)),)
        while True:
            yield _GO
            yield from self._waits(PATIENCE_S)

    def _adjusts(self, task: Task) -> Script:
        """Adjust what did not pass; leave the rest as it was found."""
        if task.result is not None and task.result.word == "pass":
            yield (Command(kind="not adjusted"),)
        self.rig.adjust(self.adjusted)
        yield (Command(kind="adjusted", text=WHAT_WAS_DONE),)

    def _measures(self, task: Task) -> Script:
        """Put the plunger where it is wanted, and see that it is taken; put right what is wrong."""
        wanted = task.wanted
        assert wanted is not None
        stop, pieces = wanted.stop, [each.nominal_mm for each in wanted.stack.pieces]
        again = stop.series == "repeat" or task.kind == "return"
        while True:
            way = self.hand.way_to(
                stop.place, pieces, is_down=stop.direction == "down", again=again
            )
            for travel_mm in way:
                self.rig.go_to(travel_mm)
                yield from self._waits(MOVES_S)
            yield from self._until_rest()
            if wanted.is_zero and task.kind == "point":
                self.rig.press("zero")
                yield from self._waits(PRESSES_S)
            if wanted.is_zero or task.kind == "return":
                yield _GO
            yield from self._until_told()
            if not self._notice:
                yield _GO
                yield ()
            yield from self._puts_right()
            again = True

    def _puts_right(self) -> Script:
        """Do what the screen says is wrong."""
        notice = self._notice
        if "the display changed" in notice or "25.4" in notice:
            self.rig.change_unit()
            yield from self._waits(LOOKS_S)
            if self._view is not None and self._view.bench is not None and self._view.bench.doubt:
                yield (Command(kind="trust the gauge"),)
        elif "battery" in notice:
            self.rig.change_battery()
            yield from self._waits(LOOKS_S)
        elif "zero has moved" in notice:
            yield (Command(kind="anew", text="the zero has moved"),)

    @property
    def _notice(self) -> str:
        return self._view.notice if self._view is not None else ""

    def _until_told(self) -> Script:
        """Wait for something to be said, as long as anybody has patience."""
        end_s = self.rig.time_s() + PATIENCE_S
        while not self._notice and self.rig.time_s() < end_s:
            yield ()

    def _until_rest(self) -> Script:
        """Let the last move pass, then wait until the screen says that the plunger is at rest."""
        yield from self._waits(LOOKS_S)
        end_s = self.rig.time_s() + PATIENCE_S
        while not self._is_at_rest and self.rig.time_s() < end_s:
            yield ()

    @property
    def _is_at_rest(self) -> bool:
        bench = self._view.bench if self._view is not None else None
        return bench is not None and bench.is_at_rest

    def _waits(self, s: float) -> Script:
        end_s = self.rig.time_s() + s
        while self.rig.time_s() < end_s:
            yield ()


def _signed(ending: Ending, name: str) -> Ending:
    return replace(ending, authorised_by=name)
