"""The station: it owns the ports and the clock, and runs a session for each gauge.

It asks gauges that want to be asked, hands arrivals to their sessions in order, and keeps captures
in the logbook. Everything that decides is in the sessions; this is the only place that waits.
"""

import queue
import time
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import partial
from typing import Self

from pydantic import ValidationError

from daq.logbook import Capture, Entry, Logbook
from daq.logbook.records import Written
from daq.measure.capture import Bench, record_of
from daq.measure.events import Captured, Refused, SessionEvent, Trigger
from daq.measure.gauges import Gauge
from daq.measure.session import Session
from daq.spec import DecisionRule, Spec
from drivers.discovery import SCHEME, identity_of, port_of
from drivers.errors import PortError
from drivers.reader import Arrived, Happening, Lost, Opened, Reader


@dataclass(frozen=True, slots=True)
class CableOut:
    """The gauge's port went away; it is being tried again."""

    error: PortError


@dataclass(frozen=True, slots=True)
class CableIn:
    """The gauge's port is open."""

    port: str


StationEvent = SessionEvent | CableOut | CableIn


@dataclass(slots=True)
class _Place:
    """One gauge at the station."""

    gauge: Gauge
    session: Session
    port: str = ""
    identity: str = ""
    """Of the adapter at the port."""
    known: str = ""
    """Of the adapter that is the gauge's."""
    ask_at_s: float = 0.0
    asked_at_s: float | None = None


class Station:
    """Reads gauges and keeps what is captured. Use it in a ``with`` statement.

    Args:
        gauges: what to read.
        spec: what the lengths should be, for every gauge; None to read only.
        rule: how verdicts are made; needed with a specification.
        logbook: where captures are kept; None to keep nothing.
        bench: who measures and where.
        clock: seconds, monotonic.
        record: called with all that the wire brings before it is decoded, to keep a raw trace.

    Raises:
        PortError: on entering, if a gauge's port cannot be opened.
    """

    def __init__(
        self,
        gauges: Sequence[Gauge],
        spec: Spec | None = None,
        rule: DecisionRule | None = None,
        logbook: Logbook | None = None,
        bench: Bench | None = None,
        clock: Callable[[], float] = time.monotonic,
        record: Callable[[Happening], None] | None = None,
    ) -> None:
        self.clock = clock
        self._logbook, self._record = logbook, record
        self._bench = bench or Bench("")
        self._places = {
            gauge.label: _Place(gauge, Session(gauge.profile, spec, rule, clock()))
            for gauge in gauges
        }
        self._reader: Reader | None = None

    def __enter__(self) -> Self:
        self._reader = Reader(self.clock)
        try:
            for place in self._places.values():
                find = partial(port_of, place.gauge.port)
                self._reader.add(place.gauge.label, find, place.gauge.profile.serial)
        except PortError:
            self._reader.close()
            raise
        return self

    def __exit__(self, *_: object) -> None:
        if self._reader is not None:
            self._reader.close()

    def session(self, label: str) -> Session:
        """The session of the gauge called ``label``."""
        return self._places[label].session

    def identity(self, label: str) -> str:
        """The stable identity of a gauge's adapter; empty if it has none."""
        return self._places[label].identity

    def port(self, label: str) -> str:
        """The port that the gauge called ``label`` is at now; empty before it was opened."""
        return self._places[label].port

    def next(self, within_s: float) -> list[tuple[str, StationEvent]]:
        """What happens next, by gauge label; empty if nothing does within ``within_s`` seconds."""
        if self._reader is None:
            raise RuntimeError("enter the station with 'with' before reading from it")
        deadline_s = self.clock() + within_s
        while True:
            self._ask_those_due()
            wait_s = max(0.0, min(self._next_ask_s(), deadline_s) - self.clock())
            with suppress(queue.Empty):
                return self._take_all(self._reader.happenings.get(timeout=wait_s))
            if self.clock() >= deadline_s:
                return self._hear_silence()

    def capture(
        self,
        label: str,
        trigger: Trigger,
        *,
        with_spec: bool = True,
        note: str = "",
        and_then: Callable[[Capture], Sequence[Written]] = lambda _: (),
    ) -> tuple[Captured, Entry | None] | Refused:
        """Keep the present value of the gauge called ``label``, or say why not.

        When this returns a capture, it is in the logbook, on the disk.

        Args:
            label: which gauge.
            trigger: what asked for it.
            with_spec: False keeps the value as the gauge reads it, held against nothing.
            note: words to keep with the value.
            and_then: more records to keep with it: all of them or none.

        Raises:
            LogbookError: the value could be captured but not kept.
        """
        place, now_s = self._places[label], self.clock()
        captured = place.session.capture(now_s, trigger)
        if isinstance(captured, Refused):
            return captured
        if self._logbook is None:
            return captured, None
        gauge = Gauge(label, place.gauge.profile, place.port)
        at = datetime.now(UTC)
        try:
            spec = place.session.spec if with_spec else None
            record = record_of(captured, gauge, place.identity, spec, self._bench, at, now_s, note)
        except ValidationError as error:
            # A record holds itself against its own readings; what fails there is not kept.
            return Refused(f"the value contradicts its readings: {error.errors()[0]['msg']}")
        entry, *_ = self._logbook.append_many([record, *and_then(record)])
        place.session.kept(captured)
        return captured, entry

    def _hear_silence(self) -> list[tuple[str, StationEvent]]:
        """Nothing has come: a frame that was cut short is told now, not with the next one."""
        now_s = self.clock()
        return [
            (label, event)
            for label, place in self._places.items()
            if not place.session.cable_out
            for event in place.session.receive(b"", now_s)
        ]

    def _take_all(self, first: Happening) -> list[tuple[str, StationEvent]]:
        """``first`` and all that waits behind it, so that nothing lags behind the hand."""
        events = self._take(first)
        assert self._reader is not None
        with suppress(queue.Empty):
            while True:
                events += self._take(self._reader.happenings.get_nowait())
        return events

    def _take(self, happening: Happening) -> list[tuple[str, StationEvent]]:
        label = happening.gauge
        place = self._places[label]
        if self._record is not None:
            self._record(happening)
        match happening:
            case Arrived(t_s=t_s, data=data):
                events = place.session.receive(data, t_s)
                if events:  # an echo of the question, or half an answer, is no answer yet
                    place.asked_at_s = None
                return [(label, event) for event in events]
            case Opened(t_s=t_s, port=port):
                place.port = port
                place.session.opened(t_s)
                self._identify(place)
                # A reply to somebody else's question may still be under way.
                place.ask_at_s = t_s + place.gauge.profile.sends.gap_s
                place.asked_at_s = None
                return [(label, CableIn(port))]
            case Lost(t_s=t_s, error=error):
                lost: list[StationEvent] = [*place.session.lost(t_s), CableOut(error)]
                return [(label, event) for event in lost]

    @staticmethod
    def _identify(place: _Place) -> None:
        """Note whose adapter is at the port: after a replug it may be another gauge's."""
        session, wanted = place.session, place.gauge.port
        if not session.is_adapter_doubted:  # the one before was the gauge's, or somebody said so
            place.known = place.identity or place.known
        place.identity = wanted if wanted.startswith(SCHEME) else identity_of(place.port)
        if place.identity == place.known or not place.known:
            session.adapter_is_back()
        else:
            session.adapter_changed(place.known, place.identity, place.port)

    def _ask_those_due(self) -> None:
        """Send the request to each polled gauge whose turn it is and that has answered."""
        assert self._reader is not None
        now_s = self.clock()
        for label, place in self._places.items():
            profile = place.gauge.profile
            if profile.sends.when != "on request" or place.session.cable_out:
                continue
            if place.asked_at_s is not None:
                if now_s - place.asked_at_s < profile.sends.reply_within_s:
                    continue
                # No answer: wait until a late one has surely passed, or it would be taken for the
                # answer to the next question.
                place.asked_at_s = None
                place.ask_at_s = now_s + profile.sends.gap_s
                place.session.opened(now_s)
                if self._record is not None:
                    self._record(Opened(label, now_s, place.port))
            if now_s >= place.ask_at_s and profile.request is not None:
                self._reader.send(label, profile.request)
                place.asked_at_s = now_s
                place.ask_at_s = max(place.ask_at_s, now_s) + 1 / profile.sends.rate_hz

    def _next_ask_s(self) -> float:
        """When a polled gauge needs attention next, seconds; infinity if none ever does."""
        due = [float("inf")]
        for place in self._places.values():
            sends = place.gauge.profile.sends
            if sends.when == "on request" and not place.session.cable_out:
                waiting = place.asked_at_s is not None
                due.append(
                    (place.asked_at_s or 0.0) + sends.reply_within_s if waiting else place.ask_at_s
                )
        return min(due)
