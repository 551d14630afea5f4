"""restpoint audit on this machine: over the log or a copy of it, and kept as it goes if asked."""

import sys
from collections.abc import Mapping, Sequence
from contextlib import ExitStack
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from daq.cli.audit_words import Bar

if TYPE_CHECKING:
    from daq.audit.engine import Audit, Keeping, Progress
    from daq.audit.intake import LogSource
    from daq.audit.rules import Rule

BLOCK_ROWS = 1 << 18
"""Rows that are worked on together: few enough to stay near the processor."""


def audited(
    stack: ExitStack,
    paths: Sequence[Path],
    mapping: Any,
    rules: "Sequence[Rule]",
    given: "Mapping[str, Mapping[str, float]]",
    asked: "Mapping[str, Any]",
) -> "tuple[LogSource, Audit]":
    """The log, which ``stack`` closes, and its audit; what was asked is as on the command line."""
    how_far = _HowFar()
    try:
        source = stack.enter_context(_opened(paths, mapping, asked, how_far))
        how_far.bar = stack.enter_context(Bar()) if sys.stderr.isatty() else None
        return source, _audit(source, rules, given, asked, how_far)
    except KeyboardInterrupt:
        stack.close()  # of the bar nothing stays, then
        click.echo(f"restpoint: {how_far.words()} {_going_on(asked, how_far)}", err=True)
        raise


def _opened(
    paths: Sequence[Path], mapping: Any, asked: "Mapping[str, Any]", how_far: "_HowFar"
) -> "LogSource":
    from daq.audit.intake import Limits, convert_log, open_source

    limits = Limits(block_rows=BLOCK_ROWS)
    if asked["keep"] is not None:
        made = convert_log(paths, mapping, asked["keep"], limits=limits)
        rows = ", ".join(f"{count} {table}" for table, count in made.rows.items())
        click.echo(f"The log is kept in {asked['keep']}: {rows}.", err=True)
        paths, mapping, how_far.log_is_kept = (asked["keep"],), None, True
    return open_source(paths, mapping, limits=limits, rejects_to=asked["rejects"])


def _audit(
    source: "LogSource",
    rules: "Sequence[Rule]",
    given: "Mapping[str, Mapping[str, float]]",
    asked: "Mapping[str, Any]",
    how_far: "_HowFar",
) -> "Audit":
    from daq.audit.engine import audit
    from daq.report.audit.asks import ASKS

    asks = ASKS if asked["html"] is not None else None
    return audit(
        source,
        rules,
        given,
        rate=asked["rate"],
        folder=keeping(asked),
        progress=how_far,
        asks=asks,
    )


def keeping(asked: "Mapping[str, Any]") -> "Keeping | None":
    """Where the audit is kept as it goes, if anywhere."""
    from daq.audit.engine import Keeping

    return None if asked["resume"] is None else Keeping(asked["resume"])


def _going_on(asked: "Mapping[str, Any]", how_far: "_HowFar") -> str:
    """What somebody who stopped an audit can do to go on with it."""
    if asked["resume"] is None:
        again = "Nothing is kept of it; with --resume FOLDER it could have gone on from there."
    else:
        again = f"It is kept in {asked['resume']}: the same command goes on from there."
    if how_far.log_is_kept:
        again += f" Name {asked['keep']} as the log then, and leave --keep and --mapping out."
    return again


class _HowFar:
    """The last that was heard of how far an audit is, handed on to a bar where there is one."""

    def __init__(self) -> None:
        self.bar: Bar | None = None
        self.log_is_kept = False
        self._last: Progress | None = None

    def __call__(self, so_far: "Progress") -> None:
        self._last = so_far
        if self.bar is not None:
            self.bar(so_far)

    def words(self) -> str:
        if self._last is None:
            return "The audit was stopped before the first rows were done."
        return f"The audit was stopped when {self._last.done} of {self._last.of} rows were done."
