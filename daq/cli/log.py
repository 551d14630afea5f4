"""restpoint log: show, verify, vouch for, copy or export a logbook."""

import sys
from pathlib import Path

import click

from daq.cli.options import json_option, print_json

FILE = click.Path(dir_okay=False, path_type=Path)


@click.group()
def command() -> None:
    """Show, verify, vouch for, copy or export a logbook."""


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
@click.option("--since", type=FILE, help="A checkpoint that was kept, to vouch for all up to it.")
@click.option("--by", type=FILE, help="A station's public key that the checkpoint is signed with.")
@json_option
def verify(
    logbook: Path, last_hash: str | None, since: Path | None, by: Path | None, as_json: bool
) -> int:
    """Check that no record was edited, removed, swapped or inserted.

    The exit status is 0 if the logbook is whole and 1 if it is not. The chain alone cannot show
    that records are missing at the end, nor that all of it was built anew: write the last hash
    down, or put it on a report, and give it back with --last-hash; or keep a checkpoint elsewhere
    and give it back with --since. With --by it must be signed with that station's key.
    """
    from daq.logbook import verify as check

    if by is not None:
        from daq.logbook.signing import require_signed

        if since is None:
            raise click.UsageError("--by is the key of a checkpoint; give that with --since.")
        require_signed(since, by)
    kept = None
    if since is not None:
        from daq.logbook.checkpoint import read_checkpoint

        kept = read_checkpoint(since)
    report = check(logbook, expect_last_hash=last_hash, since=kept)
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


@command.command(epilog="Example: restpoint log checkpoint engine.logbook june.checkpoint")
@click.argument("logbook", type=FILE)
@click.argument("out", type=FILE)
@click.option("--since", type=FILE, help="An earlier checkpoint; the new one proves to follow it.")
@click.option("--key", type=FILE, help="Sign it with this station's key; needs restpoint[sign].")
def checkpoint(logbook: Path, out: Path, since: Path | None, key: Path | None) -> None:
    """Write down what vouches for every record up to now, to keep elsewhere.

    Keep it where nobody who may write in the logbook can reach it: at the lab, in a mail to the
    customer. With 'restpoint log verify --since' it shows later if the end was cut off, if all
    was built anew or if another logbook was put in its place.
    """
    from daq.logbook.checkpoint import read_checkpoint, write_vouching
    from daq.logbook.vouching import make_checkpoint

    if key is not None:
        from daq.logbook.signing import require_key, sign

        require_key(key)  # before anything is written
    kept = None if since is None else read_checkpoint(since)
    made = make_checkpoint(logbook, since=kept)
    write_vouching(made, out)
    click.echo(f"{out}: {made.records} records of {made.logbook}, root {made.root}")
    if key is not None:
        click.echo(f"{sign(out, key)}: signed with {key}")


@command.command(epilog="Example: restpoint log key station.key")
@click.argument("out", type=FILE)
def key(out: Path) -> None:
    """Make a key that this station signs its checkpoints with.

    OUT is the private key, for this account alone: keep it on this machine. The public key is
    written beside it, ending in .pub: give it to whoever is to check, before they need it.
    """
    from daq.logbook.signing import make_key

    public = make_key(out)
    click.echo(f"{out}: private, stays here")
    click.echo(f"{public}: give this one to whoever is to check")


@command.command(epilog="Example: restpoint log prove engine.logbook 17 june.checkpoint 17.proof")
@click.argument("logbook", type=FILE)
@click.argument("sequence", type=click.IntRange(min=1))
@click.argument("kept", type=FILE, metavar="CHECKPOINT")
@click.argument("out", type=FILE)
def prove(logbook: Path, sequence: int, kept: Path, out: Path) -> None:
    """Write one record with the proof that a checkpoint vouches for it.

    Whoever has the checkpoint can hold the proof against it with 'restpoint log compare', and
    learns nothing of the other records.
    """
    from daq.logbook.checkpoint import read_checkpoint, write_vouching
    from daq.logbook.vouching import prove_record

    write_vouching(prove_record(logbook, sequence, read_checkpoint(kept)), out)
    click.echo(f"{out}: record {sequence}, to be held against {kept}")


@command.command(epilog="Example: restpoint log compare june.checkpoint july.checkpoint")
@click.argument("kept", type=FILE, metavar="CHECKPOINT")
@click.argument("shown", type=FILE)
def compare(kept: Path, shown: Path) -> int:
    """Check that a later checkpoint, or the proof of a record, agrees with a checkpoint.

    SHOWN is what was made with 'restpoint log checkpoint --since CHECKPOINT' or with 'restpoint
    log prove'. The logbook is not needed. The exit status is 0 if it agrees and 1 if it does not.
    """
    from daq.logbook.checkpoint import RecordProof, compared, read_checkpoint, read_vouching
    from daq.logbook.records import record_from
    from daq.logbook.words import record_words

    said = read_vouching(shown)
    why_not = compared(read_checkpoint(kept), said)
    if why_not:
        click.echo(f"{shown}: does NOT agree with {kept}: {why_not}")
        return 1
    if isinstance(said, RecordProof):
        click.echo(f"{shown}: agrees; record {said.sequence} is")
        click.echo(record_words(record_from(said.body)))
    else:
        click.echo(f"{shown}: agrees; {said.records} records, of which the first are those kept")
    return 0


@command.command(epilog="Example: restpoint log backup engine.logbook /media/stick/engine.logbook")
@click.argument("logbook", type=FILE)
@click.argument("out", type=FILE)
def backup(logbook: Path, out: Path) -> None:
    """Copy a logbook, also while a bench writes in it.

    The copy is checked when it is made. It is a logbook like any other: to go on with it, copy it
    back under a new name.
    """
    from daq.logbook import back_up

    report = back_up(logbook, out)
    click.echo(f"{out}: intact, {report.records} records, last hash {report.last_hash}")


@command.command(epilog="Example: restpoint log rescue engine.logbook what-is-left.jsonl")
@click.argument("logbook", type=FILE)
@click.argument("out", type=FILE)
def rescue(logbook: Path, out: Path) -> int:
    """Save what can still be read of a damaged logbook, as JSON lines.

    Every record that can be read and fits its own hash is written; the others are named. Keep the
    damaged file as it is. The exit status is 1 if records are missing.
    """
    from daq.logbook import rescue as save

    done = save(logbook, out)
    for first, last in done.missing:
        which = f"record {first} is" if first == last else f"records {first} to {last} are"
        click.echo(f"{which} not in it: damaged, missing or edited")
    click.echo(f"{out}: {done.records} records")
    return 1 if done.missing else 0


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
