"""restpoint register: which standards and gauges there are, how they stand, when they are due."""

import sys
from datetime import UTC, date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import click

from daq.cli.options import json_option, print_json
from daq.cli.register_plan import plan
from daq.cli.register_status import filled

if TYPE_CHECKING:
    from daq.calibration.fleet import Fleet
    from daq.calibration.register_file import Register

FILE = click.Path(dir_okay=False, path_type=Path)

logbook_option = click.option(
    "--logbook",
    "logbook_file",
    required=True,
    type=click.Path(exists=True, dir_okay=False, path_type=Path),
    help="The logbook that the register is in.",
)

operator_option = click.option("--operator", required=True, callback=filled, help="Who does this.")
day_option = click.option(
    "--on", "day", type=click.DateTime(["%Y-%m-%d"]), help="Seen from this day; today if left out."
)


def day_of(asked: datetime | None) -> date:
    """The day that was asked for, or today. The register goes by days in UTC, as its records do."""
    return asked.date() if asked is not None else datetime.now(UTC).date()


@click.group()
def command() -> None:
    """Standards and gauges: enter, show, withdraw; and plans to calibrate by."""


command.add_command(plan)


def register_in(path: Path) -> "Register":
    """The register in a file.

    Raises:
        RegisterError: it cannot be read, or has mistakes; all of them.
    """
    from daq.calibration.errors import RegisterError
    from daq.calibration.register_file import register_from_bytes

    try:
        return register_from_bytes(path.read_bytes(), path.name)
    except OSError as error:
        raise RegisterError(f"{path} cannot be read: {error.strerror}.") from error


def fleet_in(logbook_file: Path) -> "Fleet":
    """What the register in a logbook comes to."""
    from daq.calibration.fleet import fleet_of
    from daq.logbook import Logbook

    with Logbook.read(logbook_file) as logbook:
        return fleet_of(logbook)


@command.command(epilog="Example: restpoint register check lab.toml")
@click.argument("file", type=FILE)
@json_option
def check(file: Path, as_json: bool) -> int:
    """Find every mistake in a register file at once, by file and line.

    FILE is TOML; docs/calibrating.md says how to write one. Nothing is entered. The exit status is
    0 if it is sound and 1 if it is not.
    """
    from daq.calibration.errors import RegisterError

    if not file.exists():
        raise RegisterError(f"{file} does not exist; write its path as it is.")
    try:
        register = register_in(file)
    except RegisterError as error:
        for problem in error.problems:
            if as_json:
                print_json(problem=problem)
            else:
                click.echo(problem, err=True)
        return 1
    facts = {
        "standards": [each.id for each in register.standards],
        "gauges": [each.label for each in register.gauges],
    }
    if as_json:
        print_json(**facts)
    else:
        told = "; ".join(f"{len(names)} {what}" for what, names in facts.items())
        click.echo(f"{register.name} is sound: {told}.")
    return 0


@command.command(epilog="Example: restpoint register enter lab.toml --logbook lab.logbook ...")
@click.argument("file", type=FILE)
@click.option(
    "--logbook",
    "logbook_file",
    required=True,
    type=FILE,
    help="The logbook; it is begun if there is none.",
)
@operator_option
@json_option
def enter(file: Path, logbook_file: Path, operator: str, as_json: bool) -> int:
    """Enter the standards and gauges of a file in a logbook.

    What the logbook has already is not entered again; what differs is entered anew, and the entry
    before stays. Everything is entered or nothing.
    """
    from daq.calibration.fleet import fleet_of
    from daq.calibration.fleet.entering import entering
    from daq.logbook import Logbook

    register = register_in(file)
    with Logbook.open(logbook_file) as logbook:
        found = entering(fleet_of(logbook), register, operator, datetime.now(UTC))
        records = [each.record for each in found if each.record is not None]
        if records:
            logbook.append_many(records)
    for each in found:
        if as_json:
            print_json(about=each.about, name=each.name, what=each.what, changed=each.changed)
        else:
            click.echo(str(each))
    print(f"{len(records)} of {len(found)} entered in {logbook_file}.", file=sys.stderr)
    return 0


@command.command(epilog="Example: restpoint register show --logbook lab.logbook --within 60")
@click.argument("names", nargs=-1)
@logbook_option
@day_option
@click.option("--within", type=click.IntRange(min=0), metavar="DAYS", help="Due by then, or past.")
@json_option
def show(
    names: tuple[str, ...],
    logbook_file: Path,
    day: datetime | None,
    within: int | None,
    as_json: bool,
) -> int:
    """Show how standards and gauges stand, the most urgent first.

    NAMES are labels of gauges and ids of standards; all of them if none is named. The exit status
    is 0 if all that are shown may be used and 1 if one may not, or if the register has a record
    that cannot be read.
    """
    from daq.cli.register_words import lines_of, shown

    fleet = fleet_in(logbook_file)
    found = shown(fleet, day_of(day), names, within)
    if as_json:
        for each in found:
            print_json(**each.facts)
    else:
        for line in lines_of(found):
            click.echo(line)
    say_unreadable(fleet)
    return 0 if all(each.is_usable for each in found) and not fleet.unreadable else 1


@command.command(epilog="Example: restpoint register history DI-7 --logbook lab.logbook")
@click.argument("gauge")
@logbook_option
@day_option
@json_option
def history(gauge: str, logbook_file: Path, day: datetime | None, as_json: bool) -> int:
    """Show what befell a gauge, oldest first, how it stands, and when it is due next."""
    from daq.cli.register_words import history_lines

    fleet = fleet_in(logbook_file)
    for facts, line in history_lines(fleet, gauge, day_of(day)):
        if as_json:
            print_json(**facts)
        else:
            click.echo(line)
    say_unreadable(fleet)
    return 0


def say_unreadable(fleet: "Fleet") -> None:
    """Say which records of the register are not counted, and so might change what was said."""
    for words in fleet.unreadable:
        click.echo(f"{words} What is said here leaves it out.", err=True)


def _changing(function: Any) -> Any:
    """What taking out of use and returning to use take."""
    for option in (
        click.argument("name"),
        logbook_option,
        operator_option,
        click.option("--reason", required=True, callback=filled, help="Why."),
        click.option("--by", callback=filled, help="Who answers for it; the operator if left out."),
        click.option(
            "--about",
            type=click.Choice(["gauge", "standard"]),
            help="Which is meant, where a gauge and a standard have one name.",
        ),
    ):
        function = option(function)
    return function


@command.command(epilog="Example: restpoint register withdraw DI-7 --reason 'dropped' ...")
@_changing
def withdraw(**asked: Any) -> int:
    """Take a gauge or a standard out of use."""
    return _change("withdrawn", **asked)


@command.command("return", epilog="Example: restpoint register return DI-7 --reason 'repaired' ...")
@_changing
def return_to_use(**asked: Any) -> int:
    """Return a gauge or a standard to use that was withdrawn."""
    return _change("returned to use", **asked)


def _change(
    what: Literal["withdrawn", "returned to use"],
    name: str,
    logbook_file: Path,
    operator: str,
    reason: str,
    by: str | None,
    about: Literal["gauge", "standard"] | None,
) -> int:
    from daq.calibration.fleet import fleet_of
    from daq.cli.register_words import change_of
    from daq.logbook import Logbook

    with Logbook.open(logbook_file) as logbook:
        fleet = fleet_of(logbook)
        record = change_of(fleet, (about, name), what, reason, (operator, by), datetime.now(UTC))
        logbook.append(record)
    click.echo(f"{record.about} {name} {what} by {record.by}: {reason}")
    return 0
