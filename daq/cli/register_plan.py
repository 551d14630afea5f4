"""restpoint register plan: is a calibration plan sound, and one to begin with."""

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from daq.calibration.plan import Plan

FILE = click.Path(dir_okay=False, path_type=Path)
LOGBOOK = click.option(
    "--logbook",
    "logbook_file",
    type=click.Path(exists=True, dir_okay=False, path_type=Path),
    help="The logbook that the register is in.",
)


@click.group()
def plan() -> None:
    """Plans to calibrate by: check one, or make one."""


@plan.command(epilog="Example: restpoint register plan check plan.toml --standard blocks-1 ...")
@click.argument("file", type=FILE)
@LOGBOOK
@click.option("--standard", help="Whether this standard can make up its lengths today.")
@click.option("--gauge", help="Whether it suits this gauge.")
def check(file: Path, logbook_file: Path | None, standard: str | None, gauge: str | None) -> int:
    """Find every mistake in a calibration plan at once, by file and line.

    With --standard and --gauge it is held against what the register says of them too. The exit
    status is 0 if all is well and 1 if it is not.
    """
    from daq.calibration.errors import PlanError
    from daq.cli.calibrate_opening import plan_in

    if (standard is None and gauge is None) != (logbook_file is None):
        raise click.UsageError(
            "Give --standard and --gauge together with the --logbook that they are in."
        )
    if not file.exists():
        raise PlanError(f"{file} does not exist; write its path as it is.")
    try:
        sound = plan_in(file)
        problems = list(_misfits(sound, logbook_file, standard, gauge))
    except PlanError as error:
        problems = list(error.problems)
    for problem in problems:
        click.echo(problem, err=True)
    if problems:
        return 1
    heading = sound.heading
    click.echo(
        f"{sound.name} is sound: {heading.title}, revision {heading.revision}, "
        f"{len(sound.stops)} readings at {len(sound.lengths_mm)} lengths."
    )
    for remark in sound.remarks:
        click.echo(f"  {remark}")
    return 0


def _misfits(
    sound: "Plan", logbook_file: Path | None, standard: str | None, gauge: str | None
) -> Iterator[str]:
    """Why a plan does not go with a standard or a gauge of the register."""
    from daq.calibration.errors import PlanError
    from daq.calibration.fields import brief_mm
    from daq.calibration.plan import prepared
    from daq.cli.register import day_of, fleet_in

    if logbook_file is None:
        return
    fleet, today = fleet_in(logbook_file), day_of(None)
    if gauge is not None:
        known, heading = fleet.gauge(gauge), sound.heading
        if heading.range_mm != known.range_mm:
            yield (
                f"{sound.name} is for a range of {brief_mm(heading.range_mm)}, and {gauge} has "
                f"{brief_mm(known.range_mm)}. Take a plan for that range."
            )
    if standard is not None:
        status = fleet.standard_status(standard, today)
        if status.standing == "withdrawn":
            yield status.words
        try:
            prepared(sound, fleet.standard(standard), today)
        except PlanError as error:
            yield from error.problems


@plan.command(epilog="Example: restpoint register plan make DI-7 --standard blocks-1 ...")
@click.argument("gauge")
@click.option("--standard", required=True, help="The standard that it is to be made up from.")
@click.option("--blocks", type=click.IntRange(1, 5), default=3, help="Wrung together at most.")
@LOGBOOK
def make(gauge: str, standard: str, blocks: int, logbook_file: Path | None) -> int:
    """Print the plan that a gauge is calibrated by where none is written, to keep and to change."""
    from daq.calibration.plan_default import default_plan
    from daq.cli.register import fleet_in

    if logbook_file is None:
        raise click.UsageError("Say in which logbook they were entered: --logbook FILE.")
    fleet = fleet_in(logbook_file)
    known = fleet.gauge(gauge)
    made = default_plan(known.range_mm, known.step_mm, fleet.standard(standard), blocks, known.kind)
    click.echo(made.text, nl=False)
    return 0
