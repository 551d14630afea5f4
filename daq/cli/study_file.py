"""restpoint study file: what a measurement's scatter and bias come to, from a CSV file."""

from pathlib import Path
from typing import Any

import click

from daq.cli.options import json_option
from daq.cli.study_options import Wanted, refuse_foreign, report_options, shown, study_options

KINDS = ("crossed", "bias", "stability", "levels", "check", "reliability")


@click.command(
    epilog='Example: restpoint study trials.csv --tolerance "0.02 mm" --svg pictures --html r.html'
)
@click.argument("csv_file", metavar="FILE.csv", type=click.Path(dir_okay=False, path_type=Path))
@click.option(
    "--kind",
    type=click.Choice(KINDS),
    help="The kind of study. Without it, from the columns.",
)
@study_options
@report_options
@json_option
def command(csv_file: Path, kind: Any, **options: Any) -> int:
    """Study the values of a CSV file. The word file may be left out.

    The columns of FILE.csv say which study it is: part,operator,trial,value is a crossed study of
    repeatability and reproducibility; reference,value of bias and linearity; at,value of stability;
    part,run,day,value of levels; day,value of a check standard; gauge,found of reliability.
    docs/studies.md says how to lay the file out. The exit status is 1 if a chart has a signal.
    """
    from daq.calibration.study.table import read_table
    from daq.report.study.model import FileSource

    raw = _bytes(csv_file)
    table = read_table(_text(raw, csv_file), str(csv_file), kind)
    refuse_foreign(table)
    source = FileSource.of(csv_file.name, raw)
    wanted = Wanted.taken_from(options)
    return shown(table, source, options, wanted)


def _bytes(csv_file: Path) -> bytes:
    """What the file holds.

    Raises:
        StudyError: it cannot be read.
    """
    from daq.calibration.study.errors import StudyError

    try:
        return csv_file.read_bytes()
    except OSError as error:
        raise StudyError(f"{csv_file} cannot be read: {error.strerror}") from error


def _text(raw: bytes, csv_file: Path) -> str:
    """The file's text.

    Raises:
        StudyError: it is no text.
    """
    from daq.calibration.study.errors import StudyError

    try:
        return raw.decode("utf-8")
    except UnicodeDecodeError as error:
        raise StudyError(f"{csv_file} is not UTF-8 text; save it as CSV in UTF-8") from error
