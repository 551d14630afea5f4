"""What the workers of a cluster do: the kernel over whole gauges, batch by batch of Arrow.

It runs in Python processes on the workers, and imports no pyspark.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from copy import deepcopy
from typing import Any

import numpy as np

from daq.audit.engine.fill import add_captures, add_points
from daq.audit.engine.spark_rows import BAD, FILE, LINK, NEXT, ROW, Batches
from daq.audit.kernel import CaptureKernel, PassKernel, Table, Windows
from daq.audit.layout import NULL
from daq.audit.source import Block

PART = "rp_part"
"""A column that says whether a row is a window of time (0) or a capture (1)."""

COUNTS, REJECTS = "rp_counts", "rp_rejects"
"""Tables beside those of the kernel: rows that were read, and rows that were rejected."""

BLOCK_ROWS = 1 << 17
"""Rows that a worker holds at a time, unless one gauge has more."""

_TYPES = {
    "int8": "tinyint",
    "int16": "smallint",
    "int32": "int",
    "int64": "bigint",
    "float64": "double",
}

Dtypes = dict[str, dict[str, "np.dtype[Any]"]]
"""By table of the kernel: its columns and their types."""


class Kept:
    """Takes the tables of the kernel, block by block, in place of a store."""

    def __init__(self) -> None:
        self.tables: dict[str, list[Table]] = {}

    def add(self, name: str, rows: Table) -> None:
        """Rows of a table."""
        self.tables.setdefault(name, []).append(rows)

    def made(self, dtypes: Dtypes) -> Iterator[Any]:
        """All that came since the last time, as one row of the schema `made_schema`."""
        import pyarrow as pa

        if self.tables:
            lists = [_listed(self.tables.get(name, []), kinds) for name, kinds in dtypes.items()]
            yield pa.RecordBatch.from_arrays(lists, names=list(dtypes))
        self.tables.clear()


def _listed(parts: Sequence[Table], dtypes: dict[str, "np.dtype[Any]"]) -> Any:
    """Rows as a list of structures; no number (NaN) becomes a missing value, as in DuckDB."""
    import pyarrow as pa

    arrays = [
        pa.array(
            np.concatenate([np.zeros(0, dtype), *(part[name] for part in parts)]).astype(dtype),
            from_pandas=True,
        )
        for name, dtype in dtypes.items()
    ]
    rows = pa.StructArray.from_arrays(arrays, names=list(dtypes))
    return pa.ListArray.from_arrays(pa.array([0, len(rows)], pa.int32()), rows)


def made_schema(dtypes: Dtypes) -> str:
    """How a worker hands on what the kernel made of a block: a list of rows for each table."""
    tables = []
    for table, kinds in dtypes.items():
        columns = ", ".join(f"`{name}`: {_TYPES[kind.name]}" for name, kind in kinds.items())
        tables.append(f"`{table}` array<struct<{columns}>>")
    return ", ".join(tables)


def over_points(
    kernel: PassKernel,
    has: Sequence[str],
    dtypes: Dtypes,
    begins: int,
    block_rows: int = BLOCK_ROWS,
) -> Callable[[Batches], Iterator[Any]]:
    """The kernel over points: batches sorted by gauge and seq in, what the kernel made out.

    ``kernel`` has seen no row; each piece of work has a copy of its own. ``begins`` is the number
    of the link that the first row of a chained log has.
    """

    def work(batches: Batches) -> Iterator[Any]:
        kept, own = Kept(), deepcopy(kernel)
        for block in _whole_gauges(_sound_rows(0, batches, kept), block_rows):
            add_points(kept, {name: block[name] for name in has}, own)  # type: ignore[arg-type]
            _add_breaks(kept, 0, block, begins)
            yield from kept.made(dtypes)
        yield from kept.made(dtypes)

    return work


def over_captures(
    extras: frozenset[str],
    has: Sequence[str],
    dtypes: Dtypes,
    begins: int,
    block_rows: int = BLOCK_ROWS,
) -> Callable[[Batches], Iterator[Any]]:
    """The kernel over captures and the windows of their gauges; as `over_points`.

    ``extras`` are the tables that are wanted beside the usual ones.

    A window stands before the captures of its gauge: ``rp_part`` 0, its kind as ``seq``, its run as
    ``rp_file``, from ``at_us`` until ``value_nm``.
    """

    def work(batches: Batches) -> Iterator[Any]:
        kept, none = Kept(), np.zeros(0, dtype=np.int64)
        kernel = CaptureKernel(Windows(none, none, none, none, none), extras)
        for block in _whole_gauges(_sound_rows(1, batches, kept), block_rows):
            part = block[PART]
            windows = {name: values[part == 0] for name, values in block.items()}
            kernel.windows = Windows(
                windows["gauge"],
                windows["seq"],
                windows[FILE],
                windows["at_us"],
                windows["value_nm"],
            )
            if windows["gauge"].size < part.size:
                captures = {name: values[part == 1] for name, values in block.items()}
                add_captures(kept, {name: captures[name] for name in has}, kernel)  # type: ignore[arg-type]
                _add_breaks(kept, 1, captures, begins)
            yield from kept.made(dtypes)
        yield from kept.made(dtypes)

    return work


def _add_breaks(kept: Kept, which: int, block: Block, begins: int) -> None:
    """Where a row's link does not follow from the row before; as `daq.audit.engine.breaks`."""
    if LINK not in block:
        return
    gauge, seq, link = block["gauge"], block["seq"], block[LINK]
    first = np.concatenate([[True], gauge[1:] != gauge[:-1]])
    due = np.concatenate([[NULL], block[NEXT][:-1]])
    due[first] = NULL
    before = np.concatenate([[0], seq[:-1]])
    before[first] = seq[first]
    broken = np.where(due == NULL, (seq == 1) & (link != begins), link != due)
    at = np.flatnonzero(broken)
    run = block["run"] if "run" in block else np.full(gauge.size, -1)
    rows = {"gauge": gauge[at], "run": run[at], "seq_lo": before[at], "seq_hi": seq[at]}
    kept.add("breaks", {**rows, "source": np.full(at.size, which)})


def _sound_rows(which: int, batches: Batches, kept: Kept) -> Iterator[Block]:
    """Batches as arrays without the rejected rows, which are counted and told."""
    for batch in batches:
        block = {
            name: batch.column(place).to_numpy(zero_copy_only=False)
            for place, name in enumerate(batch.schema.names)
        }
        bad = np.flatnonzero(block[BAD])
        if bad.size:
            told = {"table": np.full(bad.size, which), "file": block[FILE][bad]}
            kept.add(REJECTS, {**told, "row": block[ROW][bad], "what": block[BAD][bad]})
            sound = block[BAD] == 0
            block = {name: values[sound] for name, values in block.items()}
        rows = block["gauge"].size
        if PART in block:
            rows = int(np.count_nonzero(block[PART]))
        kept.add(COUNTS, {"table": np.array([which]), "rows": np.array([rows])})
        if block["gauge"].size:
            yield block


def _whole_gauges(blocks: Iterable[Block], block_rows: int) -> Iterator[Block]:
    """Blocks put together to about so many rows, none of which ends within a gauge."""
    held: list[Block] = []
    rows = 0
    wait = block_rows
    for block in blocks:
        held.append(block)
        rows += block["gauge"].size
        if rows < wait:
            continue
        whole = _joined(held)
        gauge = whole["gauge"]
        end = int(np.flatnonzero(gauge != gauge[-1])[-1]) + 1 if gauge[0] != gauge[-1] else 0
        if end:
            yield {name: values[:end] for name, values in whole.items()}
        held = [{name: values[end:] for name, values in whole.items()}]
        rows = gauge.size - end
        wait = max(block_rows, 2 * rows)
    if rows:
        yield _joined(held)


def _joined(held: Sequence[Block]) -> Block:
    return {name: np.concatenate([each[name] for each in held]) for name in held[0]}
