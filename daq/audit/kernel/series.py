"""Errors over the years: a straight line through each gauge's passes between two adjustments.

A series begins with a gauge's first pass and with every pass as left whose errors differ from those
found by more than a step: there it was adjusted, and what it did before says nothing of it since.
"""

import numpy as np

from daq.audit.kernel.passes import Table
from daq.audit.layout import FOUND

_LEFT = FOUND.index("as left")
_US_A_DAY = 86_400_000_000


def series(passes: Table) -> Table:
    """A row a series of three passes or more, from the passes of whole gauges in their order.

    Columns: ``gauge, run`` (the last), ``seq_lo, seq_hi, passes, first_us, last_us, slope_nm_a_day,
    slope_se, t, dof, fitted_nm`` (the line at the last pass), ``error_low_nm, error_high_nm`` (of
    the last pass).
    """
    gauge, run = passes["gauge"], passes["run"]
    left = passes["found"] == _LEFT
    mean = passes["error_mean_nm"].astype(np.float64)
    follows = np.zeros(gauge.size, dtype=np.bool_)
    follows[1:] = left[1:] & (gauge[1:] == gauge[:-1]) & (run[1:] == run[:-1]) & ~left[:-1]
    moved = np.zeros(gauge.size, dtype=np.bool_)
    step = np.maximum(passes["step_nm"], 1).astype(np.float64)
    moved[1:] = np.abs(mean[1:] - mean[:-1]) > step[1:]
    keep = np.flatnonzero(~follows | moved)
    begins = (follows & moved)[keep]
    begins[0] = True
    begins[1:] |= gauge[keep][1:] != gauge[keep][:-1]
    starts = np.flatnonzero(begins)
    sizes = np.diff(np.append(starts, keep.size))
    ends = keep[starts + sizes - 1]
    at = passes["last_us"][keep].astype(np.int64)
    # From the beginning of each series, so that it comes out the same whatever stands before it.
    days = (at - np.repeat(at[starts], sizes)) / _US_A_DAY
    found: Table = {"gauge": gauge[ends], "run": run[ends], "passes": sizes.astype(np.int32)}
    found["seq_lo"], found["seq_hi"] = passes["seq_lo"][keep[starts]], passes["seq_hi"][ends]
    found["first_us"], found["last_us"] = passes["last_us"][keep[starts]], passes["last_us"][ends]
    for name in ("error_low_nm", "error_high_nm", "step_nm"):
        found[name] = passes[name][ends]
    found.update(_lines(days, mean[keep], starts, sizes))
    long = (sizes >= 3) & np.isfinite(found["slope_nm_a_day"].astype(np.float64))
    return {name: values[long] for name, values in found.items()}


def _lines(days: np.ndarray, mean: np.ndarray, starts: np.ndarray, sizes: np.ndarray) -> Table:
    """Least squares, of each series by itself."""

    def total(values: np.ndarray) -> np.ndarray:
        return np.add.reduceat(values, starts)

    x0, y0 = total(days) / sizes, total(mean) / sizes
    x, y = days - np.repeat(x0, sizes), mean - np.repeat(y0, sizes)
    dof = sizes - 2
    with np.errstate(divide="ignore", invalid="ignore"):
        slope = total(x * y) / total(x * x)
        rest = y - np.repeat(slope, sizes) * x
        se = np.sqrt(total(rest * rest) / dof / total(x * x))
        t = slope / se
    last = starts + sizes - 1
    return {
        "slope_nm_a_day": slope,
        "slope_se": se,
        "t": t,
        "dof": dof.astype(np.int32),
        "fitted_nm": y0 + slope * x[last],
    }
