"""What an audit found, in words or as JSON, and how far it is."""

from collections.abc import Mapping, Sequence
from itertools import repeat
from typing import TYPE_CHECKING

import click

from daq.cli.options import print_json

if TYPE_CHECKING:
    from daq.audit.engine import Audit, Evidence, Progress
    from daq.audit.intake import LogSource
    from daq.audit.intake.places import Stretch
    from daq.audit.rules import Rule

    Places = Sequence[Sequence[Stretch]]

SHOWN = 20
"""Findings of a rule that are printed; the others are counted."""


def list_rules(rules: "Sequence[Rule]", as_json: bool) -> None:
    """The rules, a line each."""
    for rule in rules:
        if as_json:
            print_json(
                rule=rule.id,
                title=rule.rule.title,
                severity=rule.rule.severity,
                strength=rule.strength,
                default=rule.rule.default,
                needs=list(rule.rule.needs),
                rests_on=rule.rule.rests_on,
                parameters={name: each.default for name, each in rule.parameters.items()},
            )
        else:
            only = "" if rule.rule.default else " (only when named)"
            click.echo(f"{rule.id:<28} {rule.rule.severity:<7} {rule.rule.title}{only}")


def print_findings(
    result: "Audit",
    source: "LogSource",
    rules: "Mapping[str, Rule]",
    edited: Sequence[str],
    places: "Places | None",
) -> None:
    """The findings, rule by rule, and what was not done.

    ``edited`` is what is wrong with the chain of our own exports; ``places`` where the rows of each
    finding stand, if that is to be said.
    """
    by_rule: dict[str, list[tuple[Evidence, Sequence[Stretch]]]] = {}
    for each, stretches in zip(result.findings, places or repeat(()), strict=False):
        by_rule.setdefault(each.rule, []).append((each, stretches))
    for name, findings in by_rule.items():
        heading = rules[name].rule
        click.echo(f"{heading.title} ({heading.severity}, {name}): {len(findings)}")
        for each, stretches in findings[:SHOWN]:
            chance = "" if each.p is None else f" (by chance: {each.p:.1e})"
            click.echo(f"  {each.words}{chance}")
            _print_places(stretches)
        if len(findings) > SHOWN:
            click.echo(f"  and {len(findings) - SHOWN} more; --evidence writes them all")
        click.echo(f"  It may be innocent: {heading.innocent}")
        click.echo(f"  What to do: {heading.action}")
        click.echo(f"  It rests on: {heading.rests_on}\n")
    for each_edit in edited:
        click.echo(f"Edited: {each_edit}")
    for note in source.notes:
        click.echo(f"Note: {note}")
    for lost in source.rejects.words():
        click.echo(f"Not read: {lost}")
    for each_not in result.not_run:
        click.echo(f"Not run: {each_not.rule} {each_not.why}")
    rows = ", ".join(f"{count} {table}" for table, count in result.rows.items())
    click.echo(
        f"{len(result.findings)} findings by {len(result.ran)} rules in {rows}. Of findings by "
        f"chance a share of {result.rate:g} is expected to be false (Benjamini-Hochberg)."
    )


def _print_places(places: "Sequence[Stretch]") -> None:
    for file, first, last, rows in places:
        lines = f"{first}" if first == last else f"{first} to {last}"
        click.echo(f"    {file}:{lines}, {rows} row{'s' * (rows != 1)}")


def print_as_json(
    result: "Audit", source: "LogSource", edited: Sequence[str], places: "Places | None"
) -> None:
    """Every finding as an object, then one of what was done; as `print_findings`."""
    for number, each in enumerate(result.findings):
        rows = {} if places is None else {"rows": [each._asdict() for each in places[number]]}
        print_json(
            rule=each.rule,
            severity=each.severity,
            about=each.about,
            gauge=each.gauge,
            run=each.run,
            seq_lo=each.seq_lo,
            seq_hi=each.seq_hi,
            score=each.score,
            strength=each.strength,
            p=each.p,
            words=each.words,
            **rows,
        )
    print_json(
        findings=len(result.findings),
        rows=result.rows,
        rejected=source.rejects.count,
        not_read=list(source.rejects.words()),
        edited=list(edited),
        notes=source.notes,
        ran=[
            {"rule": each.rule, "findings": each.findings, "tests": each.tests}
            for each in result.ran
        ],
        not_run=[{"rule": each.rule, "why": each.why} for each in result.not_run],
        rate=result.rate,
    )


class Bar:
    """How far the audit is, in a line of the terminal that goes away."""

    def __init__(self) -> None:
        from rich.console import Console
        from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn

        self._bar = Progress(
            TextColumn("{task.description}"),
            BarColumn(),
            TextColumn("{task.percentage:.0f} %, {task.fields[rate]:,.0f} rows/s"),
            TimeRemainingColumn(),
            console=Console(stderr=True),
            transient=True,
        )
        self._task = self._bar.add_task("auditing", total=None, rate=0.0)

    def __call__(self, so_far: "Progress") -> None:
        """Show how far it is now."""
        self._bar.update(
            self._task,
            description=so_far.table,
            completed=so_far.done,
            total=so_far.of,
            rate=so_far.rate,
        )

    def __enter__(self) -> "Bar":
        self._bar.start()
        return self

    def __exit__(self, *error: object) -> None:
        self._bar.stop()
