"""A guided calibration at work: names the next point, waits for rest, takes it or says why not.

Where it stands is worked out anew from its records after each answer, so that stopping at any
moment and going on later is the same as never having stopped.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from decimal import Decimal
from typing import Literal

from daq.calibration.checks import Refusal
from daq.calibration.due import Calibrated, Proposal
from daq.calibration.errors import CalibrationError
from daq.calibration.guided import (
    Ending,
    Insisted,
    Passed,
    Stamp,
    Standing,
    Task,
    adjusted,
    anew,
    captured,
    completed,
    conditions,
    curve_of,
    next_task,
    not_adjusted,
    proposed,
    standing,
    taken_back,
    worked_out,
)
from daq.calibration.kept import KeptCalibration
from daq.logbook import Capture, Logbook, Note
from daq.logbook.records import Written
from daq.measure.events import AtRest, Moved, Refused, Trigger
from daq.measure.station import CableIn, CableOut, Station
from daq.screen.bench import TICK_S
from daq.screen.calibration_taking import Taking
from daq.screen.calibration_view import CalibrationView, large_of, last_words, more_of
from daq.screen.watching import News, view_of
from drivers.reading import Reading

ZERO_WORDS = "The zero is set: leave it until it rests."

QUIET = ("wrong block", "unit", "direction of count", "zero")
"""What a value that came to rest by itself may be refused for while a hand is still on its way."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Command:
    """What a person asks for.

    ``go`` on with the task; ``back`` takes the last point back; ``anew`` begins the run again, with
    a reason in ``text``; ``insist`` takes a value that looks like a mistake, with a reason and
    ``by`` whoever answers for it; ``adjusted`` says in ``text`` what was done. ``temperature_c``
    answers ``conditions`` and may come at any time. ``ending`` goes with the last ``go``; without
    it what is proposed is taken.
    """

    kind: Literal[
        "go", "back", "anew", "insist", "adjusted", "not adjusted", "trust the gauge", "quit"
    ]
    text: str = ""
    by: str = ""
    temperature_c: Decimal | None = None
    ending: Ending | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What is asked of a person: the task, and at the end what is proposed for the certificate."""

    task: Task
    ending: Ending | None = None


@dataclass(slots=True)
class CalibrationRun:
    """One run of a calibration, from where it stands until it ends or somebody stops.

    Args:
        station: has the gauge.
        logbook: where everything is kept.
        kept: the calibration as the logbook has it.
        operator: who works.
        show: draws a view; called at each turn with the time in seconds.
        commands: what a person has asked for since the last call.
        next_due: when the gauge is due next, as if it had been calibrated so.
        certificates: the numbers of the certificates that the logbook has already.
        on_task: called with each new task.
        stop: asked at each turn whether to end.
        now: the wall clock, aware.
        by_key: take nothing by itself.
        with_monte_carlo: hold the budgets against random draws too.
    """

    station: Station
    logbook: Logbook
    kept: KeptCalibration
    operator: str
    show: Callable[[CalibrationView, float], object]
    commands: Callable[[], Iterable[Command]]
    next_due: Callable[[Calibrated], Proposal]
    certificates: frozenset[str] = frozenset()
    on_task: Callable[[Asked], object] = lambda _: None
    stop: Callable[[], bool] = lambda: False
    now: Callable[[], datetime] = lambda: datetime.now(UTC)
    by_key: bool = False
    with_monte_carlo: bool = False
    news: News = field(default_factory=News)
    refusals: list[str] = field(default_factory=list)
    """Everything that was refused, in its words."""

    _taken_up: int = 0
    _was_out: bool = False
    _taking: Taking = field(init=False)

    def __post_init__(self) -> None:
        self._taking = Taking(self.station, self.kept.begun.gauge_label, self.kept.identity)

    def run(self) -> Standing:
        """Work until the calibration has ended, somebody stops it, or ``stop`` says so.

        Raises:
            LogbookError: an answer could not be kept. Nothing of it was; it can go on later.
            CalibrationError: the records contradict each other.
        """
        self._taken_up = len(self.kept.records)
        before: Task | None = None
        while True:
            stands = standing(self.kept, self._taken_up)
            task = next_task(stands)
            if task is None:
                return stands
            self._take_up(stands, task, before)
            before = task
            moved_on = False
            while not moved_on:
                if self.stop():
                    return stands
                moved_on = self._listen(task)
                for command in self.commands():
                    if command.kind == "quit":
                        return stands
                    moved_on = moved_on or self._obey(stands, task, command)
                    if moved_on:
                        break
                moved_on = moved_on or self._takes_by_itself(stands, task)
                now_s = self.station.clock()
                self.show(self._view(stands, task, now_s), now_s)

    def _take_up(self, stands: Standing, task: Task, before: Task | None) -> None:
        ending = None
        if task.kind == "end":
            ending = proposed(stands, self.certificates, self.next_due)
        self.on_task(Asked(task=task, ending=ending))
        if before is None or _place(before) != _place(task):
            self._taking.begin_point()

    def _listen(self, task: Task) -> bool:
        """Take what comes from the gauge; True if it came back after it had gone."""
        came_back = False
        for _, event in self.station.next(TICK_S):
            match event:
                case CableOut(error=error):
                    self.news.notice, self._was_out = str(error), True
                    self._taking.forget()
                case CableIn() if self._was_out:
                    self.news.notice, self._was_out = "", False
                    self._taken_up = len(self.kept.records)
                    came_back = True
                case Reading(value_mm=value_mm):
                    if told := self._taking.read(value_mm, task):
                        self._mention(told)
                case Moved() | AtRest() if not self._taking.passing.was_told:
                    self.news.notice = ""
        self._taking.notice_rest()
        return came_back

    def _obey(self, stands: Standing, task: Task, command: Command) -> bool:
        """Do what was asked; True if the calibration has moved on."""
        try:
            return self._answer(stands, task, command)
        except CalibrationError as error:
            return self._refuse(str(error))

    def _answer(self, stands: Standing, task: Task, command: Command) -> bool:
        stamp = Stamp(self.operator, self.now())
        if command.temperature_c is not None:
            return self._keep(conditions(stands, command.temperature_c, stamp, command.text))
        match command.kind:
            case "trust the gauge":
                self._taking.session.confirm()
                self.news.notice = ""
                return False
            case "back":
                return self._keep(taken_back(stands, command.text or "taken again", stamp))
            case "anew":
                return self._keep(anew(stands, command.text, stamp))
            case "adjusted":
                return self._keep(adjusted(stands, command.text, stamp))
            case "not adjusted":
                return self._keep(not_adjusted(stands, stamp, command.text))
            case "insist" if task.kind == "point":
                return self._capture(stands, task, "key", Insisted(command.text, command.by))
            case "insist":
                return self._refuse("There is no point here to insist on.")
        return self._go(stands, task, command, stamp)

    def _go(self, stands: Standing, task: Task, command: Command, stamp: Stamp) -> bool:
        match task.kind:
            case "conditions":
                return self._refuse("Type the temperature of gauge and standard in °C, as: 20.1")
            case "result":
                return self._keep(worked_out(stands, stamp, with_monte_carlo=self.with_monte_carlo))
            case "adjusted or not":
                return self._refuse("Say whether it was adjusted: a adjusted, n not adjusted.")
            case "end":
                ending = command.ending or proposed(stands, self.certificates, self.next_due)
                return self._keep(completed(stands, ending, self.certificates, stamp))
        zero = task.kind == "point" and task.wanted is not None and task.wanted.is_zero
        if zero and not self._taking.session.sends_on_key:
            self._taking.zero_is_set()
            self.news.notice = ZERO_WORDS
            return False
        if why := self._taking.why_not_yet(task):
            return self._refuse(why)
        return self._capture(stands, task, "key")

    def _takes_by_itself(self, stands: Standing, task: Task) -> bool:
        trigger = self._taking.trigger_by_itself(task, by_key=self.by_key)
        return trigger is not None and self._capture(stands, task, trigger)

    def _capture(
        self, stands: Standing, task: Task, trigger: Trigger, insisted: Insisted | None = None
    ) -> bool:
        def answer(capture: Capture, passed: Passed) -> Sequence[Written] | Refusal:
            return captured(
                stands,
                task,
                capture,
                Stamp(self.operator, self.now()),
                passed=passed,
                insisted=insisted,
                with_monte_carlo=self.with_monte_carlo,
            )

        try:
            result = self._taking.take(trigger, answer)
        except CalibrationError as error:
            return self._refuse(str(error))
        match result:
            case Refused(reason=reason) if trigger == "settled":
                return self._mention(reason)
            case Refused(reason=reason):
                return self._refuse(reason)
            case Refusal() if trigger == "settled" and result.kind in QUIET:
                return self._mention(result.words)
            case Refusal():
                hint = " (o takes it all the same)" if result.may_insist else ""
                return self._refuse(result.words + hint)
        self._remember(result.records, result.entry.sequence)
        self.news.captured += 1
        self.news.captured_s, self.news.notice = self.station.clock(), ""
        return True

    def _mention(self, reason: str) -> bool:
        """Say what hinders, without a fuss: the hand may be on its way."""
        if self.news.notice != reason:
            self.refusals.append(reason)
            self.news.notice = reason
        return False

    def _refuse(self, reason: str) -> bool:
        self.refusals.append(reason)
        self.news.refused_s, self.news.notice = self.station.clock(), reason
        return False

    def _keep(self, answer: Written | Refusal) -> bool:
        if isinstance(answer, Refusal):
            return self._refuse(answer.words)
        (entry,) = self.logbook.append_many([answer])
        self._remember([answer], entry.sequence)
        self.news.notice = ""
        return True

    def _remember(self, records: Iterable[Written], sequence: int) -> None:
        """Add what was kept to the calibration; ``sequence`` is the first one's number."""
        for number, record in enumerate(records, start=sequence):
            if isinstance(record, Capture):
                self.kept.captures[record.uid] = record
                self.kept.sequences[record.uid] = number
            elif isinstance(record, Note):
                self.kept.withdrawn.append(record)
            elif record.kind.startswith("calibration"):
                self.kept.records.append(record)  # type: ignore[arg-type]
                self.kept.sequences[record.uid] = number

    def _view(self, stands: Standing, task: Task, now_s: float) -> CalibrationView:
        bench = None
        if task.wanted is not None:
            label = self._taking.label
            bench = view_of(self._taking.session, label, self.station.port(label), now_s, self.news)
        return CalibrationView(
            kind=task.kind,
            title=task.title,
            words=task.words,
            large=large_of(task),
            more=more_of(task),
            done=task.done,
            of=task.of,
            bench=bench,
            curve=curve_of(stands) if stands.current.taken else None,
            step_mm=stands.gauge.step_mm,
            last=last_words(stands),
            notice=(bench.doubt or bench.notice if bench else "") or self.news.notice,
            standing=stands,
            task=task,
        )


def _place(task: Task) -> tuple[object, ...]:
    return task.kind, task.run, task.wanted.stop.place if task.wanted is not None else 0
