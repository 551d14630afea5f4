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
@click.argument("out", type=click.Path(path_type=Path), required=False)
@click.option(
    "--parquet",
    "parquet_folder",
    type=click.Path(file_okay=False, path_type=Path),
    help="Write what is new as tables of the open log format (Parquet) to this folder.",
)
@click.option(
    "--tables",
    type=click.Choice(["csv", "jsonl"]),
    help="The same tables as CSV or JSON lines; OUT is the folder.",
)
@click.option("--site", help="The site of these tables. Without it, the station in the records.")
def export(
    logbook: Path,
    out: Path | None,
    parquet_folder: Path | None,
    tables: str | None,
    site: str | None,
) -> None:
    """Write a logbook's captures as CSV, or every record as JSON lines.

    OUT ends in .csv or .jsonl. Beside a CSV file stands a table schema that says what each column
    is and in which unit. A JSON lines file can be verified like the logbook itself.

    With --parquet or --tables, captures, calibrations, gauges and standards are written as tables
    of the open log format, for an audit. Only what is new since the last time is written.
    """
    if parquet_folder is not None or tables is not None:
        if (parquet_folder is None) == (tables is None) or (out is None) != (tables is None):
            raise click.UsageError("Give --parquet FOLDER LOGBOOK, or --tables csv LOGBOOK FOLDER.")
        folder = parquet_folder or out
        assert folder is not None
        _export_tables(logbook, folder, tables or "parquet", site or "")
        return
    if site is not None:
        raise click.UsageError("--site goes with --parquet or --tables.")
    if out is None:
        raise click.UsageError("Say where to: OUT, or --parquet FOLDER.")
    _export_records(logbook, out)


def _export_records(logbook: Path, out: Path) -> None:
    from daq.logbook import Logbook, write_csv, write_jsonl

    with Logbook.read(logbook) as book:
        if out.suffix == ".csv":
            count = write_csv(book.entries(), out)
        elif out.suffix == ".jsonl":
            count = write_jsonl(book.entries(), out)
        else:
            raise click.UsageError(f"{out} must end in .csv or .jsonl.")
    print(f"{count} records written to {out}.", file=sys.stderr)


def _export_tables(logbook: Path, folder: Path, form: str, site: str) -> None:
    from daq.audit.export import export_log

    done = export_log(logbook, folder, form=form, site=site)
    if done.unknown:
        click.echo(f"{done.unknown} records could not be read and are not in it.", err=True)
    if not done.link:
        click.echo(f"Nothing is new since record {done.last}; {folder} is up to date.", err=True)
        return
    rows = ", ".join(f"{count} {name}" for name, count in done.rows.items()) or "no rows"
    click.echo(
        f"Records {done.first} to {done.last}: {rows} written to {folder}, link {done.link}.",
        err=True,
    )
