"""A simulated gauge: plunger, display and buttons, with no clock of its own.

``advance(dt_s)`` lets time pass and gives the bytes that were sent meanwhile; they are made by the
profile's own ``encode``, so the simulator cannot drift from the driver. Time is counted in whole
nanoseconds, because a sum of floats would lose a frame at a boundary. The same seed gives the same
bytes, however the time is cut into steps.
"""

import math
import random
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Literal

from drivers.errors import FrameError
from drivers.profile import GaugeProfile
from drivers.reading import Shown, Status
from simulated_devices.hand import Hand
from simulated_devices.motion import Motion, Still

NS_PER_S = 1_000_000_000
ANSWER_AFTER_NS = 4_000_000
"""How long a gauge takes to answer a question."""

OLD_QUESTIONS = 256
"""Bytes remembered while a question is not complete."""

MOST_ANSWERS = 8
"""Answers that are due at a time, at most; a question beyond them is not heard."""

Key = Literal[
    "zero",
    "preset",
    "unit",
    "direction",
    "incremental",
    "data",
    "hold",
    "sleep",
    "wake",
    "battery",
    "error",
    "clear",
]
"""What a person, or the years, can do to a gauge; ``clear`` takes an error display away."""

REACHES_A_SLEEPER = ("wake", "battery", "error")
"""What has an effect on a gauge that is asleep."""


@dataclass(frozen=True, slots=True)
class Press:
    """A key pressed at ``at_s`` seconds after switching on; a preset makes it show ``shows_mm``."""

    at_s: float
    key: Key
    shows_mm: float = 0.0


class SimulatedGauge:
    """A gauge that behaves as its profile says.

    It measures anew once a period of the profile's ``rate_hz``, and rounds what it measured to the
    nearest step of its display, halves to the even step. It counts finer than it shows: zero and
    preset take the measured place itself for origin, not the rounded one.

    Args:
        profile: how it sends.
        motion: how the plunger moves.
        hand: turns a screw that moves the plunger, looking at this gauge's display.
        noise_mm: standard deviation of the reading before it is rounded to the display's step.
        overspeed_mm_s: a plunger faster than this, from one period to the next, raises the error
            display until it is cleared.
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
        # The seed is the gauge's, its hand's and its wire's: each must make its own of it.
        self._random = random.Random(f"noise {seed}")
        self._presses = sorted(presses, key=lambda press: press.at_s)
        self._period_ns = round(NS_PER_S / profile.sends.rate_hz)
        self._now_ns = 0
        self._part_of_ns = 0.0
        self._next_ns = 0
        self._answers_ns: list[int] = []
        self._heard = b""
        self._frames = 0
        self._pushed_mm = 0.0
        self._origin_mm = 0.0
        self._second_origin_mm: float | None = None
        self._noise_now_mm = 0.0
        self._before_mm = self._position_mm()
        self._held_mm: float | None = None
        self._unit = next(iter(profile.resolution))
        self._sign = 1
        self._asleep = False
        self._status: set[Status] = set()

    @property
    def t_s(self) -> float:
        """Seconds since it was switched on."""
        return self._now_ns / NS_PER_S

    def _position_mm(self) -> float:
        moved_mm = self.hand.moved_mm if self.hand else 0.0
        return self._motion.at(self._now_ns / NS_PER_S) + moved_mm + self._pushed_mm

    def move_to(self, position_mm: float) -> None:
        """Push the plunger to ``position_mm`` at once; its motion and its hand go on from there.

        The position is the plunger's own: without noise, origin or sign.
        """
        self._pushed_mm += position_mm - self._position_mm()

    def _measured_mm(self) -> float:
        """From the gauge's own place of switching on: what it counts, noise and all."""
        return self._position_mm() + self._noise_now_mm

    def _shown_mm(self) -> float:
        """From the zero that is in use, in the direction that is in use."""
        second = self._second_origin_mm
        origin_mm = self._origin_mm if second is None else second
        return self._sign * (self._measured_mm() - origin_mm)

    def shown(self) -> Shown:
        """What the display shows now; no number while it shows an error or is asleep."""
        status = frozenset(self._status)
        dark = self._asleep or Status.ERROR in status or Status.OVERSPEED in status
        return Shown(None if dark else self._value(), self._unit, status, self._frames, self._label)

    def _value(self) -> Decimal:
        step = self.profile.resolution[self._unit]
        shown_mm = self._shown_mm() if self._held_mm is None else self._held_mm
        return round(shown_mm / float(step * self._unit.in_mm)) * step

    def press(self, key: Key, shows_mm: float = 0.0) -> bytes:
        """Press a key; gives the bytes that this sends, if it sends any.

        Args:
            key: which one.
            shows_mm: what the display shows after ``"preset"``.
        """
        if self._asleep and key not in REACHES_A_SLEEPER:
            return b""
        match key:
            case "zero":
                self.preset(0.0)
            case "preset":
                self.preset(shows_mm)
            case "unit":
                units = list(self.profile.resolution)
                self._unit = units[(units.index(self._unit) + 1) % len(units)]
            case "direction":
                self._sign = -self._sign
            case "incremental":
                self._press_incremental()
            case "hold":
                self._held_mm = self._shown_mm() if self._held_mm is None else None
                self._status ^= {Status.HELD}
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
        """Give the present place a length: the preset key, and with 0 the zero key.

        It sets the zero that is in use. An origin that was lost is found again by it.
        """
        origin_mm = self._measured_mm() - self._sign * shows_mm
        if self._second_origin_mm is None:
            self._origin_mm = origin_mm
            self._status.discard(Status.ORIGIN_LOST)
        else:
            self._second_origin_mm = origin_mm

    def _press_incremental(self) -> None:
        """To the second zero, which is here, or back to the first."""
        self._second_origin_mm = self._measured_mm() if self._second_origin_mm is None else None
        self._status ^= {Status.INCREMENTAL}

    def _wake(self) -> None:
        """After sleep the origin is where the plunger happens to be."""
        if self._asleep:
            self._asleep, self._second_origin_mm, self._held_mm = False, None, None
            self._origin_mm = self._measured_mm()
            self._before_mm = self._position_mm()
            self._status -= {Status.INCREMENTAL, Status.HELD}
            self._status.add(Status.ORIGIN_LOST)

    def receive(self, data: bytes) -> None:
        """Bytes from the computer: a question is answered a little later, but not by a sleeper."""
        request = self.profile.request
        if request is None or self._asleep or self.profile.sends.when != "on request":
            return
        self._heard += data
        while (at := self._heard.find(request)) >= 0:
            self._heard = self._heard[at + len(request) :]
            if len(self._answers_ns) < MOST_ANSWERS:
                self._answers_ns.append(self._now_ns + ANSWER_AFTER_NS)
        self._heard = self._heard[-OLD_QUESTIONS:]

    def advance(self, dt_s: float) -> bytes:
        """Let ``dt_s`` seconds pass, zero or more; give what was sent in them.

        Raises:
            ValueError: time would run backwards.
        """
        if not dt_s >= 0:
            raise ValueError(f"a gauge cannot go on by {dt_s} s; give zero or more seconds")
        # What rounding leaves is carried on, or many small steps would not add up to a large one.
        exact_ns = dt_s * NS_PER_S + self._part_of_ns
        end_ns = self._now_ns + round(exact_ns)
        self._part_of_ns = exact_ns - round(exact_ns)
        sent = bytearray()
        while (at_ns := self._next_event_ns()) <= end_ns:
            self._now_ns = at_ns
            if self._presses and round(self._presses[0].at_s * NS_PER_S) <= at_ns:
                press = self._presses.pop(0)
                sent += self.press(press.key, press.shows_mm)
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
        speed_mm_s = abs(now_mm - self._before_mm) * NS_PER_S / self._period_ns
        self._before_mm = now_mm
        if speed_mm_s > self._overspeed_mm_s and not self._asleep:
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
        for shown in self._ways_to_say(self.shown()):
            with suppress(FrameError):
                sent = self.profile.encode(shown)
                self._frames += 1
                return sent
        return b""

    def _ways_to_say(self, shown: Shown) -> Iterator[Shown]:
        """What is shown, or what comes nearest: a number too long for the display is an error."""
        yield shown
        status = shown.status
        if shown.value is not None:
            status |= {Status.OUT_OF_RANGE}
            yield replace(shown, value=None, status=status)
        yield replace(shown, value=None, status=status | {Status.ERROR})
