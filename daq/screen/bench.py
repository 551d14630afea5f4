"""The bench at work: what the station brings, shown and captured until somebody stops.

One loop serves the live screen and plain lines, with a person's keys or without.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from typing import Literal

from daq.logbook import Entry
from daq.measure.events import AtRest, Captured, Refused, Trigger
from daq.measure.session import Session
from daq.measure.station import CableIn, CableOut, Station
from daq.screen.allowing import Allowing
from daq.screen.view import BenchView
from daq.screen.watching import News, view_of
from daq.spec import Adjuster, shown_in
from drivers.reading import Reading

TICK_S = 0.03
"""How long the loop waits for the gauge before it looks at the keys and the clock again."""

When = Literal["settled", "in limits", "key", "never"]
"""What is captured by itself: every rest, rests within the limits, or nothing."""

Command = Literal["capture", "confirm", "quit", "back", "anew", "skip", "let it stand", "no"]
"""What follows ``quit`` means nothing to one gauge."""


@dataclass(slots=True)
class BenchRun:
    """What a run of the bench is asked to do.

    Args:
        label: the gauge that is shown.
        show: draws a view; called at each turn with the time in seconds.
        commands: what a person has asked for since the last call.
        when: what is captured by itself.
        ready: asked before a capture by itself; a hand may still be at work.
        count: captures after which the run ends; None for no end.
        adjuster: the screw that is turned, if it is known.
        on_capture: called with each capture after it has been kept.
        stop: asked at each turn whether to end.
        linger_s: how long the last capture stays on the screen before the run ends, seconds.
        allowing: what the register says of the gauge, and whether it is used all the same.
        due: whether a view would be drawn at a time, seconds; none is made where it would not.
    """

    label: str
    show: Callable[[BenchView, float], object]
    commands: Callable[[], Iterable[Command]] = tuple
    when: When = "settled"
    ready: Callable[[], bool] = lambda: True
    count: int | None = None
    adjuster: Adjuster | None = None
    on_capture: Callable[[Captured, Entry | None], object] = lambda *_: None
    stop: Callable[[], bool] = lambda: False
    linger_s: float = 0.0
    allowing: Allowing = field(default_factory=Allowing)
    due: Callable[[float], bool] = lambda _: True
    news: News = field(default_factory=News)
    _shown_s: float = float("-inf")

    def run(self, station: Station) -> News:
        """Work until the count is reached, somebody quits, or ``stop`` says so.

        Raises:
            LogbookError: a value was captured that could not be kept.
        """
        session = station.session(self.label)
        if station.port(self.label):  # it was plugged in before this run began
            self.allowing.appeared(station.identity(self.label))
        while not self._done(station.clock()):
            is_news = False
            for label, event in station.next(TICK_S):
                if label != self.label:
                    continue
                is_news = True
                match event:
                    case CableOut(error=error):
                        self.news.notice = str(error)
                    case CableIn():
                        self.news.notice = ""
                        self.allowing.appeared(station.identity(self.label))
                    case AtRest() if session.sends_on_key:
                        self._capture(station, "data key")
                    case Reading():
                        pass
            for command in self.commands():
                is_news = True
                if command == "quit":
                    return self.news
                if command == "confirm":
                    self._confirm(session)
                elif command == "capture":
                    self._capture(station, "key")
            if self._wants(session.rest) and session.is_new_rest and not session.sends_on_key:
                self._capture(station, "settled")
            self._show(station, is_news)
        return self.news

    def _show(self, station: Station, is_news: bool) -> None:
        """Show the gauge; of readings of others, only that this one has grown older."""
        now_s = station.clock()
        if not (is_news or now_s - self._shown_s >= TICK_S) or not self.due(now_s):
            return
        self._shown_s = now_s
        view = view_of(
            station.session(self.label),
            self.label,
            station.port(self.label),
            now_s,
            self.news,
            self.adjuster,
            "q quit" if self.when == "never" else "space capture  q quit",
        )
        self.show(self.allowing.seen(view, asks=self.when != "never"), now_s)

    def _confirm(self, session: Session) -> None:
        """One doubt a press: what the gauge gave rise to first, then what the register says."""
        if session.doubt:
            session.confirm()
        else:
            self.allowing.confirm()
        self.news.notice = ""

    def _has_enough(self) -> bool:
        return self.count is not None and self.news.captured >= self.count

    def _done(self, now_s: float) -> bool:
        if not self._has_enough():
            return self.stop()
        captured_s = self.news.captured_s
        return captured_s is None or now_s - captured_s >= self.linger_s

    def _wants(self, rest: AtRest | None) -> bool:
        if rest is None or self.when in ("key", "never") or self._has_enough():
            return False
        if not self.ready():
            return False
        is_in = rest.verdict is not None and rest.verdict.outcome.value == "in"
        return self.when == "settled" or is_in

    def _capture(self, station: Station, trigger: Trigger) -> None:
        news, now_s = self.news, station.clock()
        rest = station.session(self.label).rest
        result: tuple[Captured, Entry | None] | Refused
        if why := self.allowing.why_not(rest.value_mm if rest else None):
            result = Refused(why)
        else:
            result = station.capture(self.label, trigger, note=self.allowing.note)
        if isinstance(result, Refused):
            if trigger != "settled" or news.notice != result.reason:
                news.refused_s, news.notice = now_s, result.reason
            return
        captured, entry = result
        news.captured += 1
        news.captured_s, news.notice = now_s, ""
        news.last_capture = capture_words(captured, station, self.label)
        self.on_capture(captured, entry)


def capture_words(captured: Captured, station: Station, label: str) -> str:
    """A capture in words: the length or the deviation, its expanded uncertainty, the verdict."""
    session, rest = station.session(label), captured.rest
    unit = session.spec.unit if session.spec else captured.readings[-1].unit.value
    step_mm = session.step_mm / 10
    wide = shown_in(2 * rest.u_mm, unit, step_mm, sign=False)
    if rest.verdict is None:
        return f"{shown_in(rest.value_mm, unit, step_mm, sign=False)}, U = {wide}"
    off = shown_in(rest.verdict.deviation_mm, unit, step_mm)
    return f"{off} off, U = {wide}: {rest.verdict.outcome.value}"
