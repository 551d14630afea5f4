"""A job at work: shows the task that comes next, and keeps what answers it.

Where the job stands is worked out anew from its records after each answer, so that stopping at any
moment and going on later is the same as never having stopped.
"""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from decimal import Decimal
from typing import Literal

from daq.jobs.answers import Stamp, captured, confirmed, ended, excepted, gauge_used
from daq.jobs.calibrated import why_out_of_range
from daq.jobs.gates import furthest
from daq.jobs.keeping import KeptJob
from daq.jobs.sheet import Sheet
from daq.jobs.stages import stages_of
from daq.jobs.standing import JobStanding, standing
from daq.jobs.task import Task
from daq.jobs.tasks import next_task
from daq.logbook import Capture, Logbook, LogbookFullError
from daq.logbook.job import JobException
from daq.logbook.records import JobRecord, Written
from daq.measure.events import AtRest, Refused, Trigger
from daq.measure.station import CableIn, CableOut, Station
from daq.measure.travel import Travel
from daq.screen.bench import TICK_S
from daq.screen.job_view import JobView
from daq.screen.live_learning import LiveLearning
from daq.screen.watching import News, view_of
from daq.spec import Adjuster
from drivers.reading import Reading

LIFTED_STEPS = 5
"""Where the plunger has to be lifted between two captures, it must have been seen to move by this
many display steps."""

FULL_PAUSE_S = 2.0
"""While the disk is full, what is captured by itself is tried again after this long."""


@dataclass(frozen=True, slots=True)
class Command:
    """What a person asks for: ``go`` on with the task, go ``back`` one target, and so on.

    ``skip`` and ``let it stand`` need a ``reason``, and ``by`` whoever answers for it. ``again``
    too: the result with this ``uid`` is set aside, and its target is measured once more.
    ``figures`` are what the task asks for: the angle on the engine's scale, degrees; or the
    temperatures of the part and of the gauge, °C. ``target`` is what to set ``anew``, in the step
    of the task; the one left furthest from its aim if it is empty.
    """

    kind: Literal["go", "back", "anew", "again", "skip", "let it stand", "trust the gauge", "quit"]
    reason: str = ""
    by: str = ""
    figures: tuple[Decimal, ...] = ()
    target: str = ""
    uid: str = ""


@dataclass(slots=True)
class JobRun:
    """One run of a job, from where it stands until it ends or somebody stops.

    Args:
        station: has every gauge of the job.
        logbook: where everything is kept.
        sheet: the job's sheet.
        kept: the job as the logbook has it.
        labels: by role, the gauge that serves in it.
        operator: who works.
        show: draws a view; called at each turn with the time in seconds.
        commands: what a person has asked for since the last call.
        on_task: called with each new task.
        stop: asked at each turn whether to end.
        now: the wall clock, aware.
    """

    station: Station
    logbook: Logbook
    sheet: Sheet
    kept: KeptJob
    labels: Mapping[str, str]
    operator: str
    show: Callable[[JobView, float], object]
    commands: Callable[[], Iterable[Command]]
    on_task: Callable[[Task], object] = lambda _: None
    stop: Callable[[], bool] = lambda: False
    now: Callable[[], datetime] = lambda: datetime.now(UTC)
    news: News = field(default_factory=News)
    _travel: Travel = field(default_factory=Travel)
    _learning: LiveLearning = field(default_factory=LiveLearning)
    _not_before_s: float = 0.0
    """Until then nothing is captured by itself."""

    def run(self) -> JobStanding:
        """Work until the job has ended, somebody stops it, or ``stop`` says so.

        Raises:
            LogbookError: an answer could not be kept, for another reason than a full disk. Nothing
                of it was; the job can go on later.
        """
        stages = stages_of(self.sheet, self.kept.begun.variant)
        before: Task | None = None
        while True:
            job = standing(self.sheet, self.kept.begun, self.kept.records, stages)
            task = next_task(job, self.kept.captures)
            if task is None:
                return job
            self._take_up(job, task, before)
            before = task
            answered = False
            while not answered:
                if self.stop():
                    return job
                self._listen(task)
                for command in self.commands():
                    if command.kind == "quit":
                        return job
                    answered = self._obey(job, task, command)
                    if answered:
                        break
                answered = answered or self._takes_by_itself(job, task)
                now_s = self.station.clock()
                self.show(self._view(job, task, now_s), now_s)

    def _take_up(self, job: JobStanding, task: Task, before: Task | None) -> None:
        """Set the gauge of a new task to what it is to measure; what rested before is old."""
        self.on_task(task)
        label = self._label(task)
        if label is None:
            return
        same = before is not None and _place(before) == _place(task)
        if not (same and self._is_rocked(job, task)):
            spec = task.spec
            self.station.session(label).hold_against(spec, job.sheet.rule if spec else None)
        if not same:
            self._learning = LiveLearning(self._screw(job, task))

    def _screw(self, job: JobStanding, task: Task) -> Adjuster | None:
        if task.told is not None:
            return task.told.adjuster
        return job.steps[task.step].planned.step.adjuster if task.kind == "adjust" else None

    def _label(self, task: Task) -> str | None:
        return self.labels.get(task.role) if task.role else None

    def _is_rocked(self, job: JobStanding, task: Task) -> bool:
        planned = job.steps[task.step].planned if task.step else None
        return planned is not None and planned.step.recipe == "play" and task.master is None

    def _must_move(self, job: JobStanding, task: Task, label: str) -> bool:
        """Whether the plunger has to have moved since this gauge's value was kept last."""
        if self._travel.is_elsewhere(label, _thing(task)):
            return True
        recipe = job.steps[task.step].planned.step.recipe
        again = task.wanted is not None and task.wanted.number > 1
        return again and (task.master is not None or recipe in ("length", "play", "points"))

    def _listen(self, task: Task) -> None:
        label = self._label(task)
        for each, event in self.station.next(TICK_S):
            if isinstance(event, Reading):
                self._travel.read(each, event.value_mm)
            if each != label:
                continue
            match event:
                case CableOut(error=error):
                    self.news.notice = str(error)
                case CableIn():
                    self.news.notice = ""
                case AtRest() if task.kind == "adjust":
                    self._learning.rested(event, task.spec)

    def _obey(self, job: JobStanding, task: Task, command: Command) -> bool:
        """Do what was asked; True if the job has moved on."""
        label = self._label(task)
        match command.kind:
            case "trust the gauge":
                if label is not None:
                    self.station.session(label).confirm()
                    self.news.notice = ""
                return False
            case "back":
                return self._go_back(job)
            case "anew":
                return self._set_anew(job, task, command.target)
            case "again":
                return self._measure_again(job, command)
            case "skip" | "let it stand":
                return self._except(job, task, command)
        if task.kind == "confirm":
            if task.asks == "temperatures" and len(command.figures) != 2:
                return self._refuse("say both temperatures in °C, part then gauge, as: go 31 22.5")
            figures = command.figures if task.asks == "temperatures" else ()
            return self._keep([confirmed(job, task, self._stamp(), *figures)])
        if task.kind == "end":
            return self._keep([ended(job, "complete", "", self._stamp())])
        if task.kind == "decide":
            self.news.notice = "press b to measure it again, or o to let it stand with a reason"
            if job.target(task.step, task.target).latest is None:
                self.news.notice = "press q to stop here, or s to skip this with a reason"
            if task.gauge is not None:
                self.news.notice = "press q to stop here, or o to use it with a reason and a name"
            return False
        return self._capture(job, task, "key", next(iter(command.figures), None))

    def _takes_by_itself(self, job: JobStanding, task: Task) -> bool:
        """A rocked part is captured at each stop; a gauge's own data key always captures."""
        label = self._label(task)
        if label is None or task.wanted is None or self.station.clock() < self._not_before_s:
            return False
        session = self.station.session(label)
        if not session.is_new_rest:
            return False
        if session.sends_on_key:
            return self._capture(job, task, "data key", None)
        rocked = self._is_rocked(job, task) and task.wanted.number > 1
        if not rocked or not self._has_moved(job, task, label):
            return False
        return self._capture(job, task, "settled", None)

    def _has_moved(self, job: JobStanding, task: Task, label: str) -> bool:
        session = self.station.session(label)
        if session.sends_on_key:
            return True  # between two presses nothing is seen of it
        least_mm = LIFTED_STEPS * session.step_mm
        return not self._must_move(job, task, label) or self._travel.has_moved(label, least_mm)

    def _capture(
        self, job: JobStanding, task: Task, trigger: Trigger, angle_deg: Decimal | None
    ) -> bool:
        label = self._label(task)
        assert label is not None
        if not self._has_moved(job, task, label):
            return self._refuse("the plunger was not seen to move since the last value; lift it")
        if task.asks == "angle" and angle_deg is None:
            return self._refuse("say the angle on the engine's scale, as: go 36.5")
        if why := self._out_of_range(job, task, label):
            return self._refuse(why)
        kept: list[Written] = []

        def and_then(capture: Capture) -> list[JobRecord]:
            answer: list[JobRecord] = [
                *captured(job, task, capture, self.kept.captures, self._stamp(), angle_deg)
            ]
            kept.extend([capture, *answer])
            return answer

        try:
            result = self.station.capture(label, trigger, with_spec=False, and_then=and_then)
        except LogbookFullError as error:
            return self._wait_for_room(error)
        if isinstance(result, Refused):
            if trigger != "settled":
                self._refuse(result.reason)
            return False
        self._travel.keep(label, result[0].readings[-1].value_mm, _thing(task))
        self._remember(kept)
        self.news.captured += 1
        self.news.captured_s, self.news.notice = self.station.clock(), ""
        if isinstance(kept[-1], JobException):
            self.news.notice = f"to be measured again: {kept[-1].reason}"
        return True

    def _out_of_range(self, job: JobStanding, task: Task, label: str) -> str:
        """Why the gauge may not be used where it stands, or empty."""
        rest = self.station.session(label).rest
        if rest is None:
            return ""
        value_mm = Decimal(repr(rest.value_mm))
        return why_out_of_range(job.steps[task.step], task.master is not None, value_mm)

    def _refuse(self, reason: str) -> bool:
        self.news.refused_s, self.news.notice = self.station.clock(), reason
        return False

    def _go_back(self, job: JobStanding) -> bool:
        """The target measured last is to be measured again."""
        for record in reversed(self.kept.records):
            if record.kind == "job result" and record.master is None:
                reason = "the fitter went back"
                back = excepted(job, record.step, record.target, "again", reason, self._stamp())
                return self._keep([back])
        return self._refuse("nothing was measured yet that could be measured again")

    def _set_anew(self, job: JobStanding, task: Task, name: str) -> bool:
        """A target that was left within its limits is set once more."""
        step = job.steps.get(task.step)
        if step is None or step.planned.step.adjuster is None:
            return self._refuse("no screw of this step could be set anew")
        name = name or furthest(step)
        there = [each.work.target.name for each in step.targets if each.latest is not None]
        if name not in there:
            return self._refuse(f"{name or 'nothing'} has no result yet; there are: {there}")
        reason = "set anew, so that it goes with the others"
        return self._keep([excepted(job, task.step, name, "anew", reason, self._stamp())])

    def _measure_again(self, job: JobStanding, command: Command) -> bool:
        """A result is set aside by a record of its own, and its target is measured once more."""
        every = [target for step in job.steps.values() for target in step.targets]
        found = next(
            (t for t in every if t.latest is not None and t.latest.uid == command.uid), None
        )
        if found is None or not command.uid:
            return self._refuse("only the latest result of a target can be measured again")
        reason, by = command.reason.strip(), command.by.strip()
        if not reason:
            return self._refuse("say why it is measured again: a reason is needed")
        step, target = found.work.planned.name, found.work.target.name
        return self._keep([excepted(job, step, target, "again", reason, self._stamp(), by)])

    def _except(self, job: JobStanding, task: Task, command: Command) -> bool:
        if not task.target or task.gate == "crank":
            return self._refuse("there is nothing here to skip; go on to a target first")
        if not command.reason.strip():
            return self._refuse("a reason is needed, and who answers for it")
        if task.gauge is not None and command.kind == "let it stand":
            reason, by = command.reason.strip(), command.by.strip()
            return self._keep([gauge_used(job, task, reason, self._stamp(), by)])
        what: Literal["skipped", "overruled"] = "skipped"
        if command.kind == "let it stand":
            if job.target(task.step, task.target).latest is None:
                return self._refuse("there is no result yet that could stand; skip it instead")
            what = "overruled"
        stamp = self._stamp()
        record = excepted(
            job, task.step, task.target, what, command.reason.strip(), stamp, command.by.strip()
        )
        return self._keep([record])

    def _keep(self, records: list[JobRecord]) -> bool:
        try:
            self.logbook.append_many(records)
        except LogbookFullError as error:
            return self._wait_for_room(error)
        self._remember(records)
        self.news.notice = ""
        return True

    def _wait_for_room(self, error: LogbookFullError) -> bool:
        """The job stands still: nothing of the answer was kept, and it can be given again."""
        self._not_before_s = self.station.clock() + FULL_PAUSE_S
        return self._refuse(str(error))

    def _remember(self, records: Iterable[Written]) -> None:
        for record in records:
            if isinstance(record, Capture):
                self.kept.captures[record.uid] = record
            elif record.kind not in ("note", "job"):
                self.kept.records.append(record)  # type: ignore[arg-type]

    def _stamp(self) -> Stamp:
        return Stamp(self.operator, self.now())

    def _view(self, job: JobStanding, task: Task, now_s: float) -> JobView:
        label, bench = self._label(task), None
        learned = self._learning
        if label is not None:
            screw: Adjuster | None = learned.adjuster if task.kind == "adjust" else None
            port = self.station.port(label)
            session = self.station.session(label)
            bench = view_of(session, label, port, now_s, self.news, screw, "space capture")
        every = [each for step in job.steps.values() for each in step.targets]
        return JobView(
            kind=task.kind,
            sign=task.gate or task.kind,
            title=task.title,
            words=task.words,
            more=(*(learned.notes if task.kind == "adjust" else ()), *task.more),
            done=sum(each.is_done for each in every),
            of=len(every),
            bench=bench,
            notice=self.news.notice,
            standing=job,
            task=task,
        )


def _thing(task: Task) -> tuple[str, str]:
    """What the plunger stands on: a target of a step, or its master."""
    return task.step, task.target


def _place(task: Task) -> tuple[object, ...]:
    return task.kind, task.step, task.target, task.phase, task.master
