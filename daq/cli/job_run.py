"""restpoint job run: walk a fitter through a job sheet, and keep what was found and left."""

from collections.abc import Callable
from contextlib import ExitStack
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from daq.cli.options import gauges_option, station_name

if TYPE_CHECKING:
    from daq.cli.job_commands import JobPart
    from daq.jobs.sheet import Sheet
    from daq.measure.gauges import Gauge


F = TypeVar("F", bound=Callable[..., Any])
TakePart = Callable[[ExitStack, tuple[str, ...]], "JobPart"]
"""Makes who takes part, given what closes it and the labels of the gauges."""


def job_options(function: F) -> F:
    """What every run of a job takes: the sheet, the logbook, the engine, who works, the gauges."""
    for option in reversed(
        (
            click.argument("sheet", type=click.Path(dir_okay=False, path_type=Path)),
            click.option(
                "--logbook",
                "logbook_file",
                required=True,
                type=click.Path(dir_okay=False, path_type=Path),
                help="The logbook; it is begun if there is none.",
            ),
            click.option(
                "--engine", required=True, help="Which engine: its serial number or its name."
            ),
            click.option("--operator", required=True, help="Who works."),
            click.option(
                "--variant",
                help="Which of the sheet's variants; needed to begin if it has several.",
            ),
            click.option(
                "--gauge",
                "given",
                multiple=True,
                help="ROLE=GAUGE, once for each role of the sheet: a label from the gauges file, "
                "or PROFILE@PORT. One gauge may serve in several roles.",
            ),
            gauges_option,
        )
    ):
        function = option(function)
    return function


@click.command(
    epilog="Example: restpoint job run ferry.toml --logbook aux2.logbook --engine 'auxiliary 2' "
    "--variant '1500 rpm, standby' --operator 'R. Ahlers' --gauge rack=G-14 --gauge height=G-09"
)
@job_options
def command(**asked: Any) -> int:
    """Walk through a job, step by step, and keep what was found and what was left.

    SHEET is a job sheet (TOML). A job on this engine that was begun by the same sheet and not ended
    goes on where it stands, whatever stopped it. The space bar or a foot switch goes on: it
    confirms what was asked and captures the settled value. b measures the last target again, a
    sets one anew, s skips, o lets a result stand; the last two ask for a reason and a name. q stops
    for now.

    Without a terminal, commands are read from the standard input, one a line: go, go ANGLE, back,
    anew TARGET, skip REASON | NAME, stand REASON | NAME, trust, quit.

    Isolate and lock out starting energy and fuel before barring. The engine maker's current
    figures, local rules and a licensed person's sign-off come before anything shown here.
    """
    from daq.cli.job_commands import take_part

    return run_job(asked, lambda stack, _: take_part(stack, asked["operator"]))


def run_job(asked: dict[str, Any], take_part: TakePart) -> int:
    """Run a job from where it stands until it ends or somebody stops.

    Args:
        asked: the values of ``job_options``.
        take_part: who takes part.

    Returns:
        The exit status: 0 if the job has ended, 3 if it is open.
    """
    from daq.cli.job_calibration import ask_the_register
    from daq.cli.job_opening import await_ports, open_or_begin, require_same_gauges
    from daq.jobs.sheet import load_sheet
    from daq.logbook import Logbook
    from daq.measure.capture import Bench
    from daq.measure.station import Station
    from daq.screen.job_run import JobRun

    sound, operator = load_sheet(asked["sheet"]), asked["operator"]
    gauges = _gauges(sound, asked["given"], asked["gauges_file"])
    with ExitStack() as stack:
        logbook = stack.enter_context(Logbook.open(asked["logbook_file"]))
        bench = Bench(station_name(), operator)
        every = {gauge.label: gauge for gauge in gauges.values()}
        station = stack.enter_context(Station([*every.values()], logbook=logbook, bench=bench))
        await_ports(station, list(every))
        kept = open_or_begin(
            logbook, sound, asked["engine"], operator, asked["variant"], gauges, station
        )
        require_same_gauges(kept, gauges, station)
        on_adapter = {role: station.identity(gauge.label) for role, gauge in gauges.items()}
        ask_the_register(logbook, kept, on_adapter, operator)
        part = take_part(stack, tuple(every))
        labels = {role: gauge.label for role, gauge in gauges.items()}
        stands = JobRun(
            station, logbook, sound, kept, labels, operator, part.show, part.commands, part.told
        ).run()
    done = sum(each.is_done for step in stands.steps.values() for each in step.targets)
    of = sum(len(step.targets) for step in stands.steps.values())
    how = "ended" if stands.ended else "open; the same command goes on with it"
    click.echo(f"{done} of {of} done. The job is {how}. Logbook: {asked['logbook_file']}.")
    return 0 if stands.ended else 3


def _gauges(sheet: "Sheet", given: tuple[str, ...], gauges_file: Path | None) -> "dict[str, Gauge]":
    """By role, the gauge that was named for it.

    Raises:
        click.UsageError: a role has no gauge, or there is no such role.
        GaugeError: there is no such gauge.
    """
    from daq.cli.options import gauge_from

    named: dict[str, str] = {}
    roles = [role.role for role in sheet.gauges]
    for each in given:
        role, equals, gauge = each.partition("=")
        if not equals or role not in roles:
            raise click.UsageError(
                f"--gauge {each!r}: write ROLE=GAUGE; the sheet's roles are: {', '.join(roles)}."
            )
        named[role] = gauge
    used = {step.gauge for step in sheet.steps}
    missing = [role for role in roles if role in used and role not in named]
    if missing:
        raise click.UsageError(
            f"No gauge for: {', '.join(missing)}. Add --gauge ROLE=GAUGE for each."
        )
    found = {role: gauge_from(text, gauges_file) for role, text in named.items()}
    for role, each_found in found.items():
        _fits(sheet, role, each_found)
    return found


def _fits(sheet: "Sheet", role: str, gauge: "Gauge") -> None:
    """Refuse a gauge whose display is too coarse for its role."""
    wanted_mm = sheet.role(role).resolution.mm
    step_mm = min(step * unit.in_mm for unit, step in gauge.profile.resolution.items())
    if step_mm > wanted_mm:
        raise click.UsageError(
            f"{gauge.label} shows steps of {step_mm} mm; {role!r} needs {wanted_mm} mm or finer. "
            "Choose another gauge for it."
        )
