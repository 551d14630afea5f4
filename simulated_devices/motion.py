"""Ways in which a plunger moves: pure functions of time, so that a ten-minute run takes no time.

Every motion has ``at(t_s)``, the position in millimetres at ``t_s`` seconds. Motions add up with
``Together`` and follow each other with ``InTurn``; a disturbance that begins later is zero before
its ``start_s``. Each is a form, so a scenario file is checked against the very figures that the
motion uses.
"""

import math
from dataclasses import dataclass
from typing import Annotated, Any, Literal, Protocol

from pydantic import Field

from drivers.form import Form
from simulated_devices.figures import Frequency, Length, Moment, Span, Stride


class Motion(Protocol):
    """A position that depends on time alone."""

    def at(self, t_s: float) -> float:
        """The position in millimetres at ``t_s`` seconds."""


@dataclass(frozen=True, slots=True)
class Together:
    """Several motions added up."""

    parts: tuple[Motion, ...]

    def at(self, t_s: float) -> float:
        """See ``Motion.at``."""
        return math.fsum(part.at(t_s) for part in self.parts)


@dataclass(frozen=True, slots=True)
class InTurn:
    """Motions one after the other, each on top of where the one before it ended.

    Each part is a motion and how many seconds it has; its own time begins at zero. The last one
    goes on for ever, whatever time it was given.
    """

    parts: tuple[tuple[Motion, float], ...]

    def at(self, t_s: float) -> float:
        """See ``Motion.at``."""
        ended_mm = 0.0
        for part, lasts_s in self.parts[:-1]:
            if t_s < lasts_s:
                return ended_mm + part.at(t_s)
            ended_mm += part.at(lasts_s)
            t_s -= lasts_s
        return ended_mm + (self.parts[-1][0].at(t_s) if self.parts else 0.0)


class Still(Form):
    """No motion at all. Its only figure may stand alone: ``Still(12.34)``."""

    kind: Literal["still"] = "still"
    at_mm: Length = 0.0

    def __init__(self, at_mm: float = 0.0, **more: Any) -> None:
        super().__init__(**{"at_mm": at_mm, **more})

    def at(self, t_s: float) -> float:  # noqa: ARG002
        """See ``Motion.at``."""
        return self.at_mm


class Step(Form):
    """A jump by ``by_mm``: a part set down, a wrong bump."""

    kind: Literal["step"] = "step"
    by_mm: Length
    start_s: Moment = 0.0

    def at(self, t_s: float) -> float:
        """See ``Motion.at``."""
        return self.by_mm if t_s >= self.start_s else 0.0


class Ramp(Form):
    """Steady movement by ``by_mm``, up or down, at ``speed_mm_s``; then still."""

    kind: Literal["ramp"] = "ramp"
    by_mm: Length
    speed_mm_s: Stride
    start_s: Moment = 0.0

    def at(self, t_s: float) -> float:
        """See ``Motion.at``."""
        gone_mm = max(0.0, t_s - self.start_s) * self.speed_mm_s
        return math.copysign(min(gone_mm, abs(self.by_mm)), self.by_mm)


class Approach(Form):
    """An exponential approach: ``by_mm`` with time constant ``tau_s``. Also creep that ends.

    After one time constant 1/e of the way is left.
    """

    kind: Literal["approach"] = "approach"
    by_mm: Length
    tau_s: Span
    start_s: Moment = 0.0

    def at(self, t_s: float) -> float:
        """See ``Motion.at``."""
        return self.by_mm * _share_gone(t_s - self.start_s, self.tau_s)


class LogCreep(Form):
    """Creep that never quite ends: ``by_mm`` for each factor of ten in time beyond ``scale_s``."""

    kind: Literal["log creep"] = "log creep"
    by_mm: Length
    scale_s: Span = 1.0
    start_s: Moment = 0.0

    def at(self, t_s: float) -> float:
        """See ``Motion.at``."""
        return self.by_mm * math.log10(1 + max(0.0, t_s - self.start_s) / self.scale_s)


class Warming(Form):
    """Thermal drift: a length that takes on another temperature.

    ``length_mm`` of a material that expands by ``per_k`` (1/K) warms by ``by_k`` kelvin (negative
    for cooling) with time constant ``tau_s``: L·α·ΔT·(1 - exp(-t/τ)), expansion in proportion to
    temperature and Newton's law of cooling (any text on heat; common knowledge, no single source).
    """

    kind: Literal["warming"] = "warming"
    length_mm: Length
    by_k: Annotated[float, Field(strict=True, ge=-1000, le=1000)]
    tau_s: Span
    per_k: Annotated[float, Field(strict=True, ge=-0.001, le=0.001)] = 11.5e-6
    start_s: Moment = 0.0

    def at(self, t_s: float) -> float:
        """See ``Motion.at``."""
        whole_mm = self.length_mm * self.per_k * self.by_k
        return whole_mm * _share_gone(t_s - self.start_s, self.tau_s)


class RingDown(Form):
    """A damped swing about the place of rest, let go at ``amplitude_mm`` from it.

    Free vibration of a lightly damped mass: exp(-ζ·ω·t)·cos(ω·√(1-ζ²)·t), with ω = 2π·f (any text
    on vibration; common knowledge, no single source).
    """

    kind: Literal["ring-down"] = "ring-down"
    amplitude_mm: Length
    frequency_hz: Frequency
    damping_ratio: Annotated[float, Field(strict=True, ge=0, lt=1)]
    start_s: Moment = 0.0

    def at(self, t_s: float) -> float:
        """See ``Motion.at``."""
        t_s -= self.start_s
        if t_s < 0:
            return 0.0
        omega = 2 * math.pi * self.frequency_hz
        swing = math.cos(omega * math.sqrt(1 - self.damping_ratio**2) * t_s)
        return self.amplitude_mm * math.exp(-self.damping_ratio * omega * t_s) * swing


class Vibration(Form):
    """A swing that does not die: a machine running beside the bench."""

    kind: Literal["vibration"] = "vibration"
    amplitude_mm: Length
    frequency_hz: Frequency
    phase_rad: Annotated[float, Field(strict=True, ge=-100, le=100)] = 0.0
    start_s: Moment = 0.0

    def at(self, t_s: float) -> float:
        """See ``Motion.at``."""
        t_s -= self.start_s
        if t_s < 0:
            return 0.0
        return self.amplitude_mm * math.sin(2 * math.pi * self.frequency_hz * t_s + self.phase_rad)


class Clicks(Form):
    """A staircase: an adjuster turned click by click, each click ``by_mm``, ``every_s`` apart.

    Each click is approached with the time constant ``tau_s``, and they end after ``count``.
    """

    kind: Literal["clicks"] = "clicks"
    by_mm: Length
    every_s: Annotated[float, Field(strict=True, ge=0.001, le=1e7)]
    count: Annotated[int, Field(strict=True, ge=1, le=1000)]
    tau_s: Span = 0.03
    start_s: Moment = 0.0

    def at(self, t_s: float) -> float:
        """See ``Motion.at``."""
        since_s = t_s - self.start_s
        done = min(self.count, math.floor(since_s / self.every_s) + 1)
        return self.by_mm * math.fsum(
            _share_gone(since_s - n * self.every_s, self.tau_s) for n in range(done)
        )


class StickSlip(Form):
    """A dragging plunger: driven at ``speed_mm_s``, it follows in jumps of ``jump_mm``.

    It sticks until the drive is a jump ahead, then slips to it at once. When the drive ends at
    ``end_s`` it stays where it stuck last, up to a jump short.
    """

    kind: Literal["stick-slip"] = "stick-slip"
    speed_mm_s: Length
    jump_mm: Stride
    start_s: Moment = 0.0
    end_s: Moment | None = None

    def at(self, t_s: float) -> float:
        """See ``Motion.at``."""
        driven_s = (t_s if self.end_s is None else min(t_s, self.end_s)) - self.start_s
        return math.trunc(self.speed_mm_s * max(0.0, driven_s) / self.jump_mm) * self.jump_mm


class LockNut(Form):
    """The shift that tightening a lock nut brings: ``by_mm`` in half a swing over ``over_s``."""

    kind: Literal["lock nut"] = "lock nut"
    by_mm: Length
    over_s: Span = 1.0
    start_s: Moment = 0.0

    def at(self, t_s: float) -> float:
        """See ``Motion.at``."""
        share = min(max((t_s - self.start_s) / self.over_s, 0.0), 1.0)
        return self.by_mm * (1 - math.cos(math.pi * share)) / 2


AnyMotion = Annotated[
    Still
    | Step
    | Ramp
    | Approach
    | LogCreep
    | Warming
    | RingDown
    | Vibration
    | Clicks
    | StickSlip
    | LockNut,
    Field(discriminator="kind"),
]
"""A motion as a scenario writes it: its ``kind`` and its figures."""


def _share_gone(since_s: float, tau_s: float) -> float:
    """How much of an exponential approach is done: 0 before it begins, 1 in the end."""
    return -math.expm1(-max(0.0, since_s) / tau_s)
