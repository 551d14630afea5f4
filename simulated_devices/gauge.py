"""A simulated gauge: plunger, display and buttons, with no clock of its own.

``advance(dt_s)`` lets time pass and gives the bytes that were sent meanwhile; they are made by the
profile's own ``encode``, so the simulator cannot drift from the driver. Time is counted in whole
nanoseconds, because a sum of floats would lose a frame at a boundary. The same seed gives the same
bytes, however the time is cut into steps.
"""

import math
import random
from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

from drivers.errors import FrameError
from drivers.profile import GaugeProfile
from drivers.reading import Shown, Status, Unit
from simulated_devices.hand import Hand
from simulated_devices.motion import Motion, Still

NS_PER_S = 1_000_000_000
ANSWER_AFTER_NS = 4_000_000
"""How long a gauge takes to answer a question."""

OLD_QUESTIONS = 256
"""Bytes remembered while a question is not complete."""

Key = Literal[
    "zero", "unit", "direction", "data", "hold", "sleep", "wake", "battery", "error", "clear"
]
"""What a person, or the years, can do to a gauge; ``clear`` takes an error display away."""


@dataclass(frozen=True, slots=True)
class Press:
    """A key pressed at ``at_s`` seconds after switching on."""

    at_s: float
    key: Key


class SimulatedGauge:
    """A gauge that behaves as its profile says.

    Args:
        profile: how it sends.
        motion: how the plunger moves.
        hand: turns a screw that moves the plunger, looking at this gauge's display.
        noise_mm: standard deviation of the reading before it is rounded to the display's step.
        overspeed_mm_s: a plunger faster than this raises the error display, if the profile can
            send one.
        label: the gauge's own number, where the layout sends it.
        presses: keys pressed on the way.
        seed: of the noise.
    """

    def __init__(
        self,
        profile: GaugeProfile,
        motion: Motion | None = None,
        *,
        hand: Hand | None = None,
        noise_mm: float = 0.0,
        overspeed_mm_s: float = math.inf,
        label: str = "01",
        presses: tuple[Press, ...] = (),
        seed: int = 0,
    ) -> None:
        self.profile, self.hand = profile, hand
        self._motion = motion or Still()
        self._noise_mm, self._overspeed_mm_s, self._label = noise_mm, overspeed_mm_s, label
        self._random = random.Random(seed)
        self._presses = sorted(presses, key=lambda press: press.at_s)
        self._period_ns = round(NS_PER_S / profile.sends.rate_hz)
        self._now_ns = 0
        self._next_ns = 0
        self._answers_ns: list[int] = []
        self._heard = b""
        self._frames = 0
        self._origin_mm = 0.0
        self._before_mm = self._position_mm()
        self._held: Decimal | None = None
        self._unit = next(iter(profile.resolution))
        self._sign = 1
        self._asleep = False
        self._status: set[Status] = set()
        self._noise_now_mm = 0.0

    @property
    def t_s(self) -> float:
        """Seconds since it was switched on."""
        return self._now_ns / NS_PER_S

    def _position_mm(self) -> float:
        moved_mm = self.hand.moved_mm if self.hand else 0.0
        return self._motion.at(self._now_ns / NS_PER_S) + moved_mm

    def shown(self) -> Shown:
        """What the display shows now."""
        if Status.ERROR in self._status or Status.OVERSPEED in self._status:
            return Shown(None, self._unit, frozenset(self._status), self._frames, self._label)
        status = frozenset(self._status)
        return Shown(self._value(), self._unit, status, self._frames, self._label)

    def _value(self) -> Decimal:
        if self._held is not None:
            return self._held
        step = self.profile.resolution[self._unit]
        shown_mm = self._sign * (self._position_mm() - self._origin_mm) + self._noise_now_mm
        steps = round(shown_mm / float(step * self._unit.in_mm))
        return steps * step

    def press(self, key: Key) -> bytes:
        """Press a key; gives the bytes that this sends, if it sends any."""
        match key:
            case "zero":
                self._origin_mm = self._position_mm()
            case "unit":
                self._press_unit()
            case "direction":
                self._sign = -self._sign
            case "hold":
                self._press_hold()
            case "sleep":
                self._asleep = True
            case "wake":
                self._wake()
            case "battery":
                self._status.add(Status.BATTERY_LOW)
            case "error":
                self._status.add(Status.ERROR)
            case "clear":
                self._status -= {Status.ERROR, Status.OVERSPEED}
            case "data":
                return self._frame() if self.profile.sends.when == "on its data key" else b""
        return b""

    def preset(self, shows_mm: float) -> None:
        """Give the present position a length: the preset key."""
        self._origin_mm = self._position_mm() - self._sign * shows_mm

    def _press_unit(self) -> None:
        units = list(self.profile.resolution)
        self._unit = units[(units.index(self._unit) + 1) % len(units)]
        self._held = None

    def _press_hold(self) -> None:
        self._held = self._value() if self._held is None else None
        self._status ^= {Status.HELD}

    def _wake(self) -> None:
        """After sleep the origin is where the plunger happens to be."""
        if self._asleep:
            self._asleep = False
            self._origin_mm = self._position_mm()
            self._status.add(Status.ORIGIN_LOST)

    def receive(self, data: bytes) -> None:
        """Bytes from the computer: a question is answered a little later."""
        request = self.profile.request
        if request is None or self._asleep or self.profile.sends.when != "on request":
            return
        self._heard += data
        while (at := self._heard.find(request)) >= 0:
            self._heard = self._heard[at + len(request) :]
            self._answers_ns.append(self._now_ns + ANSWER_AFTER_NS)
        self._heard = self._heard[-OLD_QUESTIONS:]

    def advance(self, dt_s: float) -> bytes:
        """Let ``dt_s`` seconds pass; give what was sent in them."""
        end_ns = self._now_ns + round(dt_s * NS_PER_S)
        sent = bytearray()
        while (at_ns := self._next_event_ns()) <= end_ns:
            self._now_ns = at_ns
            if self._presses and round(self._presses[0].at_s * NS_PER_S) <= at_ns:
                sent += self.press(self._presses.pop(0).key)
            elif self._answers_ns and self._answers_ns[0] <= at_ns:
                self._answers_ns.pop(0)
                sent += self._frame()
            else:
                self._next_ns += self._period_ns
                sent += self._tick()
        self._now_ns = end_ns
        return bytes(sent)

    def _next_event_ns(self) -> int:
        due = [self._next_ns, *self._answers_ns[:1]]
        due += [round(press.at_s * NS_PER_S) for press in self._presses[:1]]
        return max(min(due), self._now_ns)

    def _tick(self) -> bytes:
        """One period of the display: it is measured anew, and sent if the gauge streams."""
        self._noise_now_mm = self._random.gauss(0.0, self._noise_mm) if self._noise_mm else 0.0
        now_mm = self._position_mm()
        speed_mm_s = abs(now_mm - self._before_mm) * self.profile.sends.rate_hz
        self._before_mm = now_mm
        if speed_mm_s > self._overspeed_mm_s:
            self._status.add(Status.OVERSPEED)
        if self.hand:
            value = self.shown().value
            shown_mm = None if value is None else float(value * self._unit.in_mm)
            self.hand.advance(self._period_ns / NS_PER_S, shown_mm)
        return self._frame() if self.profile.sends.when == "by itself" else b""

    def _frame(self) -> bytes:
        """The frame for what is shown; nothing while asleep or if the layout cannot say it."""
        if self._asleep:
            return b""
        shown = self.shown()
        self._frames += 1
        try:
            return self.profile.encode(shown)
        except FrameError:
            return self._error_frame(shown.unit)

    def _error_frame(self, unit: Unit) -> bytes:
        try:
            return self.profile.encode(Shown(None, unit, frozenset({Status.ERROR})))
        except FrameError:
            return b""
