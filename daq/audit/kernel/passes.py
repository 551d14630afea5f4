"""Calibration points, summed up: one row a pass, which is a run as found or as left.

A pass holds what the rules need to know of its points. Errors are indicated less reference, in
nanometres; a permissible error, a date, a plan come in later, where they are joined to passes.
"""

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from daq.audit.kernel.certified import Certified
from daq.audit.kernel.columns import column, known
from daq.audit.kernel.hysteresis import hysteresis
from daq.audit.kernel.lookup import ByGauge
from daq.audit.kernel.mixing import folded, mixed_each, summed
from daq.audit.kernel.order import Events, OrderProof, changes
from daq.audit.layout import NULL, WAYS
from daq.audit.source import Block, Ints

QUICK_US = 1_000_000
"""A point within a second of the one before: no spindle is moved and comes to rest in that."""

Table = dict[str, npt.NDArray[np.generic]]
"""Columns by name, all of one length."""


@dataclass(frozen=True, slots=True)
class Passes:
    """What the points of a block come to.

    ``passes`` has a row a pass; ``starts`` and ``sizes`` say which rows of the block each has.
    ``order``, ``gaps`` and ``clock`` are events.
    """

    passes: Table
    starts: Ints
    sizes: Ints
    order: Events
    gaps: Events
    clock: Events


@dataclass(slots=True)
class PassKernel:
    """Works through the points, block by block.

    Args:
        step_nm: the resolution of each gauge.
        certified: the lengths on the certificates of the standards.
        extras: which tables are wanted beside the usual ones, of `columns.EXTRAS`.
    """

    step_nm: ByGauge
    certified: Certified = field(default_factory=Certified)
    extras: frozenset[str] = frozenset()
    _order: OrderProof = field(default_factory=OrderProof)

    def went_over(self, gauges: Ints) -> None:
        """These gauges were in blocks before an interruption, which are not gone over again."""
        self._order.went_over(gauges)

    def of(self, block: Block) -> Passes:
        """The passes of a block of points: whole gauges, at least one row."""
        gauge, run, seq = block["gauge"], block["run"], block["seq"]
        gauges, order, gaps = self._order.of(gauge, seq)
        starts = changes(gauge, run, column(block, "found"))
        sizes = np.diff(np.append(starts, gauge.size))
        gaps["run"] = run[gaps.pop("row")]
        passes: Table = {
            "gauge": gauge[starts],
            "run": run[starts],
            "found": column(block, "found")[starts].astype(np.int8),
            "seq_lo": seq[starts],
            "seq_hi": seq[starts + sizes - 1],
            "points": sizes,
        }
        for name in ("site", "operator", "standard"):
            passes[name] = column(block, name)[starts]
        passes["step_nm"] = self.step_nm.of_gauges(gauge[starts], missing=0)
        clock = _times(block, starts, sizes, gauges, passes)
        _errors(block, starts, sizes, passes)
        _content(block, starts, sizes, passes)
        _conditions(block, starts, passes)
        passes.update(self.certified.held(block, starts, sizes))
        return Passes(passes, starts, sizes, order, gaps, clock)


def _times(block: Block, starts: Ints, sizes: Ints, gauges: Ints, passes: Table) -> Events:
    """When a pass began and ended, how quick its points came, and where the clock went back."""
    at = block["at_us"]
    passes["first_us"], passes["last_us"] = at[starts], at[starts + sizes - 1]
    apart = np.empty(at.size, dtype=np.int64)
    apart[0] = 0
    np.subtract(at[1:], at[:-1], out=apart[1:])
    apart[gauges] = 0
    back = np.flatnonzero(apart < 0)
    clock: Events = {
        "gauge": block["gauge"][back],
        "run": block["run"][back],
        "seq": block["seq"][back],
        "back_us": -apart[back],
    }
    apart[starts] = QUICK_US
    passes["quick"] = np.add.reduceat(apart < QUICK_US, starts, dtype=np.int32)
    passes["least_apart_us"] = np.minimum.reduceat(apart, starts)
    return clock


def _errors(block: Block, starts: Ints, sizes: Ints, passes: Table) -> None:
    """The errors of a pass: least, largest, mean, and the difference between up and down."""
    nominal, reference = block["nominal_nm"], block["reference_nm"]
    indicated, way = block["indicated_nm"], column(block, "way")
    error = indicated - reference
    passes["error_low_nm"] = np.minimum.reduceat(error, starts)
    passes["error_high_nm"] = np.maximum.reduceat(error, starts)
    passes["error_mean_nm"] = np.add.reduceat(error, starts, dtype=np.float64) / sizes
    for place, word in enumerate(WAYS):
        if way.strides == (0,):
            counts = sizes if way[0] == place else np.zeros_like(sizes)
            passes[f"{word}s"] = counts.astype(np.int32)
        else:
            passes[f"{word}s"] = np.add.reduceat(way == place, starts, dtype=np.int32)
    passes.update(hysteresis(nominal, error, way, starts, sizes))
    # Least squares of reference on indicated, through nothing: 25.4 where inches stand as mm.
    along = indicated.astype(np.float64)
    under = np.add.reduceat(along * along, starts)
    over = np.add.reduceat(along * reference, starts)
    with np.errstate(divide="ignore", invalid="ignore"):
        passes["ratio"] = np.where(under > 0, over / under, np.nan)
    # Points that tell: the reference is a step or more from the nominal, so an honest reading is.
    step = np.maximum(np.repeat(passes["step_nm"], sizes), 1)
    telling = np.abs(reference - nominal) >= step
    passes["telling"] = np.add.reduceat(telling, starts, dtype=np.int32)
    passes["told_nominal"] = np.add.reduceat(
        telling & (indicated == nominal), starts, dtype=np.int32
    )


def _content(block: Block, starts: Ints, sizes: Ints, passes: Table) -> None:
    """Numbers that are equal for passes of equal readings, and of equal reference lengths."""
    place = np.arange(block["gauge"].size, dtype=np.int64) - np.repeat(starts, sizes)
    reference = np.ascontiguousarray(block["reference_nm"])
    indicated = np.ascontiguousarray(block["indicated_nm"])
    of_reference, rows = mixed_each(place, reference, indicated)
    passes["content"], passes["content_too"] = summed(rows, starts), folded(rows, starts)
    passes["reference_content"] = summed(of_reference, starts)


def _conditions(block: Block, starts: Ints, passes: Table) -> None:
    """Temperature, uncertainty of the reference, and whether people or standards changed."""
    for name, short in (("u_reference_nm", "u_reference"), ("temperature_mc", "temperature")):
        values = column(block, name)
        unit = name.rsplit("_", 1)[1]
        if values.strides == (0,):
            passes[f"{short}_least_{unit}"] = np.full(starts.size, NULL)
            passes[f"{short}_most_{unit}"] = np.full(starts.size, NULL)
            passes[f"{short}_missing"] = np.diff(np.append(starts, values.size)).astype(np.int32)
            continue
        least = (
            values if known(values) else np.where(values == NULL, np.iinfo(np.int64).max, values)
        )
        low, high = np.minimum.reduceat(least, starts), np.maximum.reduceat(values, starts)
        passes[f"{short}_least_{unit}"] = np.where(high == NULL, NULL, low)
        passes[f"{short}_most_{unit}"] = high
        missing = (
            np.zeros(starts.size, dtype=np.int32)
            if least is values
            else np.add.reduceat(values == NULL, starts, dtype=np.int32)
        )
        passes[f"{short}_missing"] = missing
    other = np.zeros(block["gauge"].size, dtype=np.bool_)
    for name in ("site", "operator", "standard"):
        if (values := column(block, name)).strides != (0,):
            other[1:] |= values[1:] != values[:-1]
    other[starts] = True
    passes["hands"] = np.add.reduceat(other, starts, dtype=np.int32)
