"""Says of a stream of readings whether the part is at rest, at what length, and how sure.

A rest is not "ten equal digits": a slow creep gives those too. Here a rest means that the
motion still to come is shown to be small. The readings since the last sudden change are
averaged into bins of about 1/20 s; over the last 1, 2 and 4 s of them a straight line says
how fast the length still drifts. The part is at rest when every one of those spans allows no
more drift than half the tolerance, noise included.
"""

import math
from collections import deque
from dataclasses import dataclass

from daq.settle.statistics import autocorrelation_factor, quantisation_u

BINS_PER_S = 20.0
SPANS_S = (1.0, 2.0, 4.0)
STALE_S = 0.5  # a rest is no longer reported when the last good reading is older than this
GAP_S = 3.0  # readings further apart than this say nothing about each other
LEAST_BINS = 6


@dataclass(frozen=True, slots=True)
class Rest:
    """One settled length.

    value_mm: mean of the readings of the span. u_mm: its standard uncertainty (k = 1) with
    scatter, correlation, display step and remaining drift. n: readings averaged. since_s,
    until_s: times of the first and the last of them.
    """

    value_mm: float
    u_mm: float
    n: int
    since_s: float
    until_s: float


@dataclass(frozen=True, slots=True)
class _Bin:
    t_s: float
    mean_mm: float
    n: int
    square_mm2: float  # sum of squared deviations from mean_mm
    first_s: float
    last_s: float


class Settler:
    """Takes readings one by one and gives the settled length while the part is at rest.

    Args:
        resolution_mm: the display step, above 0.
        tolerance_mm: the smallest movement that matters, above 0.
        rate_hz: readings a second as the gauge sends them; only times count when None.

    Raises:
        ValueError: a step, tolerance or rate that is not a positive number.
    """

    def __init__(
        self, resolution_mm: float, tolerance_mm: float, rate_hz: float | None = None
    ) -> None:
        for name, number in (("resolution_mm", resolution_mm), ("tolerance_mm", tolerance_mm)):
            if not (math.isfinite(number) and number > 0):
                raise ValueError(f"{name} must be a positive length in mm, got {number!r}")
        if rate_hz is not None and not (math.isfinite(rate_hz) and rate_hz > 0):
            raise ValueError(f"rate_hz must be a positive number of readings a second: {rate_hz!r}")
        self._step = float(resolution_mm)
        self._tolerance = max(float(tolerance_mm), float(resolution_mm))
        self._bin_s = max(1 / BINS_PER_S, 0.7 / rate_hz if rate_hz else 0.0)
        self._last_s: float | None = None
        self._rest: Rest | None = None
        self._rest_from_s = 0.0
        self._start_anew()

    def push(self, t_s: float, value_mm: float) -> Rest | None:
        """Take one reading; give the settled length while at rest, else None.

        Readings that are not finite and times that do not advance are passed over. A clock that
        jumps starts a new measurement.
        """
        t_s, value_mm = float(t_s), float(value_mm)
        if not (math.isfinite(t_s) and math.isfinite(value_mm)):
            return self._unless_stale(t_s)
        last_s = self._last_s
        if last_s is not None and not 0 < t_s - last_s <= GAP_S:
            if -STALE_S <= t_s - last_s <= 0:
                return self._rest
            self._start_anew()
        self._last_s = t_s
        if self._is_far_off(value_mm):
            self._suspects.append((t_s, value_mm))
            if not self._suspects_agree():
                return self._unless_stale(t_s)
            suspects = list(self._suspects)
            self._start_anew()
            for suspect in suspects:
                self._take(*suspect)
            return None
        self._suspects.clear()
        self._take(t_s, value_mm)
        return self._rest

    def _start_anew(self) -> None:
        self._bins: deque[_Bin] = deque(maxlen=int(SPANS_S[-1] * BINS_PER_S * 2))
        self._open: list[tuple[float, float]] = []
        self._suspects: deque[tuple[float, float]] = deque(maxlen=3)
        self._rest = None

    def _unless_stale(self, t_s: float) -> Rest | None:
        if self._rest is not None and not t_s - self._rest.until_s <= STALE_S:
            return None
        return self._rest

    def _is_far_off(self, value_mm: float) -> bool:
        """One far reading may be a wrong frame; it is held aside until others agree with it."""
        if not self._bins:
            return False
        recent = list(self._bins)[-4:]
        middle = recent[-1].mean_mm
        scatter = max(abs(b.mean_mm - middle) for b in recent)
        return abs(value_mm - middle) > 3 * max(self._tolerance, self._step) + 3 * scatter

    def _suspects_agree(self) -> bool:
        values = [v for _, v in self._suspects]
        return len(values) >= 3 or (len(values) == 2 and abs(values[0] - values[1]) <= self._step)

    def _take(self, t_s: float, value_mm: float) -> None:
        gap_s = t_s - self._open[-1][0] if self._open else t_s - self._bin_end_s(t_s)
        self._open.append((t_s, value_mm))
        if self._rest is not None and abs(value_mm - self._rest.value_mm) > 3 * self._tolerance:
            self._rest = None
        if t_s - self._open[0][0] + gap_s < self._bin_s:
            return
        times = [t for t, _ in self._open]
        values = [v for _, v in self._open]
        n = len(values)
        mean = values[0] + math.fsum(v - values[0] for v in values) / n
        square = math.fsum((v - mean) ** 2 for v in values)
        self._bins.append(_Bin(sum(times) / n, mean, n, square, times[0], times[-1]))
        self._open.clear()
        self._rest = self._judge()

    def _bin_end_s(self, t_s: float) -> float:
        return self._bins[-1].last_s if self._bins else t_s

    def _judge(self) -> Rest | None:
        """The rest that the last 1, 2 and 4 s allow, or None."""
        best: Rest | None = None
        # What is at rest is given up later than it was declared, or noise would make it flicker.
        limit = (1.2 if self._rest else 0.5) * self._tolerance
        end_s = self._bins[-1].last_s
        # Once at rest, the approach to it is history and no longer counts against it.
        begin_s = self._rest_from_s if self._rest else self._bins[0].first_s
        for span_s in SPANS_S:
            if span_s > (end_s - begin_s) * 1.05:
                break
            bins = [b for b in self._bins if b.first_s >= end_s - span_s * 1.05]
            if len(bins) < LEAST_BINS:
                continue
            drift_u, rest = self._rest_of(bins)
            if drift_u > limit:
                return None
            best = rest if best is None or rest.u_mm < best.u_mm else best
        if best is None or best.u_mm > limit:
            return None
        if abs(self._bins[-1].mean_mm - best.value_mm) > 1.5 * self._tolerance:
            return None
        if self._rest is None:
            self._rest_from_s = best.since_s
        return best

    def _rest_of(self, bins: list[_Bin]) -> tuple[float, Rest]:
        """How far the span may still drift (its own length again), and the rest it would give."""
        m = len(bins)
        t_mean = sum(b.t_s for b in bins) / m
        y0 = bins[0].mean_mm
        y_mean = y0 + sum(b.mean_mm - y0 for b in bins) / m
        t_square = sum((b.t_s - t_mean) ** 2 for b in bins)
        slope = sum((b.t_s - t_mean) * (b.mean_mm - y_mean) for b in bins) / t_square
        left = [b.mean_mm - y_mean - slope * (b.t_s - t_mean) for b in bins]
        variance = sum(r * r for r in left) / (m - 2)
        factor = autocorrelation_factor(left)
        readings = sum(b.n for b in bins)
        spread = sum(b.square_mm2 + b.n * (b.mean_mm - y_mean) ** 2 for b in bins) / readings
        u_step = quantisation_u(self._step, spread)
        span_s = bins[-1].last_s - bins[0].first_s
        drift = abs(slope) * span_s + math.sqrt(variance * factor / t_square) * span_s
        u = math.sqrt(variance * factor / m + u_step**2 + (0.5 * slope * span_s) ** 2)
        return drift, Rest(y_mean, u, readings, bins[0].first_s, bins[-1].last_s)
