"""Whether gauges were what their work asked for, and stayed within their travel."""

import numpy as np

from daq.audit.kernel.columns import column
from daq.audit.kernel.order import changes
from daq.audit.kernel.passes import Table
from daq.audit.layout import NULL
from daq.audit.source import Block, Ints

_OF_WORK = ("asked_kind", "asked_step_nm", "asked_range_nm")


def asked(block: Block) -> Table:
    """A row a stretch of captures whose work asks the same of the gauge.

    Columns: ``gauge, seq_lo, seq_hi, captures, asked_kind, asked_step_nm, asked_range_nm``. No row
    where nothing is asked.
    """
    gauge, seq = block["gauge"], block["seq"]
    of_work = [column(block, name) for name in _OF_WORK]
    if all(each.strides == (0,) for each in of_work):
        first = last = np.zeros(0, dtype=np.int64)
    else:
        first = changes(gauge, *of_work)
        last = np.append(first[1:], gauge.size) - 1
        says = (of_work[0][first] != -1) | (of_work[1][first] != NULL)
        says |= of_work[2][first] != NULL
        first, last = first[says], last[says]
    found: Table = {
        "gauge": gauge[first],
        "seq_lo": seq[first],
        "seq_hi": seq[last],
        "captures": last - first + 1,
    }
    for name, values in zip(_OF_WORK, of_work, strict=True):
        kind = np.int8 if name == "asked_kind" else np.int64
        found[name] = values[first].astype(kind)
    return found


def travel(block: Block, starts: Ints, series: Ints) -> Table:
    """Of each gauge ``least_nm, most_nm`` of its values, and ``spread_nm``.

    ``spread_nm`` is the most that values of one series lie apart.

    Args:
        block: captures, whole gauges.
        starts: where each gauge begins.
        series: where each series begins; every start is one.
    """
    value = block["value_nm"]
    low, high = np.minimum.reduceat(value, series), np.maximum.reduceat(value, series)
    own = np.searchsorted(series, starts)
    return {
        "least_nm": np.minimum.reduceat(low, own),
        "most_nm": np.maximum.reduceat(high, own),
        "spread_nm": np.maximum.reduceat(high - low, own),
    }
