"""The audit itself: the kernel over the rows of a log, then the rules over what it made of them."""

import tempfile
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import duckdb
import numpy as np

from daq.audit.engine.breaks import add_breaks
from daq.audit.engine.calendar import windows_of
from daq.audit.engine.chances import told
from daq.audit.engine.evidence import Audit, Evidence, NotRun, Ran
from daq.audit.engine.saying import said
from daq.audit.engine.store import SOURCES, Store
from daq.audit.errors import RuleError
from daq.audit.kernel import (
    CAPTURES,
    POINTS,
    ByGauge,
    CaptureKernel,
    PassKernel,
    Table,
    Windows,
    digits,
    series,
)
from daq.audit.kernel.columns import NAMES
from daq.audit.layout import LARGE, TABLES
from daq.audit.rules import Rule, with_values
from daq.audit.rules.rule import CHAIN, SHARED
from daq.audit.source import Block, Source

Parameters = Mapping[str, Mapping[str, float]]
"""By rule: values other than the defaults."""

_Row = dict[str, Any]

_SMALL = [name for name in TABLES if name not in LARGE]


@dataclass(frozen=True, slots=True)
class Progress:
    """How far an audit is: rows done of all, and rows a second so far."""

    table: str
    done: int
    of: int
    rate: float


def audit(
    source: Source,
    rules: Sequence[Rule],
    parameters: Parameters | None = None,
    *,
    rate: float = SHARED["rate"],
    memory_mb: int = 192,
    folder: Path | None = None,
    progress: Callable[[Progress], None] | None = None,
    asks: Mapping[str, str] | None = None,
) -> Audit:
    """Run rules over a log.

    Args:
        source: the log.
        rules: which, each once.
        parameters: values of their parameters other than the defaults.
        rate: the share of false findings, among those of a rule that tells by chance, that is
            allowed; above 0 and below 1.
        memory_mb: what the tables that the rules ask may take before they go to disk.
        folder: where such files are put while the audit runs; None: where the system keeps them.
        progress: called after every block of rows.
        asks: queries of the kernel's tables, by name; their answers come with the audit.

    Raises:
        RuleError: a parameter that a rule does not have, or a query that cannot be run.
    """
    given = parameters or {}
    _check(rules, given)
    with tempfile.TemporaryDirectory(prefix="restpoint-audit-", dir=folder) as place:
        store = Store(Path(place), memory_mb)
        try:
            fill(store, source, progress)
            if any(CHAIN in rule.rule.needs and not _lacks(rule, source) for rule in rules):
                add_breaks(store, source)
            found = _asked(store, source, rules, given, rate)
            answers = {name: store.arrays(sql) for name, sql in (asks or {}).items()}
            return replace(found, answers=answers)
        finally:
            store.close()


def fill(store: Store, source: Source, progress: Callable[[Progress], None] | None = None) -> None:
    """The kernel's one pass over all rows, and the small tables: all that the rules ask."""
    # Together, since every statement by itself waits for the disk.
    store.run("BEGIN TRANSACTION")
    for name in _SMALL:
        store.add_small(source, name)
    _make_tables(store)
    store.run("COMMIT")
    rows = _Counted(source, progress)
    passes = PassKernel(ByGauge.of(source.small("gauges"), "step_nm"))
    for block in rows.blocks("points", POINTS):
        _add_points(store, block, passes)
    store.flush()
    captures = CaptureKernel(windows_of(store))
    for block in rows.blocks("captures", CAPTURES):
        _add_captures(store, block, captures)
    store.flush()


def _make_tables(store: Store) -> None:
    """All tables of the kernel, without a row, so that a rule can ask those that stay so."""
    none = np.zeros(0, dtype=np.int64)
    row = {name: np.zeros(1, dtype=np.int64) for name in (*POINTS, *CAPTURES)}
    _add_points(store, row, PassKernel(ByGauge(none, none)), keep=False)
    windows = Windows(none, none, none, none, none)
    _add_captures(store, row, CaptureKernel(windows), keep=False)


def _add_points(store: Store, block: Block, kernel: PassKernel, *, keep: bool = True) -> None:
    made = kernel.of(block)
    tables = {
        "passes": made.passes,
        "series": series(made.passes),
        "digits": digits(block, made),
        **_events(0, made.order, made.gaps, made.clock),
    }
    _add(store, tables, keep)


def _add_captures(store: Store, block: Block, kernel: CaptureKernel, *, keep: bool = True) -> None:
    found = kernel.of(block)
    tables = {
        "stills": found.stills,
        "inches": found.inches,
        "shifts": found.shifts,
        "gauge_captures": found.gauges,
        "windows": found.windows,
        **_events(1, found.order, found.gaps, found.clock),
    }
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

    def __init__(self, source: Source, progress: Callable[[Progress], None] | None) -> None:
        self._source = source
        self._progress = progress
        self._all = sum(source.rows(table) for table in SOURCES)
        self._done = 0
        self._begun = time.monotonic()

    def blocks(self, table: str, wanted: Sequence[str]) -> Iterator[Block]:
        """Blocks of at least one row each, with those of the columns that the log has."""
        has = self._source.columns(table)
        if not has:
            return
        for block in self._source.blocks(table, [name for name in wanted if name in has]):
            size = block["gauge"].size
            if size:
                yield block
            self._done += size
            if self._progress is not None:
                took = max(time.monotonic() - self._begun, 1e-9)
                self._progress(Progress(table, self._done, self._all, self._done / took))


def _check(rules: Sequence[Rule], given: Parameters) -> None:
    known = {rule.id: rule for rule in rules}
    problems = [
        f"There is no parameter {name!r} of {rule!r} among the rules that are run."
        for rule, values in given.items()
        for name in values
        if rule not in known or name not in known[rule].parameters
    ]
    if problems:
        raise RuleError(*problems)


def _asked(
    store: Store, source: Source, rules: Sequence[Rule], given: Parameters, rate: float
) -> Audit:
    asked: list[tuple[Rule, list[tuple[_Row, float | None]]]] = []
    ran: list[Ran] = []
    not_run: list[NotRun] = []
    for rule in rules:
        if why := _lacks(rule, source):
            not_run.append(NotRun(rule.id, why))
            continue
        found, tests = _findings(store, rule, given.get(rule.id, {}), rate)
        asked.append((rule, found))
        ran.append(Ran(rule.id, len(found), tests))
    texts = _Texts(source, [row for _, found in asked for row, _ in found])
    findings = [_evidence(rule, row, texts.of(row), p) for rule, found in asked for row, p in found]
    rows = {name: source.rows(name) for name in TABLES if source.columns(name)}
    return Audit(tuple(findings), tuple(ran), tuple(not_run), rows, rate)


def _lacks(rule: Rule, source: Source) -> str:
    """What a rule needs and a log does not have; empty if nothing."""
    lacks = []
    for each in rule.rule.needs:
        if each == CHAIN:
            if getattr(source, "chain", None) is None:
                lacks.append("a description of how its rows are chained")
            continue
        table, _, column = each.partition(".")
        has = source.columns(table)
        if not has:
            lacks.append(f"the table {table}")
        elif column and column not in has:
            lacks.append(f"the column {table}.{column}")
    return f"needs {', '.join(dict.fromkeys(lacks))}" if lacks else ""


def _findings(
    store: Store, rule: Rule, values: Mapping[str, float], rate: float
) -> tuple[list[tuple[_Row, float | None]], int | None]:
    """What a rule finds, and how many tests it made (None if it states facts)."""
    tests = None
    try:
        rows = store.rows(with_values(rule.query, rule, values))
        if rule.chance is not None:
            tests = store.number(with_values(rule.chance.tests, rule, values))
    except duckdb.Error as error:
        raise RuleError(f"{rule.id}: its query cannot be run: {error}") from error
    missing = {"gauge", "run", "seq_lo", "seq_hi", "score"} - set(rows[0] if rows else ())
    if rows and missing:
        raise RuleError(f"{rule.id}: its query gives no {', '.join(sorted(missing))}")
    if rule.chance is None:
        return [(row, None) for row in rows], None
    return [*told(rule, rows, tests or 0, rate)], tests


class _Texts:
    """The texts of all numbers of names in findings, looked up together: each look-up is long."""

    def __init__(self, source: Source, rows: Sequence[_Row]) -> None:
        wanted: dict[str, set[int]] = {}
        for row in rows:
            for column, value in row.items():
                kind = column.removeprefix("other_")
                if kind in NAMES and isinstance(value, int):
                    wanted.setdefault(kind, set()).add(value)
        self._known: dict[str, dict[int, str]] = {}
        for kind, codes in wanted.items():
            numbers = sorted(codes)
            texts = source.names(kind, np.array(numbers, dtype=np.int64))
            self._known[kind] = dict(zip(numbers, texts, strict=True))

    def of(self, row: _Row) -> _Row:
        """The row with texts for numbers; empty where a name is missing."""
        named = dict(row)
        for column, value in row.items():
            kind = column.removeprefix("other_")
            if kind in NAMES and not isinstance(value, str):
                named[column] = "" if value is None else self._known[kind][value]
        return named


def _evidence(
    rule: Rule, row: Mapping[str, Any], names: dict[str, Any], p: float | None
) -> Evidence:
    try:
        words = said(rule.rule.sentence, names)
    except KeyError as error:
        raise RuleError(f"{rule.id}: its sentence names {error}, which its query lacks") from None
    about = names.get("source") or rule.rule.about
    return Evidence(
        rule.id,
        rule.rule.severity,
        about,
        names["gauge"],
        names["run"],
        row["seq_lo"],
        row["seq_hi"],
        float(row["score"]),
        rule.strength,
        p,
        words,
        names,
        row["gauge"],
    )
