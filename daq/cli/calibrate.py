"""restpoint calibrate: walk through the calibration of a gauge, keep what was found and left."""

from collections.abc import Callable
from contextlib import ExitStack
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from daq.cli.options import program, station_name

if TYPE_CHECKING:
    from daq.calibration.guided import Order, Standing
    from daq.cli.calibrate_commands import CalibrationPart
    from daq.cli.calibrate_opening import Wanted
    from daq.logbook import Logbook

_FILE = click.Path(dir_okay=False, path_type=Path)

F = TypeVar("F", bound=Callable[..., Any])
TakePart = Callable[[ExitStack, str], "CalibrationPart"]
"""Makes who takes part, given what closes it and the label of the gauge."""


def calibrate_options(function: F) -> F:
    """What every run of a calibration takes."""
    for option in reversed(
        (
            click.argument("gauge"),
            click.option(
                "--logbook",
                "logbook_file",
                required=True,
                type=click.Path(exists=True, dir_okay=False, path_type=Path),
                help="The logbook that gauge and standard were entered in.",
            ),
            click.option("--operator", required=True, help="Who works."),
            click.option("--standard", help="The standard's id; needed to begin."),
            click.option(
                "--flat", help="The flat on which it is zeroed, if that has a certificate."
            ),
            click.option(
                "--plan", type=_FILE, help="A plan (TOML). Without it, the default for the range."
            ),
            click.option(
                "--port", help="Where the gauge is. Without it, its adapter is looked for."
            ),
            click.option("--rule", default="simple", show_default=True, help="The decision rule."),
            click.option(
                "--largest-u",
                metavar="LENGTH",
                help='The most that U may be, such as "0.002 mm".',
            ),
            click.option(
                "--level", default="0.95", show_default=True, help="Level of confidence of U."
            ),
            click.option("--place", default="", help="Where it is done."),
            click.option("--customer", default="", help="For whom."),
            click.option("--order", default="", help="The number of the order."),
            click.option("--by-key", is_flag=True, help="Take nothing by itself."),
            click.option(
                "--monte-carlo", is_flag=True, help="Hold the budgets against random draws."
            ),
        )
    ):
        function = option(function)
    return function


@click.command(
    epilog="Example: restpoint calibrate DI-7 --standard blocks-1 --logbook lab.logbook "
    "--operator 'M. Lind'"
)
@calibrate_options
@click.option("--break-off", metavar="REASON", help="End an open calibration, no certificate.")
def command(break_off: str | None, **asked: Any) -> int:
    """Walk through the calibration of a gauge, point by point.

    GAUGE is a label from the register in the logbook. A calibration of it that was begun and not
    ended goes on where it stands, whatever stopped it. The screen names the next block and takes
    the value by itself once it rests there; the zero, a bench and --by-key want the space bar. What
    looks like a mistake is refused, with the reason. b takes the last point again, s begins the run
    anew, o insists, q stops for now. When all is found: a if the gauge was adjusted, n if not.

    Without a terminal, commands are read from the standard input, one a line: temp 20.1, go, back,
    anew WHY, insist WHY | NAME, adjusted WHAT, unadjusted, end NUMBER | NAME | REMARKS, trust,
    quit.

    The exit status is 0 if it ended with a pass as left, 1 if it ended otherwise, 3 if it is open.
    docs/calibrating.md says more.
    """
    from daq.cli.calibrate_commands import take_part
    from daq.logbook import Logbook

    operator = asked["operator"]
    if break_off is not None:
        with Logbook.open(asked["logbook_file"]) as logbook:
            return _break_off(logbook, asked["gauge"], break_off, operator)
    return run_calibration(asked, lambda stack, _: take_part(stack, operator))


def run_calibration(asked: dict[str, Any], take_part: TakePart) -> int:
    """Run a calibration from where it stands until it ends or somebody stops.

    Args:
        asked: the values of ``calibrate_options``.
        take_part: who takes part.

    Returns:
        The exit status of ``restpoint calibrate``.
    """
    from daq.cli.calibrate_opening import Wanted, plan_in
    from daq.logbook import Logbook

    plan = plan_in(asked["plan"]) if asked["plan"] is not None else None
    wanted = Wanted(asked["gauge"], asked["standard"], asked["flat"], plan)
    with ExitStack() as stack:
        logbook = stack.enter_context(Logbook.open(asked["logbook_file"]))
        stands = _calibrate(stack, logbook, wanted, asked, take_part)
    return _say(stands, asked["logbook_file"])


def _calibrate(
    stack: ExitStack,
    logbook: "Logbook",
    wanted: "Wanted",
    asked: dict[str, Any],
    take_part: TakePart,
) -> "Standing":
    from daq.calibration.fleet import fleet_of
    from daq.cli.calibrate_opening import (
        begin_calibration,
        certificate_numbers,
        due_by_fleet,
        gauge_at,
        open_calibration,
        require_same,
        require_same_adapter,
    )
    from daq.cli.job_opening import await_ports
    from daq.measure.capture import Bench
    from daq.measure.station import Station
    from daq.screen.calibration_run import CalibrationRun

    operator = asked["operator"]
    kept = open_calibration(logbook, wanted.gauge)
    if kept is not None:
        require_same(kept, wanted)
    fleet = fleet_of(logbook)
    entry = kept.gauge if kept is not None else fleet.entry(wanted.gauge)
    reads = gauge_at(entry, asked["port"])
    order = _order(asked)
    bench = Bench(station_name(), operator)
    station = stack.enter_context(Station([reads], logbook=logbook, bench=bench))
    await_ports(station, [entry.label])
    require_same_adapter(entry, station)
    if kept is None:
        kept = begin_calibration(logbook, wanted, fleet, order, operator)
    part = take_part(stack, entry.label)
    return CalibrationRun(
        station,
        logbook,
        kept,
        operator,
        part.show,
        part.commands,
        due_by_fleet(fleet, entry.label),
        certificate_numbers(logbook),
        part.told,
        by_key=asked["by_key"],
        with_monte_carlo=asked["monte_carlo"],
    ).run()


def _order(asked: dict[str, Any]) -> "Order":
    """How it is judged, and for whom.

    Raises:
        click.UsageError: the level is none.
        SpecError: the rule or the length cannot be read.
    """
    from daq.calibration.guided import Order
    from daq.cli.calibrate_commands import number_of
    from daq.spec import rule_from
    from daq.spec.units import length_mm

    level = number_of(asked["level"])
    if level is None or not 0 < level < 1:
        raise click.UsageError(f"--level {asked['level']!r}: write a share such as 0.95.")
    largest = asked["largest_u"]
    return Order(
        rule=rule_from(asked["rule"]),
        level=level,
        largest_expanded_mm=None if largest is None else length_mm(largest),
        station=station_name(),
        place=asked["place"],
        customer=asked["customer"],
        order=asked["order"],
    )


def _break_off(logbook: "Logbook", label: str, reason: str, operator: str) -> int:
    """End an open calibration without a certificate."""
    from daq.calibration.guided import Stamp, broken_off, standing
    from daq.cli.calibrate_opening import open_calibration

    kept = open_calibration(logbook, label)
    if kept is None:
        raise click.UsageError(f"No calibration of {label!r} is open in {logbook.path}.")
    logbook.append(broken_off(standing(kept), reason, Stamp(operator, datetime.now(UTC))))
    click.echo(f"The calibration of {label} of {kept.begun.at:%Y-%m-%d} is broken off: {reason}")
    return 0


def _say(stands: "Standing", path: Path) -> int:
    """What came of it, and what to do next; the exit status."""
    ended, run = stands.ended, stands.current
    if ended is None:
        of = len(stands.prepared.plan.stops)
        click.echo(
            f"{len(run.points)} of {of} points {run.run}. It is open; the same command goes on "
            f"with it. Logbook: {path}."
        )
        return 3
    if ended.how == "complete":
        found = ended.as_found or "not known"
        click.echo(f"{stands.gauge.label}: as found {found}, as left {ended.as_left}.")
        due = f"Due on {ended.due}. " if ended.due is not None else ""
        click.echo(f"{due}{ended.due_words}")
        click.echo("The certificate:")
        click.echo(f"  {program()} certificate {ended.certificate} --logbook {path} --html --pdf")
    return 0 if ended.as_left == "pass" else 1
