"""What the register says of a gauge when it is plugged in, for the commands at the bench."""

from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from daq.calibration.fleet import BenchStatus
    from daq.logbook import LogbookReader


def filled(ctx: click.Context, option: click.Parameter, given: str | None) -> str | None:  # noqa: ARG001
    """What was typed, without blanks at its ends; a name or a reason is never empty."""
    if given is not None and not given.strip():
        raise click.UsageError(f"{option.opts[0]} is empty; write it out, it is kept for good.")
    return given.strip() if given is not None else None


register_option = click.option(
    "--register",
    "register_file",
    type=click.Path(exists=True, dir_okay=False, path_type=Path),
    envvar="RESTPOINT_REGISTER",
    help="A logbook with a register that says how the gauge stands.",
)


def asking(
    label: str, register_file: Path | None, logbook: "LogbookReader | None" = None
) -> "Callable[[str], BenchStatus | None]":
    """What is asked of a register when a gauge appears, by its adapter's identity.

    Args:
        label: what the gauge is called at the bench.
        register_file: the logbook that holds the register; None for ``logbook``.
        logbook: the one that is captured in, if any.

    Raises:
        LogbookError: the register's logbook cannot be read.
    """
    if register_file is None and (logbook is None or _is_without_gauges(logbook)):
        return lambda _: None
    from daq.calibration.fleet import bench_status, fleet_of
    from daq.logbook import Logbook

    if register_file is not None:
        with Logbook.read(register_file) as book:
            fleet = fleet_of(book)
    else:
        assert logbook is not None  # or there was nothing to ask
        fleet = fleet_of(logbook)
    for words in fleet.unreadable:
        click.echo(f"{words} What the register says leaves it out.", err=True)
    # The register goes by days in UTC, as its records do.
    return lambda identity: bench_status(fleet, label, identity, datetime.now(UTC).date())


def _is_without_gauges(logbook: "LogbookReader") -> bool:
    return next(iter(logbook.entries(kind="gauge")), None) is None


def facts_of(status: "BenchStatus | None") -> dict[str, Any] | None:
    """How a gauge stands, as JSON has it; None where no register says so."""
    if status is None:
        return None
    return {
        "standing": status.standing,
        "usable": status.is_usable,
        "due": status.due.isoformat() if status.due else None,
        "from_mm": None if status.from_mm is None else float(status.from_mm),
        "to_mm": None if status.to_mm is None else float(status.to_mm),
        "words": status.words,
    }
