"""What the studies' commands share: how a study is made, and what is made of its result."""

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Self

import click

from daq.cli.options import print_json

if TYPE_CHECKING:
    from daq.calibration.study.table import Table
    from daq.report.study.model import Source


def study_options(function: Any) -> Any:
    """How each kind of study is made."""
    for option in reversed(
        (
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
        )
    ):
        function = option(function)
    return function


def report_options(function: Any) -> Any:
    """Which files are written of a study."""
    file = click.Path(dir_okay=False, path_type=Path)
    folder = click.Path(file_okay=False, path_type=Path)
    for option in reversed(
        (
            click.option("--svg", "svg_folder", type=folder, help="Draw pictures in this folder."),
            click.option("--html", type=file, help="Write a report as HTML to this new file."),
            click.option("--pdf", type=file, help="Write it as PDF; needs the extra pdf."),
            click.option("--title", default="", help="What the report is headed with."),
        )
    ):
        function = option(function)
    return function


@dataclass(frozen=True, slots=True)
class Wanted:
    """Which files are wanted, and whether facts rather than words are printed."""

    svg_folder: Path | None
    html: Path | None
    pdf: Path | None
    title: str
    as_json: bool

    @classmethod
    def taken_from(cls, options: dict[str, Any]) -> Self:
        """What is wanted; taken out of ``options``, which then say how the study is made."""
        names = ("svg_folder", "html", "pdf", "title", "as_json")
        return cls(**{name: options.pop(name) for name in names})


def shown(table: "Table", source: "Source", options: dict[str, Any], wanted: Wanted) -> int:
    """Make the study, write the files, print what it comes to.

    Returns:
        1 if a chart has a signal, else 0.

    Raises:
        StudyError, ReportError: the study cannot be made, or a file not be written; then nothing
            is printed.
    """
    from daq.calibration.study.analysis import Asked, studied
    from daq.cli.study_kinds import facts_of, words_of

    asked = Asked(**options)
    result = studied(table, asked)
    if wanted.html is not None or wanted.pdf is not None:
        from daq.report.files import write_new
        from daq.report.study.html import html_of
        from daq.report.study.making import report_of
        from daq.report.study.pdf import pdf_of

        report = report_of(result, asked, source, title=wanted.title)
        made = {}
        if wanted.html is not None:
            made[wanted.html] = html_of(report).encode()
        if wanted.pdf is not None:
            made[wanted.pdf] = pdf_of(report)
        write_new(made)
    if wanted.svg_folder is not None:
        _draw(result.pictures(), wanted.svg_folder)
    if wanted.as_json:
        for facts in facts_of(result):
            print_json(**facts)
    else:
        for line in words_of(result):
            click.echo(line)
    return 1 if result.has_signal else 0


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


def refuse_foreign(table: "Table") -> None:
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
