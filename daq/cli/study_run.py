"""restpoint study run: walk through a study at the gauge, and keep every value."""

from contextlib import ExitStack
from pathlib import Path
from typing import TYPE_CHECKING, Literal, cast

import click

from daq.cli.options import gauge_from, gauges_option, station_name

if TYPE_CHECKING:
    from collections.abc import Callable

    from daq.calibration.study.guided import StudyTask
    from daq.calibration.study.guided_kept import KeptStudy
    from daq.calibration.study.guided_plan import StudyPlan
    from daq.logbook import Logbook
    from daq.measure.gauges import Gauge
    from daq.measure.station import Station


@click.command(
    epilog="Example: restpoint study run grooves.toml --logbook lab.logbook --gauge D07 "
    "--operator 'R. Ahlers'"
)
@click.argument("plan_file", metavar="PLAN", type=click.Path(dir_okay=False, path_type=Path))
@click.option(
    "--logbook",
    "logbook_file",
    required=True,
    type=click.Path(dir_okay=False, path_type=Path),
    help="The logbook; it is begun if there is none.",
)
@click.option(
    "--gauge",
    "given",
    help="A label from the gauges file, or PROFILE@PORT.",
)
@click.option("--operator", required=True, help="Who leads the study.")
@click.option(
    "--end", "reason", metavar="REASON", help="Measure nothing: end the open study, and say why."
)
@gauges_option
def command(
    plan_file: Path,
    logbook_file: Path,
    given: str | None,
    operator: str,
    reason: str | None,
    gauges_file: Path | None,
) -> int:
    """Walk through a study, value by value, in the order that its seed has drawn.

    PLAN is a TOML file; docs/studies.md says how to write one. A study by the same plan with the
    same gauge that has not ended goes on where it stands, whatever stopped it; a study of
    stability gets one more session. The space bar or a foot switch takes the settled value, b takes
    the last one again, q stops for now.

    Without a terminal, commands are read from the standard input, one a line: go, back, trust,
    quit. The exit status is 0 if every value is there and 3 if it is to be gone on with.
    """
    from daq.calibration.study.guided_plan import study_plan_from_bytes
    from daq.cli.job_commands import take_part
    from daq.cli.job_opening import await_ports
    from daq.logbook import Logbook
    from daq.measure.capture import Bench
    from daq.measure.station import Station
    from daq.screen.study_run import StudyRun

    plan = study_plan_from_bytes(_bytes(plan_file), str(plan_file))
    if reason is not None:
        return _end(plan, logbook_file, operator, reason)
    if given is None:
        raise click.UsageError("Say which gauge: --gauge LABEL or --gauge PROFILE@PORT.")
    gauge = gauge_from(given, gauges_file)
    with ExitStack() as stack:
        logbook = stack.enter_context(Logbook.open(logbook_file))
        bench = Bench(station_name(), operator)
        station = stack.enter_context(Station([gauge], logbook=logbook, bench=bench))
        await_ports(station, [gauge.label])
        kept = _open(logbook, plan)
        if kept is None:
            kept = _begin(logbook, plan, gauge, station, operator)
        _require_same_gauge(kept, gauge, station)
        part = take_part(stack, operator)
        # What is told of a job's task, a study's has too: what it asks for.
        told = cast("Callable[[StudyTask], object]", part.told)
        StudyRun(
            station, logbook, kept, gauge.label, operator, part.show, part.commands, told
        ).run()
    return _farewell(kept, logbook_file)


def _farewell(kept: "KeptStudy", logbook_file: Path) -> int:
    """Say how far it has come, and how to go on or see it."""
    count, see = len(kept.standing_points), f"restpoint study log {logbook_file}"
    if kept.begun.design == "stability":
        full = count % kept.begun.trials == 0
        there = "1 value is" if count == 1 else f"{count} values are"
        click.echo(f"{there} in the logbook. To see what it comes to: {see}")
        return 0 if full else 3
    of = len(kept.begun.order)
    how = "ended" if kept.ended else "open; the same command goes on with it"
    click.echo(f"{count} of {of} values are there. The study is {how}.")
    if kept.ended:
        click.echo(f"To see what it comes to: {see}")
    return 0 if kept.ended else 3


def _bytes(plan_file: Path) -> bytes:
    """What the file holds.

    Raises:
        PlanError: it cannot be read.
    """
    from daq.calibration.errors import PlanError

    try:
        return plan_file.read_bytes()
    except OSError as error:
        raise PlanError(f"{plan_file} cannot be read: {error.strerror}") from error


def _open(logbook: "Logbook", plan: "StudyPlan") -> "KeptStudy | None":
    """The study by this plan that has not ended."""
    from daq.calibration.study.guided_kept import kept_study, studies_in

    for begun in reversed(list(studies_in(logbook))):
        if begun.plan_sha256 == plan.fingerprint:
            kept = kept_study(logbook, begun.uid)
            if kept is not None and kept.ended is None:
                return kept
    return None


def _require_same_gauge(kept: "KeptStudy", gauge: "Gauge", station: "Station") -> None:
    """Refuse to go on with another gauge than the study was begun with.

    Raises:
        click.UsageError: with what to do.
    """
    begun, identity = kept.begun, station.identity(gauge.label)
    if begun.gauge_label != gauge.label or (begun.identity and identity != begun.identity):
        raise click.UsageError(
            f"The study was begun with {begun.gauge_label} on adapter "
            f"{begun.identity or 'without identity'}; this is {gauge.label} on "
            f"{identity or 'one without identity'}. Plug in the one that was used before."
        )


def _end(plan: "StudyPlan", logbook_file: Path, operator: str, reason: str) -> int:
    """End the open study: broken off, or complete where no end was known beforehand.

    Raises:
        click.UsageError: there is none, or no reason.
    """
    from datetime import UTC, datetime

    from daq.calibration.study.guided import Stamp, ended
    from daq.logbook import Logbook

    if not reason.strip():
        raise click.UsageError("Say why the study ends: --end 'REASON'.")
    if not logbook_file.exists():
        raise click.UsageError(f"There is no logbook {logbook_file}, and so no study to end.")
    with Logbook.open(logbook_file) as logbook:
        kept = _open(logbook, plan)
        if kept is None:
            raise click.UsageError(f"{logbook_file} has no open study by {plan.name}.")
        stamp = Stamp(operator, datetime.now(UTC))
        how: Literal["complete", "broken off"] = "broken off"
        if kept.begun.design == "stability":
            how = "complete"
        logbook.append(ended(kept, how, reason.strip(), stamp))
    click.echo(f"The study is {how}: {reason.strip()}.")
    return 0


def _begin(
    logbook: "Logbook", plan: "StudyPlan", gauge: "Gauge", station: "Station", operator: str
) -> "KeptStudy":
    """A new study, on the disk."""
    from datetime import UTC, datetime

    from daq.calibration.study.guided import Stamp, begun
    from daq.calibration.study.guided_kept import KeptStudy

    facts = {
        "gauge_label": gauge.label,
        "identity": station.identity(gauge.label),
        "profile": gauge.profile.name,
        "resolution_mm": min(s * u.in_mm for u, s in gauge.profile.resolution.items()),
    }
    stamp = Stamp(operator, datetime.now(UTC))
    first = begun(plan, stamp=stamp, station=station_name(), gauge=facts)
    entry = logbook.append(first)
    return KeptStudy(first, sequences={first.uid: entry.sequence})
