"""A guided study at work: shows whose turn it is on which part, and keeps what is captured."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from datetime import UTC, datetime

from daq.calibration.study.errors import StudyError
from daq.calibration.study.guided import (
    Stamp,
    StudyTask,
    captured,
    ended,
    next_task,
    session_at,
    taken_back,
)
from daq.calibration.study.guided_kept import KeptStudy
from daq.logbook import Capture, Logbook
from daq.logbook.records import Written
from daq.logbook.study import StudyPoint
from daq.measure.events import Refused, Trigger
from daq.measure.station import CableIn, CableOut, Station
from daq.measure.travel import Travel
from daq.screen.bench import TICK_S
from daq.screen.job_run import LIFTED_STEPS, Command
from daq.screen.job_view import JobView
from daq.screen.watching import News, view_of
from drivers.reading import Reading

KEYS = "space take it  b take the last again  q stop for now"


@dataclass(slots=True)
class StudyRun:
    """One run of a study, from where it stands until it ends or somebody stops.

    Args:
        station: has the study's gauge.
        logbook: where everything is kept.
        kept: the study as the logbook has it.
        label: the gauge's label at the station.
        operator: who leads the study.
        show: draws a view; called at each turn with the time in seconds.
        commands: what a person has asked for since the last call: go, back, trust the gauge, quit.
        on_task: called with each new task.
        stop: asked at each turn whether to end.
        now: the wall clock, aware.
    """

    station: Station
    logbook: Logbook
    kept: KeptStudy
    label: str
    operator: str
    show: Callable[[JobView, float], object]
    commands: Callable[[], Iterable[Command]]
    on_task: Callable[[StudyTask], object] = lambda _: None
    stop: Callable[[], bool] = lambda: False
    now: Callable[[], datetime] = lambda: datetime.now(UTC)
    news: News = field(default_factory=News)
    _travel: Travel = field(default_factory=Travel)
    _session: int = 1
    _left_rest: bool = True

    def run(self) -> None:
        """Work until the study or its session has ended, somebody stops, or ``stop`` says so.

        Raises:
            LogbookError: a value could not be kept. Nothing of it was; the study can go on later.
        """
        self._session = session_at(self.kept, self.now())
        while (task := next_task(self.kept, session=self._session)) is not None:
            self.on_task(task)
            answered = False
            while not answered:
                if self.stop():
                    return
                self._listen()
                for command in self.commands():
                    if command.kind == "quit":
                        return
                    answered = self._obey(task, command)
                    if answered:
                        break
                answered = answered or self._takes_by_itself(task)
                now_s = self.station.clock()
                self.show(self._view(task, now_s), now_s)

    def _listen(self) -> None:
        for label, event in self.station.next(TICK_S):
            match event:
                case Reading():
                    self._travel.read(label, event.value_mm)
                case CableOut(error=error):
                    self.news.notice = str(error)
                case CableIn():
                    self.news.notice = ""
        if self.station.session(self.label).rest is None:
            self._left_rest = True

    def _obey(self, task: StudyTask, command: Command) -> bool:
        """Do what was asked; True if the study has moved on."""
        match command.kind:
            case "trust the gauge":
                self.station.session(self.label).confirm()
                self.news.notice = ""
                return False
            case "back":
                return self._go_back(command.reason)
            case "go" if task.kind == "end":
                return self._keep(ended(self.kept, "complete", "", self._stamp()))
            case "go":
                return self._capture(task, "key")
        return self._refuse("a study knows go, back, trust and quit")

    def _takes_by_itself(self, task: StudyTask) -> bool:
        """A gauge's own data key captures."""
        session = self.station.session(self.label)
        if task.kind != "measure" or not (session.sends_on_key and session.is_new_rest):
            return False
        return self._capture(task, "data key")

    def _capture(self, task: StudyTask, trigger: Trigger) -> bool:
        if not self._is_placed_anew():
            return self._refuse("the plunger was not seen to move since the last value; lift it")
        points: list[StudyPoint] = []

        def and_then(capture: Capture) -> list[StudyPoint]:
            points.append(captured(self.kept, task, capture, self._stamp()))
            return points

        result = self.station.capture(self.label, trigger, with_spec=False, and_then=and_then)
        if isinstance(result, Refused):
            return self._refuse(result.reason)
        self._travel.keep(self.label, result[0].readings[-1].value_mm, task.place)
        self._left_rest = False
        for each in points:
            self.kept.add(each)
        self.news.captured += 1
        self.news.captured_s, self.news.notice = self.station.clock(), ""
        return True

    def _is_placed_anew(self) -> bool:
        """Whether the plunger was lifted since the value before: each is one of its own.

        It must have left its rest, which noise alone does not, and have gone some steps.
        """
        session = self.station.session(self.label)
        if session.sends_on_key:
            return True  # between two presses nothing is seen of it
        least_mm = LIFTED_STEPS * session.step_mm
        return self._left_rest and self._travel.has_moved(self.label, least_mm)

    def _go_back(self, reason: str) -> bool:
        """The value taken last is to be taken again."""
        why = reason.strip() or "whoever measured went back"
        try:
            note = taken_back(self.kept, why, self._stamp(), session=self._session)
        except StudyError as error:
            return self._refuse(str(error))
        return self._keep(note)

    def _refuse(self, reason: str) -> bool:
        self.news.refused_s, self.news.notice = self.station.clock(), reason
        return False

    def _keep(self, record: Written) -> bool:
        self.logbook.append(record)
        self.kept.add(record)
        self.news.notice = ""
        return True

    def _stamp(self) -> Stamp:
        return Stamp(self.operator, self.now())

    def _view(self, task: StudyTask, now_s: float) -> JobView:
        bench = None
        if task.kind == "measure":
            session, port = self.station.session(self.label), self.station.port(self.label)
            bench = view_of(session, self.label, port, now_s, self.news, None, "space take it")
        return JobView(
            kind=task.kind,
            sign=task.kind,
            title=task.title,
            words=task.words,
            more=task.more,
            done=task.done,
            of=task.of,
            bench=bench,
            notice=self.news.notice,
            keys=KEYS,
        )
