"""The demo's job: a simulated fitter works through a whole job sheet on simulated gauges.

Everything between the hand and the logbook is real: bytes on real ports, the station, the settler,
the job and its records. Time may run faster for all of it alike.
"""

import math
import sys
import threading
import time
from collections.abc import Callable, Mapping
from contextlib import ExitStack
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from daq.cli.demo_engine import engine_of
from daq.cli.demo_fitter import Fitter
from daq.cli.demo_outcome import Outcome
from daq.cli.demo_story import Story
from daq.cli.job_opening import await_ports, begin_job, open_job
from daq.cli.options import station_name
from daq.jobs.keeping import KeptJob
from daq.jobs.stages import stages_of
from daq.jobs.standing import JobStanding, StepStanding, standing
from daq.jobs.task import Task
from daq.logbook import Logbook
from daq.measure.capture import Bench as Place
from daq.measure.gauges import Gauge
from daq.measure.station import Station
from daq.screen.job_run import Command, JobRun
from drivers.profiles import load_profile
from simulated_devices import Bench
from simulated_devices.engine import Engine
from simulated_devices.engine_hand import EngineHand

if TYPE_CHECKING:
    from daq.screen.job_view import JobView


AHEAD_S = 0.3
"""How far the gauges may be ahead of the screen: well below the age at which a reading is old."""


class Pace:
    """Time that runs faster than real time, but never further than whoever looks on can follow.

    On a machine that is busy with something else it runs slower instead of making readings old.

    Args:
        speed: seconds of it in a second of real time, at most.
    """

    def __init__(self, speed: float) -> None:
        self._speed = speed
        self._turn = threading.Lock()
        self._real_s = time.monotonic()
        self._now_s = 0.0
        self._until_s = math.inf

    def now_s(self) -> float:
        """What time it is, seconds; it never goes back."""
        with self._turn:
            real_s = time.monotonic()
            ahead_s = self._now_s + (real_s - self._real_s) * self._speed
            self._real_s, self._now_s = real_s, max(self._now_s, min(ahead_s, self._until_s))
            return self._now_s

    def seen(self) -> None:
        """Somebody has seen all that came so far; time may go on."""
        self._until_s = self.now_s() + AHEAD_S


@dataclass(frozen=True, slots=True)
class Watching:
    """Who watches the job, and what a person may ask for meanwhile.

    ``show`` is given each view with the time, ``told`` each task, ``tell`` each step that is done;
    ``stop`` is asked at each turn whether to end.
    """

    show: "Callable[[JobView, float], object]" = lambda _view, _now_s: None
    commands: Callable[[], list[Command]] = list
    told: Callable[[Task], object] = lambda _: None
    tell: Callable[[StepStanding], object] = lambda _: None
    stop: Callable[[], bool] = lambda: False


def run_story(
    path: Path, story: Story, watching: Watching, *, seed: int = 1, speed: float = 1.0
) -> Outcome:
    """Put an engine on a bench and let a fitter work through a story's job from the beginning.

    Args:
        path: the logbook; it is begun if there is none.
        story: the job.
        watching: who is told.
        seed: of the engine, the gauges and the hand.
        speed: seconds of the engine's and the program's time in one second of real time.

    Raises:
        BenchError: a port could not be made.
        LogbookError: something could not be kept.
    """
    pace = Pace(speed)
    engine = engine_of(
        story.sheet, story.variant, story.gauges, seed, story.off_mm, clock=pace.now_s
    )
    hand = EngineHand(engine, story.flaws, seed=seed)
    gauges = {label: (gauge, None) for label, gauge in engine.gauges.items()}
    with Bench(gauges, "tcp" if sys.platform == "win32" else "pty") as bench:
        return work_on(path, story, engine, hand, bench.ports, pace, watching)


def work_on(
    path: Path,
    story: Story,
    engine: Engine,
    hand: EngineHand,
    ports: Mapping[str, str],
    pace: Pace,
    watching: Watching,
) -> Outcome:
    """Let a fitter work on an engine until the job ends, or until whoever watches stops it.

    A job in the logbook that was not ended goes on where it stands.

    Args:
        path: the logbook; it is begun if there is none.
        story: the job.
        engine: what is worked on; its gauges run.
        hand: how well.
        ports: by its label, where each gauge is read.
        pace: the time that the gauges go by.
        watching: who is told.

    Raises:
        LogbookError: something could not be kept.
    """
    fitter = Fitter(story, engine, hand)
    on_bench = {
        gauge.label: Gauge(gauge.label, load_profile(gauge.profile), ports[gauge.label])
        for gauge in story.gauges
    }
    by_role = {role: on_bench[label] for role, label in story.labels.items()}
    with ExitStack() as stack:
        logbook = stack.enter_context(Logbook.open(path))
        station = stack.enter_context(
            Station(
                [*on_bench.values()],
                logbook=logbook,
                bench=Place(station_name(), story.operator),
                clock=pace.now_s,
            )
        )
        await_ports(station, [*on_bench])
        sheet, engine_name = story.sheet, story.engine
        kept = open_job(logbook, sheet, engine_name) or begin_job(
            logbook, sheet, engine_name, story.operator, story.variant, by_role, station
        )
        job = _works(station, logbook, kept, fitter, watching, pace)
    return Outcome(story, kept, job, engine, fitter)


def _works(
    station: Station,
    logbook: Logbook,
    kept: KeptJob,
    fitter: Fitter,
    watching: Watching,
    pace: Pace,
) -> JobStanding:
    """The job itself, seen by the fitter and by whoever watches."""
    story = fitter.story
    teller = _Teller(story, kept, watching.tell)

    def told(task: Task) -> None:
        teller.told(task)
        watching.told(task)
        fitter.told(task)

    def show(view: "JobView", now_s: float) -> None:
        fitter.sees(view, now_s)
        watching.show(view, now_s)
        pace.seen()

    return JobRun(
        station,
        logbook,
        story.sheet,
        kept,
        story.labels,
        story.operator,
        show,
        lambda: [*watching.commands(), *fitter.commands()],
        told,
        watching.stop,
    ).run()


@dataclass(slots=True)
class _Teller:
    """Tells of each step as soon as it is done."""

    story: Story
    kept: KeptJob
    tell: Callable[[StepStanding], object]
    _at: str = ""
    _told: set[str] = field(default_factory=set)

    def told(self, task: Task) -> None:
        """There is a new task; the steps before it may be done."""
        if task.step == self._at:
            return
        self._at = task.step
        begun = self.kept.begun
        stages = stages_of(self.story.sheet, begun.variant)
        job = standing(self.story.sheet, begun, self.kept.records, stages)
        for name, step in job.steps.items():
            if step.is_done and name not in self._told:
                self._told.add(name)
                self.tell(step)
