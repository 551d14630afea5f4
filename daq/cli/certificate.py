"""restpoint certificate: the certificate of a calibration, as HTML, PDF, CSV, JSON and DCC."""

import sys
from collections.abc import Callable, Mapping, Sequence
from datetime import date, datetime, tzinfo
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from daq.cli.job_report import zone_of

if TYPE_CHECKING:
    from daq.calibration.kept import KeptCalibration
    from daq.logbook import LogbookReader
    from daq.report.certificate import CertificateModel, Laboratory, Typed
    from daq.report.certificate.model import Proof

F = TypeVar("F", bound=Callable[..., Any])

_FILE = click.Path(dir_okay=False, path_type=Path)

FORMATS = {
    "html": "One HTML file.",
    "pdf": "PDF; needs restpoint[pdf].",
    "csv": "CSV, and what its columns are.",
    "json": "The model that all files are made from.",
}
"""What can be asked for, each by an option of its name, with the line that --help shows."""


def _format_options(function: F) -> F:
    """One flag a format."""
    for name, words in reversed(FORMATS.items()):
        function = click.option(f"--{name}", name, is_flag=True, help=words)(function)
    return function


def _typed_options(function: F) -> F:
    """What the records do not hold."""
    for option in reversed(
        (
            click.option("--lab", type=_FILE, help="A file (TOML) with name, address, contact."),
            click.option("--received", metavar="DATE", help="The day on which the gauge came in."),
            click.option("--condition", default="", help="What the gauge looked like then."),
            click.option("--no-due", is_flag=True, help="Leave out the day it is due next."),
            click.option("--dcc", is_flag=True, help="A DCC, as XML; needs restpoint[dcc]."),
            click.option(
                "--schema",
                type=click.Path(file_okay=False, path_type=Path),
                help="With --dcc: check it against the published schema in this folder.",
            ),
        )
    ):
        function = option(function)
    return function


@click.command(epilog="Example: restpoint certificate DI-7 --logbook lab.logbook --html --pdf")
@click.argument("which", metavar="NUMBER|GAUGE")
@click.option("--logbook", type=_FILE, required=True, help="The logbook that it was kept in.")
@_format_options
@_typed_options
@click.option(
    "--output",
    type=click.Path(file_okay=False, path_type=Path),
    default=Path(),
    help="The folder for the files. Without it, this one.",
)
@click.option(
    "--utc-offset",
    metavar="±HH:MM",
    help="What days and local times are ahead of UTC. Without it, this computer's zone.",
)
def command(which: str, logbook: Path, output: Path, utc_offset: str | None, **asked: Any) -> int:
    """Make the certificate of a calibration, from the logbook and nothing else.

    NUMBER is a certificate's, GAUGE a label, whose newest calibration is then taken; the uid of a
    calibration's first record will do too. Of a calibration that has not ended, was broken off or
    was taken back there is a draft or void document, marked as such on every page. The logbook is
    checked first, and no file is written over another. The exit status is 0 for a certificate that
    says pass, and 1 for anything else. docs/certificate.md says what stands in it.
    """
    formats = [name for name in FORMATS if asked[name]]
    if not (formats or asked["dcc"]):
        raise click.UsageError(
            f"Say what to make: {', '.join(f'--{name}' for name in (*FORMATS, 'dcc'))}."
        )
    if asked["schema"] is not None and not asked["dcc"]:
        raise click.UsageError("--schema is for --dcc; give both.")
    zone = None if utc_offset is None else zone_of(utc_offset)
    typed = _typed(asked)
    from daq.report.certificate import certificate_of
    from daq.report.files import write_new

    kept, proof = _kept(logbook, which)
    model = certificate_of(kept, proof, typed, zone or _zone_here(kept))
    contents = _contents(model, formats, output, asked)
    write_new(contents)
    for path in contents:
        print(f"{path} written.", file=sys.stderr)
    _say(model)
    return 0 if model.state == "issued" and model.verdict.as_left == "pass" else 1


def _contents(
    model: "CertificateModel", formats: Sequence[str], folder: Path, asked: Mapping[str, Any]
) -> dict[Path, bytes]:
    """Every file that was asked for, made in memory before any is written."""
    from daq.report.certificate.files import files_for

    contents = files_for(model, formats, folder)
    if asked["dcc"]:
        from daq.report.dcc.files import dcc_files

        contents |= dcc_files(model, folder, asked["lab"], asked["schema"])
    return contents


def _typed(asked: Mapping[str, Any]) -> "Typed":
    from daq.report.certificate import Typed

    return Typed(
        laboratory=_laboratory(asked["lab"]),
        received=None if asked["received"] is None else _day(asked["received"]),
        condition=asked["condition"],
        with_due=not asked["no_due"],
    )


def _say(model: "CertificateModel") -> None:
    word = model.verdict.as_left if model.state == "issued" else model.state
    click.echo(f"{model.mark}, {model.gauge.label}: {word}.")
    for each in (*model.why, *model.verdict.sentences):
        click.echo(f"  {each}")
    if model.state == "issued" and not model.authorised_by:
        click.echo(f"  {model.authorised_words}")


def _laboratory(path: Path | None) -> "Laboratory":
    from daq.report.certificate import Laboratory, LaboratoryError
    from daq.report.certificate.laboratory import laboratory_from_bytes

    if path is None:
        return Laboratory()
    try:
        raw = path.read_bytes()
    except OSError as error:
        raise LaboratoryError(f"{path} cannot be read: {error.strerror}.") from error
    return laboratory_from_bytes(raw, path.name)


def _kept(path: Path, which: str) -> tuple["KeptCalibration", "Proof"]:
    """The calibration that was asked for, from a logbook that is whole, and what vouches for it."""
    from daq.calibration.kept import kept_calibration
    from daq.logbook import Logbook, verify
    from daq.report.certificate import CertificateError, proof_of

    with Logbook.read(path) as book:
        uid = _uid_of(book, which)
        checked = verify(path)
        if not checked.intact:
            first = checked.problems[0]
            where = "the logbook" if first.sequence is None else f"record {first.sequence}"
            raise CertificateError(
                f"{path} is not as restpoint left it: {where} {first.what}. No certificate is made "
                "from it. restpoint log verify names every record concerned."
            )
        kept = kept_calibration(book, uid)
        assert kept is not None  # its first record was just found
        return kept, proof_of(kept, book)


def _uid_of(book: "LogbookReader", which: str) -> str:
    """The calibration with a certificate of that number, or the newest of a gauge of that label."""
    from daq.calibration.kept import calibrations_in
    from daq.logbook.calibration import CalibrationEnded
    from daq.report.certificate import CertificateError

    ended = (each.record for each in book.entries(kind="calibration end"))
    numbers = {
        each.calibration: each.certificate for each in ended if isinstance(each, CalibrationEnded)
    }
    begun = list(calibrations_in(book))
    numbered = [each.uid for each in begun if numbers.get(each.uid) == which]
    if len(numbered) > 1:
        raise CertificateError(
            f"The number {which} was given {len(numbered)} times. Say which calibration: "
            f"{', '.join(numbered)}."
        )
    named = [each.uid for each in begun if which in (each.uid, each.gauge_label)]
    if found := numbered or named:
        return found[-1]
    there = "; ".join(
        f"{numbers.get(each.uid) or 'no number'}, {each.gauge_label} of {each.at:%Y-%m-%d}"
        for each in begun
    )
    raise CertificateError(
        f"{book.path} holds no certificate and no gauge {which!r}. Calibrations in it: "
        f"{there or 'none'}."
    )


def _day(text: str) -> date:
    try:
        return datetime.strptime(text, "%Y-%m-%d").date()
    except ValueError:
        raise click.UsageError(f"{text!r} is no day; write it such as 2026-05-29.") from None


def _zone_here(kept: "KeptCalibration") -> tzinfo:
    """This computer's zone as it was when the calibration was begun."""
    zone = kept.begun.at.astimezone().tzinfo
    assert zone is not None  # astimezone gives one
    return zone
