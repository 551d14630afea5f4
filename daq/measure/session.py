"""One gauge at work: bytes in, what happened out; and whether its value may be kept.

The session joins decoder, settler, specification and decision rule. It owns no port and no clock:
times are handed in. It refuses to capture whenever the value could be wrong, and says why.
"""

from collections import deque

from daq.measure.doubts import (
    JUMP_WORDS,
    Doubts,
    adapter_words,
    looks_like_unit_key,
    origin_words,
    status_words,
    unit_words,
)
from daq.measure.events import AtRest, Captured, Moved, Refused, SessionEvent, Trigger
from daq.settle import Rest, Settler, State
from daq.spec import DecisionRule, Spec, Verdict, decide
from drivers.decoder import Decoder
from drivers.profile import GaugeProfile
from drivers.reading import BadFrame, Event, NoNumber, Reading, Status, Unit

STALE_AFTER_S = 0.5
"""A reading older than this is not captured: the gauge may stand anywhere by now."""

READINGS_KEPT = 4096
"""Readings remembered for the record; at 1 kHz the last four seconds."""

UNREAD_S = 0.5
"""Readings that arrive together and lack so much of the time since the last one lay somewhere."""

BABBLE_BYTES = 40
"""Bytes without a frame that are too many for a stream joined in mid-frame."""


class Session:
    """Everything about one gauge since it was opened.

    Args:
        profile: how the gauge sends.
        spec: what the length should be; None to read only.
        rule: how verdicts are made; needed with a specification.
        opened_t_s: when the port was opened, seconds on the clock of the arrival times.

    Attributes:
        rest: the present rest, None while moving.
        reading: the last reading with a number, None before the first.
        statuses: what the gauge said of itself in its last frame.
        shows_no_number: whether the gauge's last frame held no number.
        bad_frames: bad frames since the session began.
        unread_bytes: bytes that have come since the last good frame.
    """

    def __init__(
        self,
        profile: GaugeProfile,
        spec: Spec | None = None,
        rule: DecisionRule | None = None,
        opened_t_s: float = 0.0,
    ) -> None:
        if spec is not None and rule is None:
            raise ValueError("a specification needs a decision rule")
        self.profile, self.spec, self._rule = profile, spec, rule
        self.step_mm = min(step * unit.in_mm for unit, step in profile.resolution.items())
        self._decoder = Decoder(profile, opened_t_s)
        self.rest: AtRest | None = None
        self.reading: Reading | None = None
        self.statuses: frozenset[Status] = frozenset()
        self._doubts = Doubts()
        self.shows_no_number = False
        self.bad_frames = 0
        self.unread_bytes = 0
        self._bad_at_capture = 0
        self._rests = 0
        self._captured_rest = 0
        self._unit: Unit | None = None
        self._cable_out = False
        self._kept: deque[Reading] = deque(maxlen=READINGS_KEPT)
        self._settler = self._new_settler(None)
        self._settled: Rest | None = None

    def _new_settler(self, unit: Unit | None) -> Settler:
        """A settler for the display step of ``unit``.

        What matters is a tenth of the room between the limits, but never less than a step.
        """
        unit = unit or next(iter(self.profile.resolution))
        step_mm = self.profile.resolution[unit] * unit.in_mm
        width_mm = self.spec.width_mm if self.spec else None
        tolerance_mm = max(step_mm, width_mm / 10) if width_mm else step_mm
        rate_hz = None if self.sends_on_key else self.profile.sends.rate_hz
        self.step_mm = step_mm
        return Settler(float(step_mm), float(tolerance_mm), rate_hz)

    @property
    def sends_on_key(self) -> bool:
        """Whether the gauge sends one reading for each press of its data key."""
        return self.profile.sends.when == "on its data key"

    def receive(self, data: bytes, t_s: float) -> list[SessionEvent]:
        """What ``data``, read at ``t_s`` (seconds), has brought about."""
        events = self._decoder.receive(data, t_s)
        is_read = any(not isinstance(event, BadFrame) for event in events)
        self.unread_bytes = 0 if is_read else self.unread_bytes + len(data)
        readings = [event for event in events if isinstance(event, Reading)]
        if len(readings) < 2:
            return self.take(events)
        lay_unread = self._lay_unread(len(readings), readings[-1].t_s)
        self._spread(readings)
        happened = self.take(events)
        if lay_unread:  # a rest among them may be over long since
            happened = [event for event in happened if not isinstance(event, AtRest)]
            self._start_anew(t_s, happened)
        return happened

    def _lay_unread(self, count: int, t_s: float) -> bool:
        """Whether readings that arrived together at ``t_s`` may be of any age.

        While nobody reads, because the machine slept, the system keeps the first bytes that come
        and drops the rest. So what arrives then does not account for the time that has passed.
        """
        if self.reading is None:
            return False
        return t_s - self.reading.t_s - count / self.profile.sends.rate_hz > UNREAD_S

    def _spread(self, readings: list[Reading]) -> None:
        """Give readings that arrived in one piece the times at which they were sent, nearly.

        Adapters and systems hand bytes over in bunches. The last reading has the time of arrival;
        those before it are put one period of the gauge earlier each, but after the reading before.
        """
        until_s, spacing_s = readings[-1].t_s, 1 / self.profile.sends.rate_hz
        if self.reading is not None:
            spacing_s = min(spacing_s, (until_s - self.reading.t_s) / len(readings))
        for place, reading in enumerate(reversed(readings)):
            reading.t_s = until_s - place * spacing_s

    def take(self, events: list[Event]) -> list[SessionEvent]:
        """What decoded frames have brought about; ``receive`` without the decoding."""
        happened: list[SessionEvent] = []
        for event in events:
            match event:
                case BadFrame():
                    self.bad_frames += 1
                    happened.append(event)
                case NoNumber():
                    self._take_no_number(event, happened)
                case Reading():
                    self._take_reading(event, happened)
        return happened

    def _take_no_number(self, event: NoNumber, happened: list[SessionEvent]) -> None:
        happened.append(event)
        self.statuses, self.shows_no_number = event.status, True
        self._start_anew(event.t_s, happened)
        if event.status & {Status.OVERSPEED, Status.ORIGIN_LOST}:
            self._doubt_origin(event.status)

    def _doubt_origin(self, status: frozenset[Status]) -> None:
        self._doubts.cast("origin", origin_words(status))

    def _take_reading(self, reading: Reading, happened: list[SessionEvent]) -> None:
        before = self.reading
        if before is not None and self._is_doubled(before, reading):
            self.bad_frames += 1
            happened.append(BadFrame(reading.raw, "the same frame came twice", reading.t_s))
            return
        self.statuses, self.shows_no_number = reading.status, False
        if Status.ORIGIN_LOST in reading.status:
            self._doubt_origin(frozenset({Status.ORIGIN_LOST}))
        self._watch_unit(before, reading, happened)
        self.reading = reading
        self._kept.append(reading)
        happened.append(reading)
        if self.sends_on_key:
            self._take_press(reading, happened)
            return
        settled, before_it = self._settler.push(reading.t_s, float(reading.value_mm)), self._settled
        self._settled = settled
        if settled is None:
            self._leave_rest(reading.t_s, happened)
            return
        if settled is before_it and self.rest is not None:
            return  # the settler has learned nothing, so the verdict stands
        is_new = self.rest is None or settled.since_s > self.rest.until_s
        self._rests += is_new
        verdict = self._verdict(settled.value_mm, settled.u_mm)
        self.rest = AtRest(
            self._rests,
            settled.value_mm,
            settled.u_mm,
            settled.n,
            settled.since_s,
            settled.until_s,
            verdict,
        )
        if is_new:
            happened.append(self.rest)

    @staticmethod
    def _is_doubled(before: Reading, now: Reading) -> bool:
        """A counter that stands still shows a frame that came twice."""
        return (
            now.sequence is not None and now.sequence == before.sequence and now.raw == before.raw
        )

    def _watch_unit(
        self, before: Reading | None, now: Reading, happened: list[SessionEvent]
    ) -> None:
        """Notice the unit key, whether the frame tells the unit or not."""
        if self._unit is None:
            self._unit = now.unit
            self._settler = self._new_settler(now.unit)
        elif before is not None and now.unit is not before.unit:
            self._start_anew(now.t_s, happened)
            self._settler = self._new_settler(now.unit)
            if now.unit is self._unit:
                self._doubts.lift("unit")
            else:
                self._doubts.cast("unit", unit_words(self._unit, now.unit))
        elif before is not None and self._has_fixed_unit and looks_like_unit_key(before, now):
            self._start_anew(now.t_s, happened)
            self._doubts.cast("unit", JUMP_WORDS)

    @property
    def _has_fixed_unit(self) -> bool:
        return len(self.profile.resolution) == 1

    def _take_press(self, reading: Reading, happened: list[SessionEvent]) -> None:
        """A reading sent by the data key: a value of its own, with the display step alone in u."""
        u_mm = float(self.step_mm) / 12**0.5
        value_mm = float(reading.value_mm)
        self._rests += 1
        verdict = self._verdict(value_mm, u_mm)
        self.rest = AtRest(self._rests, value_mm, u_mm, 1, reading.t_s, reading.t_s, verdict)
        happened.append(self.rest)

    def _verdict(self, value_mm: float, u_mm: float) -> Verdict | None:
        if self.spec is None or self._rule is None:
            return None
        return decide(value_mm, u_mm, self.spec, self._rule)

    def _leave_rest(self, t_s: float, happened: list[SessionEvent]) -> None:
        if self.rest is not None:
            self.rest = None
            happened.append(Moved(t_s))

    def _start_anew(self, t_s: float, happened: list[SessionEvent]) -> None:
        self._settler = self._new_settler(self._unit)
        self._leave_rest(t_s, happened)

    def hold_against(self, spec: Spec | None, rule: DecisionRule | None) -> None:
        """Measure something else from now on; what was at rest before counts for nothing.

        Args:
            spec: what the length should be; None to read only.
            rule: how verdicts are made; needed with a specification.
        """
        if spec is not None and rule is None:
            raise ValueError("a specification needs a decision rule")
        self.spec, self._rule = spec, rule
        self._settler = self._new_settler(self._unit)
        self.rest = None
        self._kept.clear()

    def lost(self, t_s: float) -> list[SessionEvent]:
        """The cable is out since ``t_s``."""
        happened: list[SessionEvent] = []
        self._cable_out = True
        self._start_anew(t_s, happened)
        return happened

    def opened(self, t_s: float) -> None:
        """The port is open (again) since ``t_s``; what was half received is forgotten."""
        self._cable_out = False
        self._decoder.reset(t_s)

    @property
    def doubt(self) -> str:
        """Why nothing is captured until somebody has looked; empty if there is no doubt."""
        return self._doubts.words

    def adapter_changed(self, before: str, now: str, port: str) -> None:
        """Another adapter is where this gauge's was: whose gauge is at it, somebody has to say."""
        self._doubts.cast("adapter", adapter_words(before, now, port))

    @property
    def is_adapter_doubted(self) -> bool:
        """Whether nobody has said yet that the adapter which came is this gauge's."""
        return self._doubts.has("adapter")

    def adapter_is_back(self) -> None:
        """The gauge's own adapter is there again."""
        self._doubts.lift("adapter")

    def confirm(self) -> None:
        """Somebody has looked into the doubt that is shown: it is cleared; others may remain."""
        cause = self._doubts.confirm()
        if cause in (None, "unit") and self.reading is not None:
            self._unit = self.reading.unit

    @property
    def cable_out(self) -> bool:
        """Whether the port is gone."""
        return self._cable_out

    @property
    def motion(self) -> State:
        """Moving, coming to rest, at rest or vibrating, with what is known of it."""
        return self._settler.state

    @property
    def is_babble(self) -> bool:
        """Whether bytes keep coming that are no frames: a wrong speed, or a wrong profile."""
        return self.unread_bytes >= BABBLE_BYTES

    @property
    def is_new_rest(self) -> bool:
        """Whether the present rest has not been captured yet."""
        return self.rest is not None and self.rest.number != self._captured_rest

    def capture(self, t_s: float, trigger: Trigger) -> Captured | Refused:
        """The present value with all that it rests on, or why it may not be kept.

        Whoever keeps it says so with ``kept``.

        Args:
            t_s: now, seconds on the clock of the arrival times.
            trigger: what asked for it.
        """
        reason = self._why_not(t_s)
        if reason or self.rest is None:
            return Refused(reason)
        since_s, until_s = self.rest.since_s, self.rest.until_s
        readings = tuple(r for r in self._kept if since_s <= r.t_s <= until_s)
        spoilt = {each for r in readings for each in r.status if each.spoils_value}
        if spoilt:
            return Refused(status_words(frozenset(spoilt)))
        bad = self.bad_frames - self._bad_at_capture
        return Captured(self.rest, readings, trigger, not self.sends_on_key, bad)

    def kept(self, captured: Captured) -> None:
        """``captured`` is in the logbook: its rest need not be captured again by itself."""
        self._captured_rest, self._bad_at_capture = captured.rest.number, self.bad_frames

    def _why_not(self, t_s: float) -> str:
        if self._cable_out:
            return "the cable is out; plug the gauge in"
        if self.reading is None:
            return "nothing has come from the gauge yet"
        if self.statuses and any(each.spoils_value for each in self.statuses):
            return status_words(self.statuses)
        age_s = t_s - self.reading.t_s
        if age_s > STALE_AFTER_S:
            return f"the last reading is {age_s:.1f} s old; is the gauge switched on?"
        if self.doubt:
            return self.doubt
        if self.rest is None:
            return "the reading is still moving; hold still until it rests"
        return ""
