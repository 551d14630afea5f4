"""Captures within windows of time: after a calibration ran out, while one was going on, and so on.

Windows are few and captures many, so each window looks for its captures, and not the other way
round: two searches a window, and nothing a capture.
"""

from dataclasses import dataclass

import numpy as np

from daq.audit.kernel.passes import Table
from daq.audit.source import Ints


@dataclass(frozen=True, slots=True)
class Windows:
    """Windows of gauges, sorted by gauge.

    A window has the captures from ``from_us`` on, before ``until_us``; ``kind`` and ``run`` say
    what it is and which calibration it belongs to, and are handed on.
    """

    gauge: Ints
    kind: Ints
    run: Ints
    from_us: Ints
    until_us: Ints

    def count(self, gauge: Ints, seq: Ints, at: Ints, starts: Ints, in_order: bool) -> Table:
        """The windows that have captures: ``gauge, kind, run, from_us, until_us, captures, …``.

        And ``seq_lo, seq_hi, first_us, last_us`` of those captures.

        Args:
            gauge, seq, at: of a block of captures, whole gauges.
            starts: where each gauge begins.
            in_order: whether times never go back within a gauge.
        """
        ends = np.append(starts[1:], gauge.size)
        lo = np.searchsorted(self.gauge, gauge[starts], "left")
        many = np.searchsorted(self.gauge, gauge[starts], "right") - lo
        own = np.repeat(np.arange(starts.size), many)
        here = np.repeat(lo - np.cumsum(many) + many, many) + np.arange(own.size)
        times = at if in_order else _sorted_within(at, starts)
        lo, hi = _search(times, starts, ends, own, self.from_us[here], self.until_us[here])
        some = hi > lo
        here, lo, hi = here[some], lo[some], hi[some]
        if in_order:
            first, last = seq[lo], seq[hi - 1]
        else:
            first, last = self._numbers(here, own[some], (seq, at), (starts, ends))
        return {
            "gauge": self.gauge[here],
            "kind": self.kind[here],
            "run": self.run[here],
            "from_us": self.from_us[here],
            "until_us": self.until_us[here],
            "captures": hi - lo,
            "seq_lo": first,
            "seq_hi": last,
            "first_us": times[lo],
            "last_us": times[hi - 1],
        }

    def _numbers(
        self, here: Ints, own: Ints, rows: tuple[Ints, Ints], where: tuple[Ints, Ints]
    ) -> tuple[Ints, Ints]:
        """Least and largest number of the captures, where a clock went back."""
        seq, at = rows
        starts, ends = where
        found = []
        for window, each in zip(here.tolist(), own.tolist(), strict=True):
            part = slice(int(starts[each]), int(ends[each]))
            inside = (at[part] >= self.from_us[window]) & (at[part] < self.until_us[window])
            found.append((int(seq[part][inside].min()), int(seq[part][inside].max())))
        pairs = np.array(found, dtype=np.int64).reshape(-1, 2)
        return pairs[:, 0], pairs[:, 1]


def _sorted_within(at: Ints, starts: Ints) -> Ints:
    owner = np.repeat(np.arange(starts.size), np.diff(np.append(starts, at.size)))
    return at[np.lexsort((at, owner))]


def _search(
    at: Ints, starts: Ints, ends: Ints, own: Ints, since: Ints, until: Ints
) -> tuple[Ints, Ints]:
    """For each window the first capture in it and the first after it.

    Times that rise within each gauge, each gauge's shifted behind those of the one before, rise
    altogether, so that one search finds all. Where times are too far apart for that, it is done by
    halving, all at once.
    """
    least = int(at.min())
    span = int(at.max()) - least + 2
    if span * starts.size < 2**62:
        begin = np.arange(starts.size) * span
        rising = at + np.repeat(begin - least, ends - starts)
        lo, hi = (
            np.searchsorted(rising, np.clip(times, least, least + span - 1) - least + begin[own])
            for times in (since, until)
        )
        return lo, hi

    def first(times: Ints) -> Ints:
        low, high = starts[own].copy(), ends[own].copy()
        while True:
            open_ = np.flatnonzero(low < high)
            if not open_.size:
                return low
            middle = (low[open_] + high[open_]) // 2
            before = at[middle] < times[open_]
            low[open_[before]] = middle[before] + 1
            high[open_[~before]] = middle[~before]

    return first(since), first(until)
