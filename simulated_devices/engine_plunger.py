"""A plunger that is moved from outside: it is told where to come to rest, and takes its time.

Where it goes next is made of the motions of ``motion``; each begins where the plunger then is.
"""

import math

from simulated_devices.motion import Approach, LockNut, Motion, Ramp, RingDown, Still, Together

TAU_S = 0.06
"""Time constant of a plunger's way to what it touches."""

CREEP_MM = 0.0015
"""How much of its way it creeps at the end, at most."""

CREEP_TAU_S = 0.35
"""Time constant of that creep."""

SWING_HZ = 6.0
"""How fast something swings that was bumped into."""


class Plunger:
    """A motion that is given a new end at any time.

    A thread that asks ``at`` sees each change in one piece.

    Args:
        at_mm: where it is until it is told to go elsewhere.
    """

    def __init__(self, at_mm: float = 0.0) -> None:
        self._rests_mm = at_mm
        self._course: Motion = Still(at_mm)

    def at(self, t_s: float) -> float:
        """See ``motion.Motion.at``."""
        return self._course.at(t_s)

    @property
    def rests_mm(self) -> float:
        """Where it will be in the end."""
        return self._rests_mm

    def come_to(self, rests_mm: float, t_s: float) -> None:
        """Come to rest at ``rests_mm``, from ``t_s`` on: quickly, with a short creep at the end."""
        from_mm = self.at(t_s)
        by_mm = rests_mm - from_mm
        creep_mm = max(-CREEP_MM, min(CREEP_MM, by_mm / 10))
        self._go(
            rests_mm,
            Still(from_mm),
            Approach(by_mm=by_mm - creep_mm, tau_s=TAU_S, start_s=t_s),
            Approach(by_mm=creep_mm, tau_s=CREEP_TAU_S, start_s=t_s),
        )

    def be_turned(self, by_mm: float, over_s: float, t_s: float) -> None:
        """Be moved on steadily by a screw for ``over_s`` seconds from ``t_s`` on."""
        speed_mm_s = max(abs(by_mm) / max(over_s, 0.01), 1e-6)
        self._go_on(by_mm, t_s, Ramp(by_mm=by_mm, speed_mm_s=speed_mm_s, start_s=t_s))

    def be_shifted(self, by_mm: float, over_s: float, t_s: float) -> None:
        """Be moved on softly by a lock nut for ``over_s`` seconds from ``t_s`` on."""
        self._go_on(by_mm, t_s, LockNut(by_mm=by_mm, over_s=over_s, start_s=t_s))

    def swing(self, by_mm: float, lasts_s: float, t_s: float) -> None:
        """Swing about the place of rest, and come back to it: to 1 % of it in ``lasts_s``."""
        damping = math.log(100) / (2 * math.pi * SWING_HZ * lasts_s)
        swing = RingDown(
            amplitude_mm=by_mm, frequency_hz=SWING_HZ, damping_ratio=damping, start_s=t_s
        )
        self._go_on(0.0, t_s, swing)

    def _go_on(self, by_mm: float, t_s: float, motion: Motion) -> None:
        """Move on from the place of rest; what is left of the way there is still gone."""
        from_mm = self.at(t_s)
        left_mm = self._rests_mm - from_mm
        rest = Approach(by_mm=left_mm, tau_s=TAU_S, start_s=t_s)
        self._go(self._rests_mm + by_mm, Still(from_mm), rest, motion)

    def _go(self, rests_mm: float, *parts: Motion) -> None:
        self._rests_mm, self._course = rests_mm, Together(parts)
