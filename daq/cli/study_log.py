"""restpoint study log: what a guided study comes to, from the logbook that holds it."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from daq.cli.options import json_option, print_json
from daq.cli.study_options import Wanted, refuse_foreign, report_options, shown, study_options

if TYPE_CHECKING:
    from daq.calibration.study.guided_kept import KeptStudy
    from daq.logbook import LogbookReader
    from daq.logbook.proof import Report as Checked
    from daq.logbook.study import StudyBegun
    from daq.report.study.model import LogSource

_FILE = click.Path(dir_okay=False, path_type=Path)


@click.command(epilog="Example: restpoint study log lab.logbook --html grooves.html")
@click.argument("logbook_file", metavar="LOGBOOK", type=_FILE)
@click.option("--study", "uid", help="The uid of its first record. Without it, the newest.")
@click.option("--list", "lists", is_flag=True, help="List the studies that there are, no more.")
@click.option("--csv", "csv_file", type=_FILE, help="Write the values as a new CSV file.")
@study_options
@report_options
@json_option
def command(
    logbook_file: Path,
    uid: str | None,
    lists: bool,
    csv_file: Path | None,
    **options: Any,
) -> int:
    """Study the values that were captured in a guided study.

    LOGBOOK is checked first; nothing is made from one that is not whole. What comes out is what
    restpoint study makes of a file with these values. A crossed study takes its tolerance from its
    plan. The exit status is 1 if a chart has a signal.
    """
    from daq.calibration.study.guided_kept import csv_of, kept_study, table_of
    from daq.logbook import Logbook
    from daq.report.files import write_new

    with Logbook.read(logbook_file) as book:
        if lists:
            return _list(book, options["as_json"])
        found = _found(book, logbook_file, uid)
        checked = _checked(logbook_file)
        kept = kept_study(book, found.uid)
        assert kept is not None  # it was found
        source = _source(kept, checked)
    table = table_of(kept)
    refuse_foreign(table)
    given = kept.begun.tolerance_mm
    if options["tolerance"] is None and given is not None:
        options["tolerance"] = f"{given:f} mm"
    if csv_file is not None:
        write_new({csv_file: csv_of(kept).encode()})
    options["title"] = options["title"] or kept.begun.title
    wanted = Wanted.taken_from(options)
    return shown(table, source, options, wanted)


def _list(book: "LogbookReader", as_json: bool) -> int:
    """Every study with how far it has come."""
    from daq.calibration.study.guided_kept import kept_study, studies_in

    for begun in studies_in(book):
        kept = kept_study(book, begun.uid)
        assert kept is not None  # it is in the logbook
        count, of = len(kept.standing_points), len(begun.order)
        how = kept.ended.how if kept.ended is not None else "open"
        if as_json:
            print_json(
                study=begun.uid,
                title=begun.title,
                design=begun.design,
                gauge=begun.gauge_label,
                begun=f"{begun.at:%Y-%m-%dT%H:%M:%SZ}",
                values=count,
                of=of or None,
                how=how,
            )
            continue
        there = f"{count} of {of} values" if of else f"{count} values"
        click.echo(
            f"{begun.uid}  {begun.at:%Y-%m-%d}  {begun.title}: {begun.design}, "
            f"{begun.gauge_label}, {there}, {how}"
        )
    return 0


def _found(book: "LogbookReader", logbook_file: Path, uid: str | None) -> "StudyBegun":
    """The study that was asked for.

    Raises:
        StudyError: there is none.
    """
    from daq.calibration.study import StudyError
    from daq.calibration.study.guided_kept import studies_in

    every = list(studies_in(book))
    found = [each for each in every if uid is None or each.uid == uid]
    if not found:
        there = "; ".join(f"{each.uid} {each.title}" for each in every) or "none"
        raise StudyError(f"{logbook_file} holds no such study. Studies in it: {there}.")
    return found[-1]


def _checked(logbook_file: Path) -> "Checked":
    """What the check of a logbook that is whole found.

    Raises:
        StudyError: it is not.
    """
    from daq.calibration.study import StudyError
    from daq.logbook import verify

    checked = verify(logbook_file)
    if not checked.intact:
        first = checked.problems[0]
        where = "the logbook" if first.sequence is None else f"record {first.sequence}"
        raise StudyError(
            f"{logbook_file} is not as restpoint left it: {where} {first.what}. Nothing is made "
            "from it. restpoint log verify names every record concerned."
        )
    return checked


def _source(kept: "KeptStudy", checked: "Checked") -> "LogSource":
    """Where the values lie, for the report."""
    from daq.report.study.model import LogSource

    begun, last_hash = kept.begun, str(checked.last_hash)
    uids = [begun.uid, *(each.uid for each in kept.points)]
    if kept.ended is not None:
        uids.append(kept.ended.uid)
    people = (begun.operator, *(each.appraiser or each.operator for each in kept.points))
    return LogSource(
        logbook_id=str(checked.logbook_id),
        study=begun.uid,
        title=begun.title,
        station=begun.station,
        operators=tuple(dict.fromkeys(people)),
        gauge=f"{begun.gauge_label} ({begun.profile}, {begun.identity or 'no identity'})",
        begun=begun.at,
        last=max((each.at for each in kept.points), default=begun.at),
        ended=kept.ended.how if kept.ended is not None else "not ended",
        first_record=kept.sequences[begun.uid],
        last_record=max(kept.sequences[uid] for uid in uids),
        log_records=checked.records,
        last_hash=last_hash,
        verify=f"restpoint log verify LOGBOOK --last-hash {last_hash}",
    )
