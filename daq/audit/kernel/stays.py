"""Where people were while they captured: a row a person, place and hour.

Captures lie by gauge, people go from gauge to gauge, so this sorts every block anew. It is done
only where a rule asks for it.
"""

import numpy as np

from daq.audit.kernel.columns import column
from daq.audit.kernel.mixing import mixed
from daq.audit.kernel.passes import Table
from daq.audit.source import Block, Ints

_HOUR_US = 3_600_000_000


def stays(block: Block) -> Table:
    """A row a person, place and hour: ``operator, site, gauge, seq_lo, seq_hi, first_us, last_us``.

    ``gauge``, ``seq_lo`` and ``seq_hi`` are of the first capture in that hour. Captures whose
    person or place is missing are left out.
    """
    operator, site = column(block, "operator"), column(block, "site")
    rows = np.flatnonzero((operator != -1) & (site != -1))
    at = block["at_us"][rows].astype(np.int64)
    who, where = _whole(operator[rows]), _whole(site[rows])
    key = mixed(at // _HOUR_US, who, where)
    order = np.lexsort((at, key))
    key, rows, at = key[order], rows[order], at[order]
    begins = np.flatnonzero(np.append(True, key[1:] != key[:-1])) if rows.size else rows
    ends = np.append(begins[1:], rows.size) - 1 if rows.size else rows
    first = rows[begins]
    return {
        "operator": who[order][begins],
        "site": where[order][begins],
        "gauge": block["gauge"][first],
        "seq_lo": block["seq"][first],
        "seq_hi": block["seq"][first],
        "first_us": at[begins],
        "last_us": at[ends],
    }


def _whole(values: Ints) -> Ints:
    return np.ascontiguousarray(values, dtype=np.int64)
