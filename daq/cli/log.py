"""restpoint log: show, verify or export a logbook."""

import sys
from pathlib import Path

import click

from daq.cli.options import json_option, print_json

FILE = click.Path(dir_okay=False, path_type=Path)


@click.group()
def command() -> None:
    """Show, verify or export a logbook."""


@command.command(epilog="Example: restpoint log show engine.logbook --last 5")
@click.argument("logbook", type=FILE)
@click.option("--first", type=click.IntRange(min=1), default=1, help="From this record on.")
@click.option("--last", type=click.IntRange(min=1), help="Only so many, the newest.")
@json_option
def show(logbook: Path, first: int, last: int | None, as_json: bool) -> None:
    """Show what a logbook holds, a line a record, oldest first."""
    from daq.logbook import Logbook
    from daq.logbook.words import record_words

    with Logbook.read(logbook) as book:
        newest = book.last()
        if last is not None and newest is not None:
            first = max(first, newest.sequence - last + 1)
        for entry in book.entries(first):
            if as_json:
                click.echo(
                    f'{{"sequence":{entry.sequence},"previous":"{entry.previous}",'
                    f'"hash":"{entry.hash}","record":{entry.body}}}'
                )
            else:
                click.echo(f"{entry.sequence:>6}  {record_words(entry.record)}")


@command.command(epilog="Example: restpoint log verify engine.logbook")
@click.argument("logbook", type=FILE)
@click.option("--last-hash", help="The last hash as it was written down, to vouch for the end.")
@json_option
def verify(logbook: Path, last_hash: str | None, as_json: bool) -> int:
    """Check that no record was edited, removed, swapped or inserted.

    The exit status is 0 if the logbook is whole and 1 if it is not. The chain alone cannot show
    that records are missing at the end: write the last hash down, or put it on a report, and give
    it back with --last-hash.
    """
    from daq.logbook import verify as check

    report = check(logbook, expect_last_hash=last_hash)
    if as_json:
        print_json(
            records=report.records,
            last_hash=report.last_hash,
            intact=not report.problems,
            problems=[{"sequence": p.sequence, "what": p.what} for p in report.problems],
        )
    else:
        for problem in report.problems:
            where = "the logbook" if problem.sequence is None else f"record {problem.sequence}"
            click.echo(f"{where}: {problem.what}")
        state = "NOT intact" if report.problems else "intact"
        click.echo(f"{logbook}: {state}, {report.records} records, last hash {report.last_hash}")
    return 1 if report.problems else 0


@command.command(epilog="Example: restpoint log export engine.logbook captures.csv")
@click.argument("logbook", type=FILE)
@click.argument("out", type=FILE)
def export(logbook: Path, out: Path) -> None:
    """Write a logbook's captures as CSV, or every record as JSON lines.

    OUT ends in .csv or .jsonl. Beside a CSV file stands a table schema that says what each column
    is and in which unit. A JSON lines file can be verified like the logbook itself.
    """
    from daq.logbook import Logbook, write_csv, write_jsonl

    with Logbook.read(logbook) as book:
        if out.suffix == ".csv":
            count = write_csv(book.entries(), out)
        elif out.suffix == ".jsonl":
            count = write_jsonl(book.entries(), out)
        else:
            raise click.UsageError(f"{out} must end in .csv or .jsonl.")
    print(f"{count} records written to {out}.", file=sys.stderr)
