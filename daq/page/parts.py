"""Screens of the page as a part of the loop that works: shown what it shows, asking for commands.

Nothing that goes wrong here stops the work; it is kept in ``trouble`` and said.
"""

from abc import ABC, abstractmethod
from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING, Any, Generic, TypeVar

from daq.page.engine_drawing import svg_of
from daq.page.errors import UnfitError
from daq.page.hub import Hub
from daq.page.job_cylinders import cylinders_of
from daq.page.messages import Message, State, Wish, bench_message
from daq.page.wishes import bench_command, calibration_command, job_command
from daq.screen import bench, calibration_run, job_run
from daq.screen.calibration_view import CalibrationView
from daq.screen.choosing import Choosing
from daq.screen.job_view import JobView
from daq.screen.view import BenchView

if TYPE_CHECKING:
    from daq.jobs.task import Task as JobTask

View = TypeVar("View")
Command = TypeVar("Command")


class PagePart(ABC, Generic[View, Command]):
    """What the pages of all works have in common.

    Args:
        hub: where states go, and wishes come from.

    Attributes:
        trouble: why nothing is shown on the page any more; empty while all is well.
    """

    def __init__(self, hub: Hub) -> None:
        self._hub = hub
        self._place: tuple[object, ...] = ()
        self.trouble = ""

    def show(self, view: View, _now_s: float) -> None:
        """Show ``view`` on every screen."""
        if self.trouble:
            return
        try:
            state = self._state(view)
            self._place = state.place
            self._hub.publish(state)
        except Exception as error:
            # A page that cannot be shown must not stop a measurement that is under way.
            self.trouble = f"Nothing is shown on the bench page any more ({error!r})."

    def due(self, _now_s: float) -> bool:
        """Whether a view would be looked at now."""
        return self._hub.is_due()

    def commands(self) -> Iterator[Command]:
        """What screens have asked for since the last call: one thing a turn.

        What comes after it is looked at when its outcome can be seen.
        """
        while (asking := self._hub.next_wish(self._place)) is not None:
            try:
                command = self._command(asking.wish)
            except UnfitError as error:
                self._hub.refuse(asking, str(error))
                continue
            if command is not None:
                yield command
                return

    def told(self, _task: Any) -> None:
        """There is a new task; what was asked of the one before is not done any more."""

    def engine(self) -> str | None:
        """The drawing of the engine as it stands now, as SVG; None where there is none."""
        return None

    @abstractmethod
    def _state(self, view: View) -> State:
        """What a view is on the page."""

    @abstractmethod
    def _command(self, wish: Wish) -> Command | None:
        """The command of a wish; None if it is done already.

        Raises:
            UnfitError: it cannot be done.
        """


class LivePart(PagePart[BenchView, bench.Command]):
    """The page of a bench that shows gauges and captures.

    Args:
        hub: see ``PagePart``.
        choosing: which gauge is shown.
    """

    def __init__(self, hub: Hub, choosing: Choosing) -> None:
        super().__init__(hub)
        self._choosing = choosing

    def _state(self, view: BenchView) -> State:
        return State(
            work="live",
            gauges=self._choosing.labels,
            gauge=view.gauge_label,
            view=bench_message(view),
            place=(view.gauge_label, view.captured, view.doubt),
        )

    def _command(self, wish: Wish) -> bench.Command | None:
        if wish.do != "choose":
            return bench_command(wish)
        if not self._choosing.choose(wish.gauge):
            raise UnfitError("There is no such gauge at this bench.")
        return None


class JobPart(PagePart[JobView, job_run.Command]):
    """The page of a job.

    Args:
        hub: see ``PagePart``.
        gauges: the labels of its gauges.
        tell: what a view is on the page, JOB.
    """

    def __init__(
        self,
        hub: Hub,
        gauges: tuple[str, ...],
        tell: Callable[[JobView], Message],
    ) -> None:
        super().__init__(hub)
        self._gauges, self._tell = gauges, tell
        self._view: JobView | None = None
        self._task: JobTask | None = None
        self._tasks = 0

    def told(self, task: "JobTask") -> None:
        """There is a new task; what was asked of the one before is not done any more."""
        self._task = task
        self._tasks += 1
        self._place = (self._tasks, "")

    def engine(self) -> str | None:
        """The drawing of the engine as it stands now, as SVG; asked for by the server."""
        view = self._view
        if view is None or view.standing is None:
            return None
        return svg_of(view.standing.sheet.engine, cylinders_of(view.standing, view.task))

    def _state(self, view: JobView) -> State:
        self._view, gauge = view, view.bench
        return State(
            work="job",
            gauges=self._gauges,
            gauge=gauge.gauge_label if gauge is not None else "",
            view=_bench_of(gauge, view.kind in ("measure", "adjust")),
            job=self._tell(view),
            place=(self._tasks, gauge.doubt if gauge is not None else ""),
        )

    def _command(self, wish: Wish) -> job_run.Command:
        return job_command(wish, self._task)


class CalibrationPart(PagePart[CalibrationView, calibration_run.Command]):
    """The page of a calibration.

    Args:
        hub: see ``PagePart``.
        gauge: the label of the gauge.
        tell: what a view is on the page, CAL.
    """

    def __init__(
        self,
        hub: Hub,
        gauge: str,
        tell: Callable[[CalibrationView], Message],
    ) -> None:
        super().__init__(hub)
        self._gauge, self._tell = gauge, tell
        self._asked: calibration_run.Asked | None = None
        self._tasks = 0

    def told(self, asked: calibration_run.Asked) -> None:
        """There is a new task; what was asked of the one before is not done any more."""
        self._asked = asked
        self._tasks += 1
        self._place = (self._tasks, "")

    def _state(self, view: CalibrationView) -> State:
        return State(
            work="calibration",
            gauges=(self._gauge,),
            gauge=self._gauge,
            view=_bench_of(view.bench, view.kind in ("point", "return")),
            calibration=self._tell(view),
            place=(self._tasks, view.bench.doubt if view.bench is not None else ""),
        )

    def _command(self, wish: Wish) -> calibration_run.Command:
        return calibration_command(wish, self._asked.task if self._asked is not None else None)


def _bench_of(view: BenchView | None, captures: bool) -> Message | None:
    return None if view is None else bench_message(view, captures=captures)
