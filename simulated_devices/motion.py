"""Ways in which a plunger moves: pure functions of time, so that a ten-minute run takes no time.

Every motion has ``at(t_s)``, the position in millimetres at ``t_s`` seconds. Motions add up with
``Together``; a disturbance that begins later is zero before its ``start_s``.
"""

import math
from dataclasses import dataclass
from typing import Protocol


class Motion(Protocol):
    """A position that depends on time alone."""

    def at(self, t_s: float) -> float:
        """The position in millimetres at ``t_s`` seconds."""


@dataclass(frozen=True, slots=True)
class Still:
    """No motion at all."""

    at_mm: float = 0.0

    def at(self, t_s: float) -> float:  # noqa: ARG002
        """See ``Motion.at``."""
        return self.at_mm


@dataclass(frozen=True, slots=True)
class Together:
    """Several motions added up."""

    parts: tuple[Motion, ...]

    def at(self, t_s: float) -> float:
        """See ``Motion.at``."""
        return math.fsum(part.at(t_s) for part in self.parts)


@dataclass(frozen=True, slots=True)
class Step:
    """A jump by ``by_mm``: a part set down, a wrong bump."""

    by_mm: float
    start_s: float = 0.0

    def at(self, t_s: float) -> float:
        """See ``Motion.at``."""
        return self.by_mm if t_s >= self.start_s else 0.0


@dataclass(frozen=True, slots=True)
class Ramp:
    """Steady movement by ``by_mm`` at ``speed_mm_s``, then still."""

    by_mm: float
    speed_mm_s: float
    start_s: float = 0.0

    def at(self, t_s: float) -> float:
        """See ``Motion.at``."""
        gone_mm = max(0.0, t_s - self.start_s) * abs(self.speed_mm_s)
        return math.copysign(min(gone_mm, abs(self.by_mm)), self.by_mm)


@dataclass(frozen=True, slots=True)
class Approach:
    """An exponential approach: ``by_mm`` with time constant ``tau_s``. Also creep and warming up.

    After one time constant 1/e of the way is left.
    """

    by_mm: float
    tau_s: float
    start_s: float = 0.0

    def at(self, t_s: float) -> float:
        """See ``Motion.at``."""
        return -self.by_mm * math.expm1(-max(0.0, t_s - self.start_s) / self.tau_s)


@dataclass(frozen=True, slots=True)
class LogCreep:
    """Creep that never quite ends: ``by_mm`` for each factor of ten in time beyond ``scale_s``."""

    by_mm: float
    scale_s: float = 1.0
    start_s: float = 0.0

    def at(self, t_s: float) -> float:
        """See ``Motion.at``."""
        return self.by_mm * math.log10(1 + max(0.0, t_s - self.start_s) / self.scale_s)


@dataclass(frozen=True, slots=True)
class RingDown:
    """A damped swing about the place of rest, as after a knock.

    Free vibration of a lightly damped mass: exp(-ζ·ω·t)·cos(ω·√(1-ζ²)·t), with ω = 2π·f (any text
    on vibration; common knowledge, no single source).
    """

    amplitude_mm: float
    frequency_hz: float
    damping_ratio: float
    start_s: float = 0.0

    def at(self, t_s: float) -> float:
        """See ``Motion.at``."""
        t_s -= self.start_s
        if t_s < 0:
            return 0.0
        omega = 2 * math.pi * self.frequency_hz
        swing = math.cos(omega * math.sqrt(1 - self.damping_ratio**2) * t_s)
        return self.amplitude_mm * math.exp(-self.damping_ratio * omega * t_s) * swing


@dataclass(frozen=True, slots=True)
class Vibration:
    """A swing that does not die: a machine running beside the bench."""

    amplitude_mm: float
    frequency_hz: float
    phase_rad: float = 0.0

    def at(self, t_s: float) -> float:
        """See ``Motion.at``."""
        return self.amplitude_mm * math.sin(2 * math.pi * self.frequency_hz * t_s + self.phase_rad)


@dataclass(frozen=True, slots=True)
class Clicks:
    """A staircase: an adjuster turned click by click, each click ``by_mm``, ``every_s`` apart.

    Each click is approached with the time constant ``tau_s``, and they end after ``count``.
    """

    by_mm: float
    every_s: float
    count: int
    tau_s: float = 0.03
    start_s: float = 0.0

    def at(self, t_s: float) -> float:
        """See ``Motion.at``."""
        done = min(int(self.count), int((t_s - self.start_s) // self.every_s) + 1)
        return math.fsum(
            Approach(self.by_mm, self.tau_s, self.start_s + n * self.every_s).at(t_s)
            for n in range(max(0, done))
        )


@dataclass(frozen=True, slots=True)
class StickSlip:
    """A dragging plunger: driven at ``speed_mm_s``, it follows in jumps of ``jump_mm``.

    It sticks until the drive is a jump ahead, then slips to it at once.
    """

    speed_mm_s: float
    jump_mm: float
    start_s: float = 0.0
    end_s: float = math.inf

    def at(self, t_s: float) -> float:
        """See ``Motion.at``."""
        driven_mm = self.speed_mm_s * max(0.0, min(t_s, self.end_s) - self.start_s)
        return math.trunc(driven_mm / self.jump_mm) * self.jump_mm


@dataclass(frozen=True, slots=True)
class LockNut:
    """The shift that tightening a lock nut brings: ``by_mm`` in half a swing over ``over_s``."""

    by_mm: float
    over_s: float = 1.0
    start_s: float = 0.0

    def at(self, t_s: float) -> float:
        """See ``Motion.at``."""
        share = min(max((t_s - self.start_s) / self.over_s, 0.0), 1.0)
        return self.by_mm * (1 - math.cos(math.pi * share)) / 2
