"""The kernel's one pass over the rows of a log: all tables that the rules ask."""

import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from daq.audit.engine.calendar import windows_of
from daq.audit.engine.keeping import Keeper
from daq.audit.engine.store import SOURCES, Store
from daq.audit.kernel import (
    CAPTURES,
    EXTRAS,
    POINTS,
    ByGauge,
    CaptureKernel,
    Certified,
    PassKernel,
    Table,
    Windows,
    digits,
    pieces,
    series,
)
from daq.audit.layout import LARGE, TABLES
from daq.audit.rules import Rule
from daq.audit.source import Block, Source

SMALL = tuple(name for name in TABLES if name not in LARGE)
"""The tables of a log that are taken whole."""


class Known(Protocol):
    """A log as far as its small tables go."""

    def small(self, table: str) -> Block:
        """A small table whole, with the columns that it has."""


@dataclass(frozen=True, slots=True)
class Progress:
    """How far an audit is: rows done of all, and rows a second so far."""

    table: str
    done: int
    of: int
    rate: float


def fill(
    store: Store,
    source: Source,
    progress: Callable[[Progress], None] | None = None,
    keeper: Keeper | None = None,
    extras: frozenset[str] = frozenset(),
) -> None:
    """The kernel's one pass over all rows, and the small tables: all that the rules ask.

    Args:
        store: where the tables are put.
        source: the log.
        progress: called after every block of rows.
        keeper: knows which blocks the store has already, and commits further ones; None: the store
            is empty, and is thrown away if this is interrupted.
        extras: which tables are wanted beside the usual ones, of `daq.audit.kernel.EXTRAS`.
    """
    if keeper is None:
        # Together, since every statement by itself waits for the disk.
        store.run("BEGIN TRANSACTION")
    if keeper is None or not keeper.begun:
        for name in SMALL:
            store.add_small(source, name)
    make_tables(store)
    if keeper is None:
        store.run("COMMIT")
    else:
        keeper.commit()
    rows = _Counted(source, progress, keeper)
    passes = point_kernel(source, extras)
    if keeper is not None:
        passes.went_over(keeper.gauges("passes"))
    for block in rows.blocks("points", POINTS):
        add_points(store, block, passes)
    store.flush()
    captures = CaptureKernel(windows_of(store), extras)
    if keeper is not None:
        keeper.commit()
        captures.went_over(keeper.gauges("gauge_captures"))
    for block in rows.blocks("captures", capture_columns(extras)):
        add_captures(store, block, captures)
    store.flush()
    if keeper is not None:
        keeper.commit()


def extras_of(rules: Sequence[Rule]) -> frozenset[str]:
    """The tables that are made only for rules that ask them, of which these do."""
    return frozenset(name for name in EXTRAS if any(rule.asks(name) for rule in rules))


def point_kernel(source: Known, extras: frozenset[str]) -> PassKernel:
    """The kernel of the points of a log, with what it must know of gauges and standards."""
    step_nm = ByGauge.of(source.small("gauges"), "step_nm")
    certified = Certified.of(source.small("lengths"), source.small("standards"))
    return PassKernel(step_nm, certified, extras)


def capture_columns(extras: frozenset[str]) -> tuple[str, ...]:
    """The columns that the kernel reads of the captures."""
    more = [column for name in EXTRAS if name in extras for column in EXTRAS[name]]
    return (*CAPTURES, *dict.fromkeys(more))


def make_tables(store: Store) -> None:
    """All tables of the kernel, without a row, so that a rule can ask those that stay so."""
    none = np.zeros(0, dtype=np.int64)
    every = frozenset(EXTRAS)
    row = {name: np.zeros(1, dtype=np.int64) for name in (*POINTS, *capture_columns(every))}
    of_points = PassKernel(ByGauge(none, none), extras=every)
    add_points(store, row, of_points, keep=False)
    windows = Windows(none, none, none, none, none)
    add_captures(store, row, CaptureKernel(windows, every), keep=False)


def add_points(store: Store, block: Block, kernel: PassKernel, *, keep: bool = True) -> None:
    """What the kernel makes of a block of points, to the store; without ``keep`` no row of it."""
    made = kernel.of(block)
    tables = {
        "passes": made.passes,
        "series": series(made.passes),
        "digits": digits(block, made),
        **_events(0, made.order, made.gaps, made.clock),
    }
    if "pieces" in kernel.extras:
        tables["pieces"] = pieces(block, made)
    _add(store, tables, keep)


def add_captures(store: Store, block: Block, kernel: CaptureKernel, *, keep: bool = True) -> None:
    """As `add_points`, of a block of captures."""
    found = kernel.of(block)
    tables = {
        "stills": found.stills,
        "inches": found.inches,
        "shifts": found.shifts,
        "gauge_captures": found.gauges,
        "windows": found.windows,
        "asked": found.asked,
        **_events(1, found.order, found.gaps, found.clock),
    }
    if found.stays is not None:
        tables["stays"] = found.stays
    _add(store, tables, keep)


def _events(which: int, order: Table, gaps: Table, clock: Table) -> dict[str, Table]:
    return {
        name: {**events, "source": np.full(events["gauge"].size, which, dtype=np.int8)}
        for name, events in (("disorder", order), ("gaps", gaps), ("clock", clock))
    }


def _add(store: Store, tables: dict[str, Table], keep: bool) -> None:
    for name, rows in tables.items():
        store.add(name, rows if keep else {each: values[:0] for each, values in rows.items()})


class _Counted:
    """The blocks of a source, counted as they go by."""

    def __init__(
        self,
        source: Source,
        progress: Callable[[Progress], None] | None,
        keeper: Keeper | None,
    ) -> None:
        self._source = source
        self._progress = progress
        self._keeper = keeper
        self._all = sum(source.rows(table) for table in SOURCES)
        self._done = self._before = 0 if keeper is None else keeper.rows
        self._begun = time.monotonic()

    def blocks(self, table: str, wanted: Sequence[str]) -> Iterator[Block]:
        """Blocks of at least one row each, with those of the columns that the log has."""
        has = self._source.columns(table)
        if not has:
            return
        skip = 0 if self._keeper is None else self._keeper.blocks(table)
        columns = [name for name in wanted if name in has]
        for block in self._source.blocks(table, columns, skip=skip):
            size = block["gauge"].size
            if size:
                yield block
            self._done += size
            if self._keeper is not None:
                self._keeper.block(table, size)
            if self._progress is not None:
                took = max(time.monotonic() - self._begun, 1e-9)
                rate = (self._done - self._before) / took
                self._progress(Progress(table, self._done, self._all, rate))
