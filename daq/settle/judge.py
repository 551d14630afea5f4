"""Decides, bin by bin, whether the part is at rest, and what to report of it.

The rule, longest look-back first:

1. A look-back whose scatter the noise of the shorter ones cannot explain holds some other motion;
   it is passed over.
2. One that shows motion decides "moving" if more than LIMIT may still come; if that motion has
   died out, the next shorter one is asked.
3. The first that agrees with rest decides: at rest if P(more than LIMIT to come) is at most
   ALPHA and what is left is small on average.

Lengths are in tolerances.
"""

import math
from dataclasses import dataclass

import numpy as np

from daq.settle.history import History
from daq.settle.leaving import Departure
from daq.settle.lookback import LIMIT, TOO_SMALL, LookBacks, look_back
from daq.settle.report import Found, best_mean
from daq.settle.vibration import find_sway

SPANS_S = 0.35355 * np.sqrt(2.0) ** np.arange(12)  # 0.35 s to 16 s; 1 s is one of them
ALPHA = 0.06
MOVING_ALPHA = 0.10
LEFT = 0.2
LATE, LATE_FACTOR = 0.15, 6.0
MISFIT_FACTOR, NOISE_FACTOR = 4.0, 3.0
RECHECK_S = 0.19  # how often a rest is looked at again
SWAY_EVERY_S = 0.39
PLAINLY, PLAINLY_S = 0.99, 0.15  # what moves so surely need not be asked at every bin
# A turning point x = a t^2 / 2 stays in a band about its apex for 2 / (sqrt(3) - 1) = 2.73 times as
# long as it took from three bands to one; about a level beside the apex for up to 4.83 times. A
# longer look-back that reaches back over the stop itself shows what kind of stop it was.
TURNING = 6.0
LONGEST_TURN_S = 0.4
REACHES_OVER = 1.5  # stopping times before the quiet
SWEEP = 12.0  # four bins spread wider than this are motion and not worth a closer look


@dataclass(slots=True)
class Quiet:
    """For how long the bins have stayed by the present level, and how long the stop before took."""

    s: float
    stopping_s: float


class Judge:
    """Keeps the present rest, or None, in `rest`; the last look-backs in `looked`."""

    def __init__(self, h: History, step: float) -> None:
        self._h = h
        self._step = step
        self.learned2: float | None = None
        self._departure = Departure(h, step)
        self.clear()

    def clear(self) -> None:
        """Start anew; the noise learned from earlier rests stays."""
        self.rest: Found | None = None
        self.looked: LookBacks | None = None
        self.shown: int | None = None  # the look-back that shows motion, if one does
        self._explained: list[bool] = []
        self._judged_s = self._swayed_s = -math.inf
        self._moves_plainly = False
        self._rest_from_s = 0.0
        self._departure.clear()

    def bin_closed(self) -> None:
        """Judge again, now that the history has one more bin."""
        h = self._h
        if self.rest is not None:
            if self._departure.is_seen(self.rest):
                self._leave()
                return
            if h.last_s - self._judged_s < RECHECK_S:
                return
        elif self._moves_plainly and h.last_s - self._judged_s < PLAINLY_S:
            return
        elif np.ptp(h.mean[max(h.start, h.bins - 4) : h.bins]) > SWEEP:
            self.looked, self.shown = None, None
            return
        self._judged_s = h.last_s
        length_s = h.last_s - float(h.t_s[h.start]) + h.half_gap_s
        shortest, longest = SPANS_S.searchsorted([0.6 * h.gap_s, 1.02 * length_s])
        if longest <= shortest:
            return
        spans_s = SPANS_S[shortest:longest]
        quiet = self._quiet(float(spans_s[0]))
        if quiet.s > 0.25 and np.abs(spans_s / quiet.s - 1).min() > 0.04:
            spans_s = np.sort(np.append(spans_s, quiet.s))
        self.looked = looked = look_back(h, spans_s, self._step, self.learned2)
        self._explained = self._explain(looked)
        deciding = self._deciding(looked, quiet)
        self._moves_plainly = self.shown is not None and looked.far[self.shown] > PLAINLY
        if self._settle(looked, deciding):
            return
        if h.last_s - self._swayed_s >= SWAY_EVERY_S:
            self._swayed_s = h.last_s
            self._settle_swaying(looked)

    def _quiet(self, span_s: float) -> Quiet:
        h = self._h
        level, _, noise2 = h.since(min(h.index_at(h.last_s + h.half_gap_s - span_s), h.bins - 1))
        sd = math.sqrt(self.learned2 if self.learned2 is not None else noise2)
        begin = max(0, h.bins - 320)
        off = np.abs(h.mean[begin : h.bins] - level)
        outside = np.flatnonzero(off > 0.5 + 2 * sd / math.sqrt(h.last_n))
        last = begin + int(outside[-1]) if len(outside) else -1
        # 0.4142: see half_gap_s; equal parts on both sides would put the middle edge on a reading.
        inside = min(max(last + 1, h.start), h.bins - 1)
        since_s = float(h.t_s[inside]) - 0.4142 * h.gap_s
        s = min(h.last_s + h.half_gap_s - since_s, float(SPANS_S[-1]))
        band = 0.5 + 1.5 * sd
        far = np.flatnonzero(off > 3 * band)
        if len(far) == 0:
            return Quiet(s, 0.0)
        k = int(far[-1])
        stop = k + int((off[k:] <= band).argmax())
        return Quiet(s, min(LONGEST_TURN_S, float(h.t_s[begin + stop] - h.t_s[begin + k])))

    def _explain(self, o: LookBacks) -> list[bool]:
        """Which look-backs the noise seen in the shorter ones explains."""
        explained = []
        known: tuple[float, float, float] | None = None
        step2 = self._step**2
        floor2 = step2 / 12 + TOO_SMALL**2
        for s2, dof, noise2, misfit2, blocks, n in zip(
            o.s2, o.dof, o.noise2, o.misfit2, o.blocks, o.n, strict=True
        ):
            ok = blocks >= 5
            if ok and known is not None:
                most = MISFIT_FACTOR * (1 + 4 / known[1]) * known[0] + floor2 * n / blocks
                ok = (
                    misfit2 <= most
                    and noise2 <= NOISE_FACTOR * known[2] + 0.25 * step2 + TOO_SMALL**2
                )
            if ok and (known is None or dof > 0.99 * known[1]):
                known = (s2, dof, noise2)
            explained.append(ok)
        return explained

    def _deciding(self, o: LookBacks, quiet: Quiet) -> int | None:
        """The look-back that says "at rest", or None."""
        self.shown = None
        drifting: int | None = None
        for i in reversed(range(len(o.span_s))):
            if not self._explained[i]:
                continue
            if o.moving[i] > 0.5:
                if o.far[i] > MOVING_ALPHA:
                    self.shown = i
                    return None
                drifting = i
            elif self._is_small(o, i, quiet):
                return i
            else:
                return None
        # Motion in every look-back and next to none to come: a drift too slow to matter.
        if drifting is not None and self._is_small(o, drifting, quiet):
            return drifting
        return None

    def _is_small(self, o: LookBacks, i: int, quiet: Quiet) -> bool:
        small = o.far[i] <= ALPHA and o.left2[i] <= LEFT**2
        return small and self._is_enough(o, i, quiet)

    def _is_enough(self, o: LookBacks, i: int, quiet: Quiet) -> bool:
        """Whether nothing else speaks against rest over look-back ``i``."""
        constant = o.raw[i] < 0.05 * self._step**2
        if o.n[i] < 5 or (constant and o.span_s[i] < 0.97 * self._step):
            # A constant digit over W says no more than a speed below step / W.
            return False
        longer = range(i + 1, len(o.span_s))
        seen_whole = any(
            self._explained[j] and o.span_s[j] > quiet.s + REACHES_OVER * quiet.stopping_s
            for j in longer
        )
        if o.span_s[i] < TURNING * quiet.stopping_s and not seen_whole:
            return False
        # The newest part has to lie where the whole does.
        mean2 = o.s2[i] / o.n[i]
        if o.late[i] ** 2 > LATE**2 + LATE_FACTOR * mean2:
            return False
        return not any(
            self._explained[j] and (o.far[j] > 0.8 or (o.moving[j] > 0.6 and o.far[j] > LIMIT))
            for j in range(i)
        )

    def _settle(self, o: LookBacks, deciding: int | None) -> bool:
        """Report a rest, keep or give up the present one; False when there is nothing to report."""
        if deciding is None:
            if self.rest is None or self.rest.sway is not None:
                return False
            for i, first in enumerate(o.first):
                new = float(self._h.t_s[first]) >= self._rest_from_s
                beyond = abs(o.mean[i] - self.rest.level) > 1.2 * self._departure.swing
                if self._explained[i] and new and o.far[i] > 0.95 and beyond:
                    self._h.start = max(self._h.start, first)
                    self._leave()
                    return True
            deciding = len(o.span_s) - 1
        found = best_mean(o, self._explained, deciding, self._step)
        if found is None:
            return False
        self._hold(found)
        self.learned2 = found.s2
        return True

    def _settle_swaying(self, o: LookBacks) -> None:
        sway = find_sway(self._h, 0.0 if self.shown is None else 1.4 * o.span_s[self.shown])
        if sway is not None:
            u = math.hypot(sway.u, 0.1 * self._step)
            spread2 = sway.noise2 + sway.amplitude**2 / 2
            self._hold(Found(sway.value, u, sway.noise2, sway.n, sway.first, spread2, sway))
            return
        rest = self.rest
        if rest is None or rest.sway is None or self._departure.still_sways(rest):
            return
        self._leave()

    def _hold(self, found: Found) -> None:
        if self.rest is None:
            self._rest_from_s = float(self._h.t_s[found.first])
        self.rest = found
        self._departure.hold(found)

    def _leave(self) -> None:
        self.rest = None
        self._departure.clear()
