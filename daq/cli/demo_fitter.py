"""A simulated fitter: does each task of a job on the demo's engine, and presses the key.

Like a person it sees the task and the screen and nothing else of the program; it works with the
hands, and waits for the screen to say that the part is at rest. It knows no real time: it waits by
the engine's.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field
from decimal import Decimal

from daq.cli.demo_engine import STOPS, crank_deg_of, master_of, place_of
from daq.cli.demo_story import Story
from daq.jobs.sheet import PlannedStep
from daq.jobs.task import Task
from daq.screen.job_run import Command
from daq.screen.job_view import JobView
from simulated_devices.engine import TURNS_S, Engine
from simulated_devices.engine_hand import EngineHand

LOOKS_S = 1.0
"""How long after its last move it looks at the screen at all: what is shown before is old."""

LIFTS_S = 0.3
"""How long it takes to lift a plunger, and to move a gauge while it is lifted."""

SWINGS_S = 2.0
"""How long it waits at most to see on the screen that it has bumped into something."""

ROCKED_S = 12.0
"""A rocked part that was not captured by itself after this long is captured by key."""

KNOCK_MM = 0.07
"""How far a stand is knocked, when it is."""

REFERENCE_C = Decimal(20)
"""The engine and its gauges are at the temperature that lengths are stated at (ISO 1)."""

Commands = tuple[Command, ...]
Script = Iterator[Commands]
"""What the fitter does, a moment at a time: the commands given in each."""

_GO: Commands = (Command("go"),)


@dataclass(slots=True)
class Fitter:
    """Works through whatever a ``JobRun`` asks for; give it ``told``, ``sees`` and ``commands``.

    Args:
        story: the job, and what is to be left on the way.
        engine: what it works on.
        hand: how well.

    Attributes:
        refusals: what the program said when it refused a value, each in its words.
        said: everything that it said besides.
    """

    story: Story
    engine: Engine
    hand: EngineHand
    refusals: list[str] = field(default_factory=list)
    said: set[str] = field(default_factory=set)
    _steps: dict[str, PlannedStep] = field(init=False)
    _view: JobView | None = field(default=None, init=False)
    _script: Script = field(default=iter(()), init=False)

    def __post_init__(self) -> None:
        self._steps = {each.name: each for each in self.story.sheet.for_variant(self.story.variant)}

    def told(self, task: Task) -> None:
        """There is a new task; whatever was being done for the one before is left."""
        self._view = None
        self._script = self._does(task)

    def sees(self, view: JobView, _now_s: float) -> None:
        """The screen shows this."""
        self._view = view
        self.said.update(view.more)

    def commands(self) -> Commands:
        """What it asks for at this moment; it does a moment's work meanwhile."""
        return next(self._script, ())

    def _does(self, task: Task) -> Script:
        yield from self._waits(self.hand.begins_after_s())
        excuse = self.story.skips.get((task.step, task.target))
        if excuse is not None and task.phase is not None:
            yield (Command("skip", excuse.reason, excuse.by),)
        match task.kind:
            case "confirm":
                yield from self._obeys(task)
                if task.asks == "temperatures":
                    yield (Command("go", figures=(REFERENCE_C, REFERENCE_C)),)
            case "decide":
                yield from self._decides(task)
            case "adjust":
                yield from self._adjusts(task, self._steps[task.step])
            case "measure":
                yield from self._measures(task, self._steps[task.step])
        while True:
            yield _GO

    def _obeys(self, task: Task) -> Script:
        """Do what is to be confirmed."""
        place = place_of(task.step, task.target)
        match task.gate:
            case "step":
                self._mounts(self._steps[task.step])
            case "adjusted":
                self.engine.loosen(place)
                turned = self.hand.turn(place, float(task.told.turns) if task.told else 0.0)
                yield from self._waits(abs(turned) / TURNS_S)
            case "locked":
                self.hand.tighten(place)
            case "worked":
                self.engine.work(place)
        yield from self._waits(self.hand.begins_after_s())

    def _mounts(self, planned: PlannedStep) -> None:
        """Put the gauge up so that it reads about zero, on the master if there is one."""
        near_mm = float(planned.step.master.mm) if planned.step.master else 0.0
        self.engine.mount(self._gauge(planned), near_mm + self.hand.misses_mm())

    def _decides(self, task: Task) -> Script:
        """Let it stand if that was agreed, else measure it again."""
        excuse = self.story.lets_stand.get((task.step, task.target))
        if excuse is None:
            yield (Command("back"),)
        else:
            yield (Command("let it stand", excuse.reason, excuse.by),)

    def _measures(self, task: Task, planned: PlannedStep) -> Script:
        """Bring the plunger to where it is wanted, wait, press."""
        gauge, place = self._gauge(planned), self._place(task, planned)
        assert task.wanted is not None
        again = task.wanted.number > 1
        is_new = not again and task.phase == "as found"
        if again and self.hand.does("forgets to lift", place):
            yield from self._presses_once()
        if task.master is not None:
            yield from self._sets_on_master(task, planned)
        elif planned.step.recipe == "play":
            yield from self._rocks(task, planned, is_new)
            return
        elif planned.step.recipe in ("run-out", "deflection"):
            self._bars(task, planned)
            yield from self._sets_on(gauge, place, "", is_new)
        else:
            yield from self._sets_on(gauge, place, task.wanted.position, is_new or again)
        yield from self._presses(gauge, place)

    def _sets_on_master(self, task: Task, planned: PlannedStep) -> Script:
        """Lift, and let down on the master; without one, on the part itself."""
        gauge, place = self._gauge(planned), self._place(task, planned)
        spot = "" if planned.step.master else next(iter(self.engine.spots_mm(place)))
        yield from self._sets_on(gauge, place, spot, anew=True)

    def _sets_on(self, gauge: str, place: str, spot: str, anew: bool = False) -> Script:
        """Lift the plunger and let it down on a spot, unless it lies there already."""
        lies_there = self.engine.under(gauge) == (place, spot) and not self.engine.is_lifted(gauge)
        if lies_there and not anew:
            return
        self.engine.lift(gauge)
        yield from self._waits(LIFTS_S)
        self.engine.put(gauge, place, spot)
        yield from self._waits(LIFTS_S)
        self.engine.let_down(gauge)

    def _bars(self, task: Task, planned: PlannedStep) -> None:
        """Bar the crank to where the value is wanted."""
        assert task.wanted is not None
        if task.wanted.angle_deg is not None:
            self.engine.bar_to(task.wanted.angle_deg)
        elif task.wanted.position:
            self.engine.bar_to(crank_deg_of(planned, task.wanted.position))

    def _rocks(self, task: Task, planned: PlannedStep, is_new: bool) -> Script:
        """Press the part to a stop and hold it; the program captures by itself from then on."""
        gauge, place = self._gauge(planned), self._place(task, planned)
        assert task.wanted is not None
        if task.wanted.number == 1:
            yield from self._sets_on(gauge, place, STOPS[0], is_new)
            yield from self._presses(gauge, place)
        under, stop = self.engine.under(gauge), task.wanted.position
        if stop not in STOPS:
            stop = STOPS[under == (place, STOPS[0])]
        if under is None or under[0] != place or self.engine.is_lifted(gauge):
            yield from self._sets_on(gauge, place, stop)
        else:
            self.engine.press(gauge, stop)
        yield from self._waits(ROCKED_S)
        yield from self._presses(gauge, place)

    def _adjusts(self, task: Task, planned: PlannedStep) -> Script:
        """Turn by what the screen says, look again, until it says to leave it."""
        gauge, place = self._gauge(planned), self._place(task, planned)
        screw = planned.step.adjuster
        assert screw is not None
        sense = 1 if screw.clockwise == "raises" else -1
        yield from self._sets_on(gauge, place, "")
        self.engine.loosen(place)
        while True:
            yield from self._until_rest()
            bench = self._view.bench if self._view else None
            if bench is None or bench.settled_mm is None:
                continue
            if bench.way == "leave it":
                yield from self._presses(gauge, place)
            off_mm = bench.settled_mm - float(bench.aim_mm)
            turned = self.hand.turn(place, -sense * off_mm / float(screw.mm_per_turn))
            yield from self._waits(abs(turned) / TURNS_S)

    def _presses(self, gauge: str, place: str) -> Script:
        """Wait for rest and press, again until it is taken; with the mistakes made here."""
        if self.hand.does("knocks", place):
            self.engine.knock(gauge, KNOCK_MM)
        if self.hand.does("presses early", place):
            self.engine.lift(gauge)
            yield from self._until_moving()
            yield from self._presses_once()
            self.engine.let_down(gauge)
        if self.hand.does("bumps", place):
            yield from self._until_rest()
            self.engine.bump(gauge)
            yield from self._until_moving()
            yield from self._presses_once()
        while True:
            yield from self._until_rest()
            yield from self._presses_once()
            if "lift it" in self.refusals[-1]:
                self.engine.lift(gauge)
                yield from self._waits(LIFTS_S)
                self.engine.let_down(gauge)

    def _presses_once(self) -> Script:
        """Press; if there is no new task after that, it was refused."""
        yield _GO
        self.refusals.append(self._view.notice if self._view else "")

    def _until_rest(self) -> Script:
        """Let the last move pass, then wait until the screen says that the part is at rest."""
        yield from self._waits(LOOKS_S)
        while self._view is None or self._view.bench is None or not self._view.bench.is_at_rest:
            yield ()

    def _until_moving(self) -> Script:
        """Wait for the screen to show that something moves, but not longer than a swing lasts."""
        end_s = self.engine.time_s() + SWINGS_S
        while self._view is None or self._view.bench is None or self._view.bench.is_at_rest:
            if self.engine.time_s() > end_s:
                return
            yield ()

    def _waits(self, s: float) -> Script:
        end_s = self.engine.time_s() + s
        while self.engine.time_s() < end_s:
            yield ()

    def _gauge(self, planned: PlannedStep) -> str:
        return self.story.labels[planned.step.gauge]

    def _place(self, task: Task, planned: PlannedStep) -> str:
        """Where the plunger is wanted; on the part, that is on the first one of the step."""
        if task.master is not None and planned.step.master is not None:
            return master_of(planned)
        return place_of(task.step, task.target or planned.targets[0].name)
