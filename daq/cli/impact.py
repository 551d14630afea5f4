"""restpoint impact: what a gauge that was out of its limits touched."""

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from daq.cli.options import json_option, print_json

if TYPE_CHECKING:
    from daq.audit.impact import Impact

_FILE = click.Path(dir_okay=False, path_type=Path)


@click.command(epilog="Example: restpoint impact DI-7 --logbook bench.logbook --csv di-7.csv")
@click.argument("gauge", metavar="[GAUGE]", required=False)
@click.option("--all", "every", is_flag=True, help="All gauges.")
@click.option("--logbook", type=_FILE, help="The bench's own logbook.")
@click.option(
    "--log",
    "paths",
    multiple=True,
    type=click.Path(path_type=Path),
    help="Files or folders of a log, in the open log format; may be given several times.",
)
@click.option("--mapping", type=_FILE, help="With --log: what the columns of a foreign log are.")
@click.option(
    "--in-time",
    is_flag=True,
    help="Let the error grow in a straight line between the two calibrations.",
)
@click.option("--csv", "csv_file", type=_FILE, help="Write every capture touched to this file.")
@json_option
def command(
    gauge: str | None,
    every: bool,
    logbook: Path | None,
    paths: tuple[Path, ...],
    mapping: Path | None,
    in_time: bool,
    csv_file: Path | None,
    as_json: bool,
) -> int:
    """What was captured with a gauge while it was out of its limits, and which verdicts turn.

    For every calibration that found the gauge out of limits: the captures since the one before it,
    each with the error that was found taken off, and its verdict before and after. The exit status
    is 1 if a verdict turns, and also where that cannot be told: captures cannot be corrected, or
    part of the log cannot be read. docs/impact.md says how all of it is worked out.
    """
    if (gauge is None) != every:
        raise click.UsageError("Name one GAUGE, or say --all; one of the two.")
    if (logbook is None) == (not paths):
        raise click.UsageError("Say where to look: --logbook FILE, or --log PATH; one of the two.")
    if mapping is not None and not paths:
        raise click.UsageError("--mapping is for --log; give both.")
    impact = (
        _in_logbook(logbook, gauge, in_time)
        if logbook is not None
        else _in_log(paths, mapping, gauge, in_time)
    )
    if csv_file is not None:
        _write(csv_file, impact)
    _say(impact, as_json)
    from daq.audit.impact.words import is_answered

    return 0 if is_answered(impact) else 1


def _in_logbook(path: Path, gauge: str | None, in_time: bool) -> "Impact":
    from daq.audit.impact.from_logbook import impact_in
    from daq.logbook import Logbook

    with Logbook.read(path) as book:
        return impact_in(book, gauge, in_time=in_time)


def _in_log(
    paths: tuple[Path, ...], mapping: Path | None, gauge: str | None, in_time: bool
) -> "Impact":
    from daq.audit.impact.from_source import impact_in_files

    return impact_in_files(paths, mapping, gauge, in_time=in_time)


def _say(impact: "Impact", as_json: bool) -> None:
    from daq.audit.impact.rows import period_facts
    from daq.audit.impact.words import lines_of

    for each in impact.remarks:
        print(each, file=sys.stderr)
    if as_json:
        for period in impact.touched:
            print_json(**period_facts(period))
        return
    for line in lines_of(impact):
        click.echo(line)


def _write(path: Path, impact: "Impact") -> None:
    """The CSV, and beside it what its columns are."""
    from daq.audit.impact.rows import csv_of, schema_text
    from daq.report.files import write_new

    schema = path.with_name(f"{path.name}.schema.json")
    write_new({path: csv_of(impact).encode(), schema: schema_text().encode()})
    for each in (path, schema):
        print(f"{each} written.", file=sys.stderr)
