"""Captures, summed up: stretches of equal values, of inches for millimetres, shifts, and windows.

Values are compared within a series: the captures of one gauge and feature that follow each other.
Where a capture has both limits it stands as its place between them, from -1 to 1.
"""

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from daq.audit.kernel.columns import column, known
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

_FAR = 5.0
"""The place, between limits at -1 and 1, from which a value is off by twice their distance."""

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
        place, apart = _place(block)
        return Captured(
            order,
            gaps,
            clock,
            _stills(block, series),
            _inches(block, place, apart, starts),
            shifts(gauge, seq, place, series),
            _gauges(block, apart, starts) | travel(block, starts, series),
            self.windows.count(gauge, seq, at, starts, back.size == 0),
            asked(block),
            stays(block) if "stays" in self.extras else None,
        )


def _backwards(at: Ints, starts: Ints) -> Ints:
    """Rows that are earlier than the one before, of the same gauge."""
    back = np.flatnonzero(at[1:] < at[:-1]) + 1
    return np.setdiff1d(back, starts, assume_unique=True)


def _place(block: Block) -> tuple[_Floats, Ints | None]:
    """Where each value lies between its limits, -1 to 1; in nanometres where there are none.

    And how far its limits are apart, `NULL` without both; None where no value has them.
    """
    value = block["value_nm"]
    lower, upper = column(block, "lower_nm"), column(block, "upper_nm")
    if lower.strides == (0,) or upper.strides == (0,):
        return value.astype(np.float64), None
    middle = value * 2
    middle -= lower
    middle -= upper
    apart = upper - lower
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        place = middle / apart
    if not (known(lower) and known(upper)):
        none = (lower == NULL) | (upper == NULL)
        place[none], apart[none] = np.nan, NULL
    return place, apart


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


def _inches(block: Block, place: _Floats, apart: Ints | None, starts: Ints) -> Table:
    """Stretches of values far outside the limits that 25.4 brings inside, one way or the other."""
    value = block["value_nm"]
    marked = np.zeros(value.size, dtype=np.bool_)
    if apart is not None:
        far = np.flatnonzero(np.abs(place) > _FAR)
        low = block["lower_nm"][far] - apart[far]
        high = block["upper_nm"][far] + apart[far]
        as_mm, as_inch = value[far] * INCH, value[far] / INCH
        marked[far] = ((as_mm >= low) & (as_mm <= high)) | ((as_inch >= low) & (as_inch <= high))
    first, last = stretches(marked, starts)
    return {
        "gauge": block["gauge"][first],
        "seq_lo": block["seq"][first],
        "seq_hi": block["seq"][last],
        "length": last - first + 1,
    }


def _gauges(block: Block, apart: Ints | None, starts: Ints) -> Table:
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
    found["tightest_nm"] = np.full(starts.size, NULL)
    if apart is not None:
        # One less than the least number there is, which stands for none, is the largest.
        found["tightest_nm"] = np.minimum.reduceat(apart - 1, starts) + 1
    return found
