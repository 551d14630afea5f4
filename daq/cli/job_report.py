"""restpoint job report: what was found and left, as HTML, PDF, CSV or JSON."""

import re
import sys
from datetime import timedelta, timezone, tzinfo
from pathlib import Path
from typing import TYPE_CHECKING

import click

from daq.cli.options import json_option

if TYPE_CHECKING:
    from daq.report import JobReport, LogFacts

_OFFSET = re.compile(r"(?P<sign>[+-])(?P<hours>[01][0-9]):(?P<minutes>[0-5][0-9])")
_FILE = click.Path(dir_okay=False, path_type=Path)


@click.command(epilog="Example: restpoint job report engine.logbook --out report.html")
@click.argument("logbook", type=_FILE)
@click.option("--job", "uid", help="The uid of the job's first record.")
@click.option("--engine", help="The newest job on this engine. Without either, the newest of all.")
@click.option("--out", type=_FILE, help="Write the report as one HTML file.")
@click.option("--pdf", type=_FILE, help="Write it as PDF; needs restpoint[pdf].")
@click.option(
    "--csv",
    "folder",
    type=click.Path(file_okay=False, path_type=Path),
    help="Write results.csv, and what its columns are, into this folder.",
)
@click.option(
    "--utc-offset",
    metavar="±HH:MM",
    help="What local times are ahead of UTC. Without it, this computer's zone.",
)
@json_option
def command(
    logbook: Path,
    uid: str | None,
    engine: str | None,
    out: Path | None,
    pdf: Path | None,
    folder: Path | None,
    utc_offset: str | None,
    as_json: bool,
) -> int:
    """Report on a job: what was found, what was left, with which gauge, and what did not pass.

    LOGBOOK is checked first; no report is made from one that is not whole, and none is written
    over a file. docs/report.md says what stands in it. The exit status is 0 if the job has passed
    and 1 if it has not, or is not finished.
    """
    if not (out or pdf or folder or as_json):
        raise click.UsageError(
            "Say what to make: --out FILE.html, --pdf FILE, --csv DIR or --json."
        )
    if uid and engine:
        raise click.UsageError("Give --job or --engine, not both.")
    zone = None if utc_offset is None else zone_of(utc_offset)
    from daq.report import report_of
    from daq.report.files import write_new

    facts = _facts(logbook, uid, engine)
    report = report_of(facts.standing, facts, zone or _zone_here(facts))
    contents = _contents(report, out, pdf, folder)
    write_new(contents)
    for path in contents:
        print(f"{path} written.", file=sys.stderr)
    if as_json:
        click.echo(report.model_dump_json())
    else:
        result, head = report.outcome, report.heading
        click.echo(f"{head.engine}: {result.status}, {result.passed} of {result.total} passed.")
        for why in result.why:
            click.echo(f"  {why}")
    return 0 if report.outcome.status == "passed" else 1


def _facts(logbook: Path, uid: str | None, engine: str | None) -> "LogFacts":
    """The records of the job that was asked for, from a logbook that is whole."""
    from daq.logbook import Logbook, verify
    from daq.report import JobUnreadableError, NoJobError, facts_of, jobs_in

    with Logbook.read(logbook) as book:
        jobs = list(jobs_in(book.entries(kind="job")))
        found = [
            each
            for each in jobs
            if (uid is None or each.uid == uid) and (engine is None or each.engine == engine)
        ]
        if not found:
            there = "; ".join(f"{each.uid} on {each.engine}" for each in jobs) or "none"
            raise NoJobError(f"{logbook} holds no such job. Jobs in it: {there}.")
        checked = verify(logbook)
        if not checked.intact:
            first = checked.problems[0]
            where = "the logbook" if first.sequence is None else f"record {first.sequence}"
            raise JobUnreadableError(
                f"{logbook} is not as restpoint left it: {where} {first.what}. No report is made "
                "from it. restpoint log verify names every record concerned."
            )
        return facts_of(book.entries(), book.id, found[-1].uid)


def _contents(
    report: "JobReport", out: Path | None, pdf: Path | None, folder: Path | None
) -> dict[Path, bytes]:
    """Every file that was asked for, made in memory before any is written."""
    contents: dict[Path, bytes] = {}
    if out is not None:
        from daq.report.html import html_of

        contents[out] = html_of(report).encode()
    if pdf is not None:
        from daq.report.pdf import pdf_of

        contents[pdf] = pdf_of(report)
    if folder is not None:
        from daq.report.csv import csv_of, schema_text

        contents[folder / "results.csv"] = csv_of(report).encode()
        contents[folder / "results.schema.json"] = schema_text().encode()
    return contents


def zone_of(text: str) -> tzinfo:
    """The zone that is so far ahead of UTC, such as ``+01:00``; a usage error for anything else."""
    match = _OFFSET.fullmatch(text)
    if match is None:
        raise click.UsageError(f"{text!r} is no offset from UTC; write +01:00 or -03:30.")
    ahead = timedelta(hours=int(match["hours"]), minutes=int(match["minutes"]))
    return timezone(-ahead if match["sign"] == "-" else ahead)


def _zone_here(facts: "LogFacts") -> tzinfo:
    """This computer's zone as it was when the job was begun."""
    zone = facts.begun.at.astimezone().tzinfo
    assert zone is not None  # astimezone gives one
    return zone
