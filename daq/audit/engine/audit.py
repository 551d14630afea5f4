"""The audit itself: the kernel over the rows of a log, then the rules over what it made of them."""

import tempfile
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

from daq.audit.engine.asking import Parameters, ask, check_parameters, lacks
from daq.audit.engine.breaks import add_breaks
from daq.audit.engine.evidence import Audit
from daq.audit.engine.fill import Progress, extras_of, fill
from daq.audit.engine.keeping import Keeper, Keeping, prepared, store_in
from daq.audit.engine.store import Store
from daq.audit.rules import Rule
from daq.audit.rules.rule import CHAIN, SHARED
from daq.audit.source import Source


def audit(
    source: Source,
    rules: Sequence[Rule],
    parameters: Parameters | None = None,
    *,
    rate: float = SHARED["rate"],
    memory_mb: int = 192,
    folder: Path | Keeping | None = None,
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
        folder: where such files are put while the audit runs; None: where the system keeps them. In
            a folder for keeping the audit goes on if it was begun there, and they stay.
        progress: called after every block of rows.
        asks: queries of the kernel's tables, by name; their answers come with the audit.

    Raises:
        RuleError: a parameter that a rule does not have, or a query that cannot be run.
        ResumeError: what is kept is of another log, other rules or another version.
    """
    given = parameters or {}
    check_parameters(rules, given)
    if isinstance(folder, Keeping):
        prepared(folder, source, rules, given, rate)
    with _opened(folder, memory_mb) as (store, keeper):
        fill(store, source, progress, keeper, extras_of(rules))
        if any(CHAIN in rule.rule.needs and not lacks(rule, source) for rule in rules):
            add_breaks(store, source)
        found = ask(store, source, rules, given, rate)
        answers = {name: store.arrays(sql) for name, sql in (asks or {}).items()}
        return replace(found, answers=answers)


@contextmanager
def _opened(folder: Path | Keeping | None, memory_mb: int) -> Iterator[tuple[Store, Keeper | None]]:
    """A store, and who keeps it; of one that is not kept nothing stays."""
    if isinstance(folder, Keeping):
        store = store_in(folder, memory_mb)
        try:
            yield store, Keeper(store, folder.every)
        finally:
            store.close()
        return
    with tempfile.TemporaryDirectory(prefix="restpoint-audit-", dir=folder) as place:
        store = Store(Path(place), memory_mb)
        try:
            yield store, None
        finally:
            store.close()
