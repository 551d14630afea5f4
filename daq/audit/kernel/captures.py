"""Captures, summed up: stretches of equal values, of inches for millimetres, shifts, and windows.

Values are compared within a series: the captures of one gauge and feature that follow each other.
Where a capture has both limits it stands as its place between them, from -1 to 1.
"""

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from daq.audit.kernel.columns import column
from daq.audit.kernel.fitness import asked, travel
from daq.audit.kernel.order import Events, OrderProof, changes, stretches
from daq.audit.kernel.passes import Table
from daq.audit.kernel.shifts import shifts
from daq.audit.kernel.stays import stays
from daq.audit.kernel.windows import Windows
from daq.audit.layout import NULL
from daq.audit.source import Block, Ints

LEAST_STILL = 6
"""Equal values in a row from which a stretch is looked at; how telling it is, is worked out."""

INCH = 25.4

_Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Captured:
    """What the captures of a block come to: events, and a row a gauge.

    ``stays`` only where it is wanted.
    """

    order: Events
    gaps: Events
    clock: Events
    stills: Table
    inches: Table
    shifts: Table
    gauges: Table
    windows: Table
    asked: Table
    stays: Table | None


@dataclass(slots=True)
class CaptureKernel:
    """Works through the captures, block by block.

    Args:
        windows: times of gauges in which captures are counted.
        extras: which tables are wanted beside the usual ones, of `columns.EXTRAS`.
    """

    windows: Windows
    extras: frozenset[str] = frozenset()
    _order: OrderProof = field(default_factory=OrderProof)

    def went_over(self, gauges: Ints) -> None:
        """These gauges were in blocks before an interruption, which are not gone over again."""
        self._order.went_over(gauges)

    def of(self, block: Block) -> Captured:
        """What a block of captures comes to: whole gauges, at least one row."""
        gauge, seq, at = block["gauge"], block["seq"], block["at_us"]
        starts, order, gaps = self._order.of(gauge, seq)
        gaps["run"] = np.full(gaps.pop("row").size, -1)
        series = changes(gauge, column(block, "feature"))
        back = _backwards(at, starts)
        clock: Events = {
            "gauge": gauge[back],
            "run": np.full(back.size, -1),
            "seq": seq[back],
            "back_us": at[back - 1] - at[back],
        }
        place = _place(block)
        return Captured(
            order,
            gaps,
            clock,
            _stills(block, series),
            _inches(block, starts),
            shifts(gauge, seq, place, series),
            _gauges(block, starts) | travel(block, starts, series),
            self.windows.count(gauge, seq, at, starts, back.size == 0),
            asked(block),
            stays(block) if "stays" in self.extras else None,
        )


def _backwards(at: Ints, starts: Ints) -> Ints:
    """Rows that are earlier than the one before, of the same gauge."""
    back = np.flatnonzero(at[1:] < at[:-1]) + 1
    return np.setdiff1d(back, starts, assume_unique=True)


def _place(block: Block) -> _Floats:
    """Where each value lies between its limits, -1 to 1; in nanometres where there are none."""
    value = block["value_nm"]
    lower, upper = column(block, "lower_nm"), column(block, "upper_nm")
    if lower.strides == (0,) or upper.strides == (0,):
        return value.astype(np.float64)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        place = (2 * value - lower - upper) / (upper - lower)
    none = (lower == NULL) | (upper == NULL)
    if none.any():
        place[none] = np.nan
    return place


def _stills(block: Block, series: Ints) -> Table:
    """Stretches of equal values: ``gauge, seq_lo, seq_hi, length, others, like_``.

    ``others``: how many more captures the series has; ``like_``: how many of them have that value.
    """
    value, gauge, seq = block["value_nm"], block["gauge"], block["seq"]
    same = np.zeros(value.size, dtype=np.bool_)
    same[1:] = value[1:] == value[:-1]
    same[series] = False
    first, last = stretches(same, series)
    long = last - first + 2 >= LEAST_STILL
    first, last = first[long] - 1, last[long]
    own = np.searchsorted(series, first, "right") - 1
    begin = series[own]
    end = np.append(series[1:], value.size)[own]
    length = last - first + 1
    like = np.array(
        [
            int(np.count_nonzero(value[a:b] == value[c]))
            for a, b, c in zip(begin.tolist(), end.tolist(), first.tolist(), strict=True)
        ],
        dtype=np.int64,
    )
    return {
        "gauge": gauge[first],
        "seq_lo": seq[first],
        "seq_hi": seq[last],
        "length": length,
        "others": end - begin - length,
        "like_": like - length,
    }


def _inches(block: Block, starts: Ints) -> Table:
    """Stretches of values far outside the limits that 25.4 brings inside, one way or the other."""
    value = block["value_nm"]
    lower, upper = column(block, "lower_nm"), column(block, "upper_nm")
    marked = np.zeros(value.size, dtype=np.bool_)
    if lower.strides != (0,) and upper.strides != (0,):
        width = upper - lower
        far = np.flatnonzero(
            ((value < lower - 2 * width) | (value > upper + 2 * width))
            & (lower != NULL)
            & (upper != NULL)
        )
        low, high = lower[far] - width[far], upper[far] + width[far]
        as_mm, as_inch = value[far] * INCH, value[far] / INCH
        marked[far] = ((as_mm >= low) & (as_mm <= high)) | ((as_inch >= low) & (as_inch <= high))
    first, last = stretches(marked, starts)
    return {
        "gauge": block["gauge"][first],
        "seq_lo": block["seq"][first],
        "seq_hi": block["seq"][last],
        "length": last - first + 1,
    }


def _gauges(block: Block, starts: Ints) -> Table:
    """A row a gauge: how many captures, from when to when, and the closest limits."""
    ends = np.append(starts[1:], block["gauge"].size) - 1
    found: Table = {
        "gauge": block["gauge"][starts],
        "captures": ends - starts + 1,
        "seq_lo": block["seq"][starts],
        "seq_hi": block["seq"][ends],
        "first_us": block["at_us"][starts],
        "last_us": block["at_us"][ends],
    }
    lower, upper = column(block, "lower_nm"), column(block, "upper_nm")
    found["tightest_nm"] = np.full(starts.size, NULL)
    if lower.strides != (0,) and upper.strides != (0,):
        none = (lower == NULL) | (upper == NULL)
        apart = np.where(none, np.iinfo(np.int64).max, upper - lower)
        least = np.minimum.reduceat(apart, starts)
        found["tightest_nm"] = np.where(least == np.iinfo(np.int64).max, NULL, least)
    return found
