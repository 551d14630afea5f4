"""Four usual ways to tell a rest, in their simplest streaming form, to compare with."""

import math
from collections import deque

from daq.settle import Rest


class Window:
    """The last n readings with running sums, counted from the first to keep the digits."""

    def __init__(self, n):
        self.n, self.rows, self.origin = n, deque(), None
        self.sums = [0.0] * 5  # y, yy, t, tt, ty

    def add(self, t, y):
        if self.origin is None:
            self.origin = (t, y)
        row = (t - self.origin[0], y - self.origin[1])
        self.rows.append(row)
        self._count(row, 1)
        if len(self.rows) > self.n:
            self._count(self.rows.popleft(), -1)

    def _count(self, row, way):
        t, y = row
        for k, part in enumerate((y, y * y, t, t * t, t * y)):
            self.sums[k] += way * part

    def rest(self, variance, extra2):
        n = len(self.rows)
        (t0, _), (t1, _) = self.rows[0], self.rows[-1]
        at, y0 = self.origin
        u = math.sqrt(max(variance, 0.0) / n + extra2)
        return Rest(y0 + self.sums[0] / n, u, n, at + t0, at + t1)

    @property
    def variance(self):
        n = len(self.rows)
        return max(0.0, self.sums[1] - self.sums[0] ** 2 / n) / (n - 1)


class LastTen:
    """The last ten readings within one step of their middle."""

    def __init__(self, resolution_mm, tolerance_mm, rate_hz):
        self.window, self.band = Window(10), 2.0001 * max(resolution_mm, tolerance_mm)

    def push(self, t_s, value_mm):
        self.window.add(t_s, value_mm)
        values = [y for _, y in self.window.rows]
        if len(values) < 10 or max(values) - min(values) > self.band:
            return None
        return self.window.rest(self.window.variance, 0.0)


class RollingSpread:
    """Standard deviation over the last 2 s below half a tolerance."""

    def __init__(self, resolution_mm, tolerance_mm, rate_hz):
        self.window = Window(max(4, round(2 * rate_hz)))
        self.limit2, self.step2 = (0.5 * tolerance_mm) ** 2, resolution_mm**2 / 12

    def push(self, t_s, value_mm):
        self.window.add(t_s, value_mm)
        if len(self.window.rows) < self.window.n or self.window.variance > self.limit2:
            return None
        return self.window.rest(self.window.variance, self.step2)


class RatioOfVariances:
    """(2 - l1) nu^2 / delta^2 from three exponential filters; about 1 when steady.

    Source: S. Cao and R. R. Rhinehart, J. Process Control 5 (1995) 363-374.
    """

    def __init__(self, l1, l2, l3, first):
        self.l1, self.l2, self.l3 = l1, l2, l3
        self.filtered = self.before = first
        self.nu2 = self.delta2 = 0.0 * first

    def update(self, x, extra_nu2=0.0, extra_delta2=0.0):
        """Take x; give the ratio, with expected extra variances added to both parts."""
        self.nu2 = self.l2 * (x - self.filtered) ** 2 + (1 - self.l2) * self.nu2
        self.filtered = self.l1 * x + (1 - self.l1) * self.filtered
        self.delta2 = self.l3 * (x - self.before) ** 2 + (1 - self.l3) * self.delta2
        self.before = x
        return (2 - self.l1) * (self.nu2 + extra_nu2) / (self.delta2 + extra_delta2)


class RStatistic:
    """Steady when the ratio of variances is at most 1.2, moving from 2.5 on; 0.5 s of memory."""

    def __init__(self, resolution_mm, tolerance_mm, rate_hz):
        self.lam = min(0.2, 2 / (0.5 * rate_hz + 1))
        self.step2, self.ratio = resolution_mm**2 / 12, None
        self._start()

    def _start(self):
        self.window, self.steady, self.count = Window(math.ceil(2 / self.lam)), False, 0

    def push(self, t_s, value_mm):
        if self.ratio is None:
            self.ratio = RatioOfVariances(self.lam, self.lam, self.lam, value_mm)
            return None
        extra = self.step2 * (1 + self.lam / (2 - self.lam))
        r = self.ratio.update(value_mm, extra, 2 * self.step2)
        self.window.add(t_s, value_mm)
        self.count += 1
        if self.steady and r >= 2.5:
            self._start()
            return None
        self.steady = self.steady or (self.count >= 1 / self.lam and r <= 1.2)
        if not self.steady or len(self.window.rows) < 3:
            return None
        return self.window.rest(self.window.variance, self.step2)


class SlopeAndResidual:
    """A line through the last 2 s: slope not significant or small, residual below 3 tolerances."""

    def __init__(self, resolution_mm, tolerance_mm, rate_hz):
        self.window = Window(max(5, round(2 * rate_hz)))
        self.tolerance, self.step2 = tolerance_mm, resolution_mm**2 / 12

    def push(self, t_s, value_mm):
        w = self.window
        w.add(t_s, value_mm)
        n = len(w.rows)
        if n < w.n:
            return None
        y, yy, t, tt, ty = w.sums
        s_tt, s_ty = max(tt - t * t / n, 1e-12), ty - t * y / n
        slope = s_ty / s_tt
        residual2 = max(0.0, yy - y * y / n - slope * s_ty) / (n - 2) + self.step2
        moved = abs(slope) * (w.rows[-1][0] - w.rows[0][0])
        significant = abs(slope) > 2 * math.sqrt(residual2 / s_tt)
        if (significant and moved > self.tolerance / 2) or residual2 > (3 * self.tolerance) ** 2:
            return None
        return w.rest(w.variance, self.step2)


RIVALS = {
    "last ten within a step": LastTen,
    "rolling spread": RollingSpread,
    "R-statistic": RStatistic,
    "slope and residual": SlopeAndResidual,
}
