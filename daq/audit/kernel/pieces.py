"""Short stretches of readings as numbers, by which a part of a calibration is found in another.

Every stretch of so many readings of a pass is mixed into one number, whatever its place in the
pass, and its reference lengths into another. This makes nearly as many rows as there are points, so
it is done only where a rule asks for it.
"""

import numpy as np

from daq.audit.kernel.mixing import Mixed, mixed
from daq.audit.kernel.passes import Passes, Table
from daq.audit.source import Block, Ints

WIDTH = 6
"""Readings in a stretch."""

_ODD = np.uint64(0xD1B54A32D192ED03)


def pieces(block: Block, made: Passes) -> Table:
    """A row a stretch: ``gauge, run, seq_lo, seq_hi, points, first_us, content, …``.

    And ``reference_content``. ``points`` and ``first_us`` are of the whole pass.
    """
    starts, sizes = made.starts, made.sizes
    many = np.maximum(sizes - WIDTH + 1, 0)
    owner = np.repeat(np.arange(starts.size), many)
    first = np.repeat(starts - np.cumsum(many) + many, many) + np.arange(owner.size)
    nowhere = np.zeros(block["gauge"].size, dtype=np.int64)
    reference = np.ascontiguousarray(block["reference_nm"], dtype=np.int64)
    indicated = np.ascontiguousarray(block["indicated_nm"], dtype=np.int64)
    return {
        "gauge": made.passes["gauge"][owner],
        "run": made.passes["run"][owner],
        "seq_lo": block["seq"][first],
        "seq_hi": block["seq"][first + WIDTH - 1],
        "points": sizes[owner],
        "first_us": made.passes["first_us"][owner],
        "content": _together(mixed(nowhere, reference, indicated), first),
        "reference_content": _together(mixed(nowhere, reference), first),
    }


def _together(rows: Mixed, first: Ints) -> Ints:
    """One number a stretch, of the numbers of its rows in their order; modulo 2^64."""
    total = rows[first]
    for place in range(1, WIDTH):
        total *= _ODD
        total += rows[first + place]
    return total.view(np.int64)
