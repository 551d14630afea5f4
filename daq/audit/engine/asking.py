"""The rules over what the kernel made of a log, on any engine: what they find, in words."""

from collections.abc import Mapping, Sequence
from typing import Any, Protocol

import duckdb
import numpy as np

from daq.audit.engine.chances import told
from daq.audit.engine.evidence import Audit, Evidence, NotRun, Ran, steady
from daq.audit.engine.saying import said
from daq.audit.errors import RuleError
from daq.audit.kernel.columns import NAMES
from daq.audit.layout import TABLES
from daq.audit.rules import Rule, with_values
from daq.audit.rules.rule import CHAIN
from daq.audit.source import Ints

Parameters = Mapping[str, Mapping[str, float]]
"""By rule: values other than the defaults."""

_Row = dict[str, Any]


class Asked(Protocol):
    """Tables that answer the queries of rules."""

    def rows(self, sql: str) -> list[dict[str, Any]]:
        """What a query gives, row by row."""

    def number(self, sql: str) -> int:
        """The one whole number that a query gives."""


class About(Protocol):
    """What rules must know of a log beside its tables."""

    def columns(self, table: str) -> tuple[str, ...]:
        """The columns that the log has of a table; none if it has no such table."""

    def rows(self, table: str) -> int:
        """How many rows a table has."""

    def names(self, column: str, codes: Ints) -> list[str]:
        """The texts that numbers stand for in a column of names."""


def check_parameters(rules: Sequence[Rule], given: Parameters) -> None:
    """Refuse values of parameters that no rule has.

    Raises:
        RuleError: there are some.
    """
    known = {rule.id: rule for rule in rules}
    problems = [
        f"There is no parameter {name!r} of {rule!r} among the rules that are run."
        for rule, values in given.items()
        for name in values
        if rule not in known or name not in known[rule].parameters
    ]
    if problems:
        raise RuleError(*problems)


def ask(
    store: Asked, source: About, rules: Sequence[Rule], given: Parameters, rate: float
) -> Audit:
    """What rules find in the tables of a store, rule by rule, sorted by gauge, run and number.

    Args:
        store: the tables.
        source: the log that they were made of.
        rules: which.
        given: values of their parameters other than the defaults.
        rate: the share of false findings, among those by chance, that is allowed.

    Raises:
        RuleError: a query cannot be run, or does not give what its rule needs.
    """
    asked: list[tuple[Rule, list[tuple[_Row, float | None]]]] = []
    ran: list[Ran] = []
    not_run: list[NotRun] = []
    for rule in rules:
        if why := lacks(rule, source):
            not_run.append(NotRun(rule.id, why))
            continue
        found, tests = _findings(store, rule, given.get(rule.id, {}), rate)
        asked.append((rule, found))
        ran.append(Ran(rule.id, len(found), tests))
    texts = _Texts(source, [row for _, found in asked for row, _ in found])
    findings = [
        each
        for rule, found in asked
        for each in sorted((_evidence(rule, row, texts.of(row), p) for row, p in found), key=_place)
    ]
    rows = {name: source.rows(name) for name in TABLES if source.columns(name)}
    return Audit(tuple(findings), tuple(ran), tuple(not_run), rows, rate)


def _place(found: Evidence) -> tuple[Any, ...]:
    """What findings of a rule are sorted by: engines give them in any order. G9 is before G10."""
    names = ((len(name), name) for name in (found.gauge, found.run))
    return (*names, found.seq_lo or 0, found.seq_hi or 0, found.words, found.score)


def lacks(rule: Rule, source: About) -> str:
    """What a rule needs and a log does not have; empty if nothing."""
    missing = []
    for each in rule.rule.needs:
        if each == CHAIN:
            if (chain := getattr(source, "chain", None)) is None:
                missing.append("a description of how its rows are chained")
                continue
            each = f"{chain.table}.link"
        table, _, column = each.partition(".")
        has = source.columns(table)
        if not has:
            missing.append(f"the table {table}")
        elif column and column not in has:
            missing.append(f"the column {table}.{column}")
    return f"needs {', '.join(dict.fromkeys(missing))}" if missing else ""


def _findings(
    store: Asked, rule: Rule, values: Mapping[str, float], rate: float
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
    found: list[tuple[_Row, float | None]]
    if rule.chance is None:
        found = [(row, None) for row in rows]
    else:
        found = [*told(rule, rows, tests or 0, rate)]
    return [({name: steady(each) for name, each in row.items()}, p) for row, p in found], tests


class _Texts:
    """The texts of all numbers of names in findings, looked up together: each look-up is long."""

    def __init__(self, source: About, rows: Sequence[_Row]) -> None:
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
