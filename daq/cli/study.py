"""restpoint study: what a measurement's scatter and bias come to, from a CSV file."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from daq.cli.options import json_option, print_json

if TYPE_CHECKING:
    from daq.calibration.study.table import Table

KINDS = ("crossed", "bias", "stability", "levels", "check", "reliability")


def _study_options(function: Any) -> Any:
    """What the kinds of study take."""
    folder = click.Path(file_okay=False, path_type=Path)
    for option in reversed(
        (
            click.option(
                "--kind",
                type=click.Choice(KINDS),
                help="The kind of study. Without it, from the columns.",
            ),
            click.option("--tolerance", help='crossed: width between the limits, "0.02 mm".'),
            click.option(
                "--interaction",
                type=click.Choice(["test", "pool", "keep"]),
                default="test",
                show_default=True,
                help="crossed: pool it with repeatability, keep it, or let its F test decide.",
            ),
            click.option(
                "--chart",
                type=click.Choice(["plain", "ewma", "cusum"]),
                default="plain",
                show_default=True,
                help="stability: which chart.",
            ),
            click.option(
                "--by",
                type=click.Choice(["range", "sd"]),
                default="range",
                show_default=True,
                help="stability, several values at a time: where the limits come from.",
            ),
            click.option(
                "--rules",
                type=click.Choice(["zones", "limits"]),
                default="zones",
                show_default=True,
                help="stability: which run rules.",
            ),
            click.option("--target", help='stability: where values ought to lie, "12.500 mm".'),
            click.option("--sd", help='stability: standard deviation, if known, "0.002 mm".'),
            click.option(
                "--weight",
                type=click.FloatRange(0, 1, min_open=True),
                default=0.2,
                show_default=True,
                help="ewma: weight of the newest value.",
            ),
            click.option(
                "--multiple",
                type=click.FloatRange(0, min_open=True),
                help="ewma, check: standard deviations to a limit. [default: 3, check: 2]",
            ),
            click.option(
                "--k",
                type=click.FloatRange(0),
                default=0.5,
                show_default=True,
                help="cusum: half the change that matters, in standard deviations.",
            ),
            click.option(
                "--h",
                type=click.FloatRange(0, min_open=True),
                default=5.0,
                show_default=True,
                help="cusum: limit of a sum, in standard deviations.",
            ),
            click.option(
                "--confidence",
                type=click.FloatRange(0, 1, min_open=True, max_open=True),
                default=0.95,
                show_default=True,
                help="bias, stability (outlier), check, reliability.",
            ),
            click.option("--svg", "svg_folder", type=folder, help="Draw pictures in this folder."),
        )
    ):
        function = option(function)
    return function


@click.command(epilog='Example: restpoint study trials.csv --tolerance "0.02 mm" --svg pictures')
@click.argument("csv_file", metavar="FILE.csv", type=click.Path(dir_okay=False, path_type=Path))
@_study_options
@json_option
def command(csv_file: Path, svg_folder: Path | None, as_json: bool, **options: Any) -> int:
    """Study how far measured values can be trusted.

    The columns of FILE.csv say which study it is: part,operator,trial,value is a crossed study of
    repeatability and reproducibility; reference,value of bias and linearity; at,value of stability;
    part,run,day,value of levels; day,value of a check standard; gauge,found of reliability.
    docs/studies.md says how to lay the file out. The exit status is 1 if a chart has a signal.
    """
    from daq.calibration.study.table import read_table
    from daq.cli.study_kinds import MAKERS

    table = read_table(_text(csv_file), str(csv_file), options["kind"])
    _refuse_foreign(table)
    outcome = MAKERS[table.kind](table, options)
    if svg_folder is not None:
        _draw(outcome.pictures(), svg_folder)
    if as_json:
        for facts in outcome.facts:
            print_json(**facts)
    else:
        for line in outcome.words:
            click.echo(line)
    return 1 if outcome.has_signal else 0


def _text(csv_file: Path) -> str:
    """What the file holds.

    Raises:
        StudyError: it cannot be read, or is no text.
    """
    from daq.calibration.study.errors import StudyError

    try:
        return csv_file.read_bytes().decode("utf-8")
    except OSError as error:
        raise StudyError(f"{csv_file} cannot be read: {error.strerror}") from error
    except UnicodeDecodeError as error:
        raise StudyError(f"{csv_file} is not UTF-8 text; save it as CSV in UTF-8") from error


_FOR_KINDS = {
    "tolerance": ("crossed",),
    "interaction": ("crossed",),
    "chart": ("stability",),
    "by": ("stability",),
    "rules": ("stability",),
    "target": ("stability",),
    "sd": ("stability",),
    "weight": ("stability",),
    "multiple": ("stability", "check"),
    "k": ("stability",),
    "h": ("stability",),
    "confidence": ("bias", "stability", "check", "reliability"),
}
"""By option: the kinds that use it."""


def _refuse_foreign(table: "Table") -> None:
    """An option that this kind of study would silently not use is refused.

    Raises:
        click.UsageError: there is one.
    """
    context = click.get_current_context()
    for name, kinds in _FOR_KINDS.items():
        given = context.get_parameter_source(name) is click.core.ParameterSource.COMMANDLINE
        if given and table.kind not in kinds:
            raise click.UsageError(
                f"--{name} is for a study of kind {' or '.join(kinds)}; by its columns "
                f"{table.name} is one of kind {table.kind}"
            )


def _draw(pictures: dict[str, str], folder: Path) -> None:
    """The pictures as SVG files, each in place of an older one of its name.

    Raises:
        StudyError: one cannot be written.
    """
    from daq.calibration.study.errors import StudyError

    try:
        folder.mkdir(parents=True, exist_ok=True)
        for name, svg in pictures.items():
            new = folder / f".{name}.svg.new"
            new.write_text(svg, encoding="utf-8", newline="\n")
            new.replace(folder / f"{name}.svg")
    except OSError as error:
        raise StudyError(
            f"The pictures cannot be written: {folder}: {error.strerror}. Name another folder."
        ) from error
