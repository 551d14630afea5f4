"""Says of a stream of readings whether the part is at rest, at what length, and how sure.

A rest is not "ten equal digits": a slow creep gives those too. It is a claim about the future: that
the length will not move by more than the tolerance. So the settler asks how much motion is still to
come, over several look-backs at once (`lookback`), decides (`judge`), and says how far the mean may
be off. Readings pass a gate for wrong frames (`gate`) into short bins (`history`). All
parameters follow from display step, tolerance and the times of the readings.

    settler = Settler(resolution_mm=0.001, tolerance_mm=0.001)
    rest = settler.push(t_s, value_mm)      # None, or value_mm, u_mm, n, since_s, until_s
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from daq.settle.gate import Gate
from daq.settle.rest import Rest, State

if TYPE_CHECKING:
    from daq.settle.report import Found

STALE_S = 0.5  # a rest is no longer reported when the last good reading is older than this
GAP_S = 3.0  # readings further apart than this say nothing about each other
# Nothing is measured this many tolerances away from the readings around it.
ABSURD = 1e9


class Settler:
    """Takes readings one by one and gives the settled length while the part is at rest.

    Args:
        resolution_mm: the display step, above 0.
        tolerance_mm: the smallest movement that matters, above 0.
        rate_hz: readings a second; measured from the readings themselves when None.

    Raises:
        ValueError: a step, tolerance or rate that is not a positive number.
    """

    def __init__(
        self, resolution_mm: float, tolerance_mm: float, rate_hz: float | None = None
    ) -> None:
        # numpy comes with these two; a command that only prints its help must not wait for it.
        from daq.settle.history import History
        from daq.settle.judge import Judge

        for name, number in (("resolution_mm", resolution_mm), ("tolerance_mm", tolerance_mm)):
            if not (math.isfinite(number) and number > 0):
                raise ValueError(f"{name} must be a positive length in mm, got {number!r}")
        if rate_hz is not None and not (math.isfinite(rate_hz) and rate_hz > 0):
            raise ValueError(f"rate_hz must be a positive number of readings a second: {rate_hz!r}")
        self._unit_mm = max(float(tolerance_mm), float(resolution_mm))
        step = float(resolution_mm) / self._unit_mm
        self._history = History(1 / rate_hz if rate_hz else 0.0)
        self._judge = Judge(self._history, step)
        self._gate = Gate()
        self._step = step
        self._origin_mm: float | None = None
        self._last_s = 0.0
        self._found: Found | None = None
        self._rest: Rest | None = None

    def push(self, t_s: float, value_mm: float) -> Rest | None:
        """Take one reading; give the settled length while at rest, else None.

        Readings that are not finite and times that do not advance are passed over. A clock that
        jumps starts a new measurement, and so does a jump of the length (zero, unit, sign).
        """
        t_s, value_mm = float(t_s), float(value_mm)
        if not (math.isfinite(t_s) and math.isfinite(value_mm)):
            return self._unless_stale(t_s)
        if self._origin_mm is None:
            self._start_anew(value_mm)
        else:
            gap_s = t_s - self._last_s
            if -STALE_S <= gap_s <= 0:
                return self._rest
            if not 0 < gap_s <= GAP_S:
                self._start_anew(value_mm)
            else:
                h = self._history
                h.gap_s += 0.05 * (min(gap_s, 2 * h.gap_s) - h.gap_s) if h.gap_s else gap_s
        self._last_s = t_s
        y = (value_mm - self._origin_mm) / self._unit_mm  # type: ignore[operator]
        verdict = self._gate.check(t_s, y, value_mm, self._history.gap_s, self._rest_band())
        if verdict == "hold":
            return self._unless_stale(t_s)
        if verdict == "move":
            self._move()
        else:
            self._take(t_s, y)
        return self._rest

    @property
    def state(self) -> State:
        """What to show: moving, coming to rest, vibrating or at rest, with what is known of it."""
        from daq.settle.describe import state_of

        return state_of(self._judge, self._history, self._unit_mm)

    def _start_anew(self, origin_mm: float) -> None:
        self._origin_mm = origin_mm
        self._history.clear()
        self._judge.clear()
        self._gate.clear()
        self._found = self._rest = None

    def _move(self) -> None:
        """The readings held aside agree: measure anew from them."""
        held = self._gate.held
        self._start_anew(held[-1][1])
        for t_s, value_mm in held:
            y = (value_mm - held[-1][1]) / self._unit_mm
            if abs(y) < ABSURD:
                self._gate.note(y)
                self._take(t_s, y)

    def _take(self, t_s: float, y: float) -> None:
        if abs(y) < ABSURD and self._history.add(t_s, y):
            self._judge.bin_closed()
            found = self._judge.rest
            if found is not self._found:
                self._found = found
                self._rest = None if found is None else self._in_mm(found)

    def _in_mm(self, found: Found) -> Rest:
        assert self._origin_mm is not None
        return Rest(
            value_mm=self._origin_mm + found.level * self._unit_mm,
            u_mm=found.u * self._unit_mm,
            n=found.n,
            since_s=float(self._history.begin_s[found.first]),
            until_s=self._last_s,
        )

    def _rest_band(self) -> tuple[float, float] | None:
        """Level and reach beyond which a single reading does not belong to the present rest."""
        found = self._found
        if found is None or found.sway is not None:
            return None
        noise = math.sqrt(found.spread2 + self._step**2 / 12)
        return found.level, max(1.0 + 0.6 * self._step, 5.5 * noise)

    def _unless_stale(self, t_s: float) -> Rest | None:
        if self._rest is not None and not t_s - self._last_s <= STALE_S:
            return None
        return self._rest
