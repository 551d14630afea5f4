"""The order of the rows, proved in the same pass that uses it: gauge by gauge, seq counted up by 1.

What is wrong with it is an event, never an assumption: rows out of order, a number given twice, a
gauge that comes again after others, numbers that are missing.
"""

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from daq.audit.source import Ints

Events = dict[str, npt.NDArray[np.generic]]
"""Columns of what was found, by name, all of one length."""

AGAIN, BACKWARDS, TWICE = 0, 1, 2
"""How rows can be out of order: a gauge comes again; a number after a larger one; one twice."""


@dataclass(slots=True)
class OrderProof:
    """Goes along the blocks of one table and remembers what a block alone cannot show.

    A gauge whose rows go on in the next block is as much out of order as one that comes again: the
    kernel needs whole gauges.
    """

    _seen: set[int] = field(default_factory=set)

    def went_over(self, gauges: Ints) -> None:
        """These gauges were in blocks before, which are not gone over again."""
        self._seen.update(gauges.tolist())

    def of(self, gauge: Ints, seq: Ints) -> tuple[Ints, Events, Events]:
        """Where each gauge begins in a block, what is out of order, and the gaps.

        Returns:
            The indices of the first rows, shape (gauges,); events ``gauge, seq, what``; gaps
            ``row, gauge, seq_lo, seq_hi`` (the missing numbers; ``row`` is the one after them).
        """
        other = gauge[1:] != gauge[:-1]
        starts = np.append(0, np.flatnonzero(other) + 1)
        ahead = seq[1:] - seq[:-1]
        odd = np.flatnonzero((ahead != 1) > other) + 1
        wrong, gap = odd[ahead[odd - 1] < 1], odd[ahead[odd - 1] > 1]
        again = starts[self._again(gauge[starts])]
        rows = np.concatenate([again, wrong])
        what = np.where(ahead[wrong - 1] == 0, TWICE, BACKWARDS)
        events: Events = {
            "gauge": gauge[rows],
            "seq": seq[rows],
            "what": np.concatenate([np.full(again.size, AGAIN), what]).astype(np.int8),
        }
        gaps: Events = {
            "row": gap,
            "gauge": gauge[gap],
            "seq_lo": seq[gap - 1] + 1,
            "seq_hi": seq[gap] - 1,
        }
        return starts, events, gaps

    def _again(self, gauges: Ints) -> npt.NDArray[np.bool_]:
        """Which gauges of a block had come before, in this block or an earlier one."""
        again = np.zeros(gauges.size, dtype=np.bool_)
        for place, gauge in enumerate(gauges.tolist()):
            if gauge in self._seen:
                again[place] = True
            else:
                self._seen.add(gauge)
        return again


def changes(*columns: Ints) -> Ints:
    """Where a stretch of rows begins that agree in all the columns; the first row is one."""
    other = columns[0][1:] != columns[0][:-1]
    for values in columns[1:]:
        if values.strides != (0,):
            other |= values[1:] != values[:-1]
    return np.append(0, np.flatnonzero(other) + 1)


def stretches(marked: npt.NDArray[np.bool_], starts: Ints) -> tuple[Ints, Ints]:
    """First and last rows of stretches of marked rows, none of which goes over a start."""
    rows = np.flatnonzero(marked)
    if not rows.size:
        return rows, rows
    group = np.searchsorted(starts, rows, "right")
    breaks = np.flatnonzero((np.diff(rows) != 1) | (np.diff(group) != 0))
    return rows[np.concatenate([[0], breaks + 1])], rows[np.concatenate([breaks, [rows.size - 1]])]
