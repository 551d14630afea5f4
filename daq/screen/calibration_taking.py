"""Taking a value for a point of a calibration: when it may be, when by itself, and keeping it.

The gauge is watched all the way from the point before, so that a reversal, or a plunger that was
not moved, is seen.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from decimal import Decimal

from daq.calibration.checks import Refusal
from daq.calibration.forms import GaugeIdentity
from daq.calibration.guided import Passed, Task
from daq.logbook import Capture, Entry
from daq.logbook.records import Written
from daq.measure.events import Refused, Trigger
from daq.measure.session import Session
from daq.measure.station import Station
from daq.measure.travel import Travel
from daq.screen.calibration_passing import Passing

LIFTED_STEPS = 5
"""Between two values of one stack the plunger must have been seen to move by so many steps."""

Answer = Callable[[Capture, Passed], Sequence[Written] | Refusal]
"""What is to be kept with a value, or why it may not be taken."""


class _NotTakenError(Exception):
    """Stops a value on its way to the logbook."""

    def __init__(self, refusal: Refusal) -> None:
        super().__init__(refusal.words)
        self.refusal = refusal


@dataclass(frozen=True, slots=True)
class Taken:
    """A value that is in the logbook, with what was kept with it."""

    entry: Entry
    records: tuple[Written, ...]


@dataclass(slots=True)
class Taking:
    """The gauge that is calibrated, seen as what its values may be taken for.

    Args:
        station: has the gauge.
        label: its label.
        gauge: as it was entered.
    """

    station: Station
    label: str
    gauge: GaugeIdentity
    passing: Passing = field(default_factory=Passing)
    _travel: Travel = field(default_factory=Travel)
    _is_watched: bool = False
    _is_zero_set: bool = False
    _judged: int = 0
    _rest_number: int = 0
    _rest_begun_s: float = 0.0

    @property
    def session(self) -> Session:
        """The gauge's session."""
        return self.station.session(self.label)

    def begin_point(self) -> None:
        """Another point is wanted: what rested before is old."""
        self.session.hold_against(None, None)
        self._is_zero_set = False

    def zero_is_set(self) -> None:
        """Somebody has set the gauge to zero: it is taken as soon as it rests from now on.

        A rest that goes on over a zero key would be a mean of what it read before and after.
        """
        self.begin_point()
        self._is_zero_set = True

    def forget(self) -> None:
        """The gauge has gone: nobody sees what is done to it meanwhile."""
        self.passing.forget()
        self._is_watched = False

    def read(self, value_mm: Decimal, task: Task) -> str:
        """The gauge reads this; what to tell whoever moves it, empty for nothing."""
        if not self._is_watched:
            self._is_watched = True
            self._travel.keep(self.label, value_mm, None)
        self._travel.read(self.label, value_mm)
        if task.wanted is None or task.kind != "point":
            return ""
        return self.passing.read(value_mm, task.wanted, self.gauge)

    def notice_rest(self) -> None:
        """Remember when the present rest began."""
        rest = self.session.rest
        if rest is not None and rest.number != self._rest_number:
            self._rest_number, self._rest_begun_s = rest.number, rest.since_s

    def trigger_by_itself(self, task: Task, *, by_key: bool) -> Trigger | None:
        """How a value is to be taken now without a key of the keyboard; None for not now.

        A block under the plunger is taken by itself once it rests, and none is judged twice.
        What a hand sets stays by key, since it may rest on its way: a bench, and the zero, which is
        taken after ``zero_is_set``. A gauge's own data key always takes.
        """
        session, wanted = self.session, task.wanted
        if wanted is None or not session.is_new_rest or session.rest is None:
            return None
        if session.sends_on_key:
            return "data key"
        if wanted.is_zero and task.kind == "point":
            return "key" if self._is_zero_set and self._left_to_wait_s(task) <= 0 else None
        if by_key or task.kind == "return":
            return None
        if wanted.prepared.standard.kind == "bench" or session.rest.number == self._judged:
            return None
        if not self._has_moved() or self._left_to_wait_s(task) > 0:
            return None
        return "settled"

    def why_not_yet(self, task: Task) -> str:
        """Why a value may not be taken by key yet; empty if it may."""
        wanted = task.wanted
        if wanted is None:
            return ""
        if task.kind == "point" and wanted.stop.series == "repeat" and not self._has_moved():
            return "The plunger was not seen to move since the last value. Lift it."
        left_s = self._left_to_wait_s(task)
        if left_s > 0:
            return f"Let it rest for {left_s:.0f} s more; the plan asks for it."
        return ""

    def _has_moved(self) -> bool:
        session = self.session
        least_mm = LIFTED_STEPS * session.step_mm
        return session.sends_on_key or self._travel.has_moved(self.label, least_mm)

    def _left_to_wait_s(self, task: Task) -> float:
        """How long it still has to rest before it is read, by the plan, seconds."""
        session = self.session
        if session.rest is None or session.sends_on_key or task.wanted is None:
            return 0.0
        wait_s = task.wanted.prepared.plan.heading.wait
        return wait_s - (self.station.clock() - self._rest_begun_s)

    def take(self, trigger: Trigger, answer: Answer) -> Taken | Refusal | Refused:
        """Keep the present value with its answer, all of it or none; or say why not.

        Raises:
            LogbookError: it could not be kept.
            CalibrationError: nothing can be made of it.
        """
        kept: list[Written] = []

        def and_then(capture: Capture) -> list[Written]:
            more = answer(capture, self.passing.passed)
            if isinstance(more, Refusal):
                raise _NotTakenError(more)
            kept.extend([capture, *more])
            return [*more]

        try:
            result = self.station.capture(self.label, trigger, with_spec=False, and_then=and_then)
        except _NotTakenError as error:
            rest = self.session.rest
            self._judged = rest.number if rest is not None else 0
            self._is_zero_set = False
            if error.refusal.kind in ("reversal", "not backed off"):
                self.passing.was_told = True
            return error.refusal
        if isinstance(result, Refused):
            self._is_zero_set = False
            return result
        captured, entry = result
        assert entry is not None  # the station has a logbook
        self._travel.keep(self.label, captured.readings[-1].value_mm, None)
        self.passing.begin(Decimal(repr(captured.rest.value_mm)))
        return Taken(entry, tuple(kept))
