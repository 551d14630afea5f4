"""Beginning a job, or going on with one: what is known of the gauges when it starts."""

import time
from typing import TYPE_CHECKING

import click

from daq.cli.options import station_name

if TYPE_CHECKING:
    from daq.jobs.keeping import KeptJob
    from daq.jobs.sheet import Sheet
    from daq.logbook import Logbook
    from daq.logbook.job import JobGauge
    from daq.measure.gauges import Gauge
    from daq.measure.station import Station


def await_ports(station: "Station", labels: list[str]) -> None:
    """Wait until every port has been opened, so that its adapter's identity is known."""
    deadline_s = time.monotonic() + 5.0
    while not all(station.port(label) for label in labels) and time.monotonic() < deadline_s:
        station.next(0.05)


def open_job(logbook: "Logbook", sheet: "Sheet", engine: str) -> "KeptJob | None":
    """The job on this engine, by this sheet, that was not ended."""
    from daq.jobs.keeping import jobs_in, kept_job

    for begun in reversed(list(jobs_in(logbook))):
        if begun.engine == engine and begun.sheet_sha256 == sheet.fingerprint:
            kept = kept_job(logbook, begun.uid)
            if kept is not None and kept.ended is None:
                return kept
    return None


def open_or_begin(
    logbook: "Logbook",
    sheet: "Sheet",
    engine: str,
    operator: str,
    variant: str | None,
    gauges: "dict[str, Gauge]",
    station: "Station",
) -> "KeptJob":
    """The job that was not ended, or a new one.

    One in which nothing has been captured is broken off if other gauges are named now.
    """
    kept = open_job(logbook, sheet, engine)
    if kept is not None and not is_to_begin_anew(kept, gauges, station):
        return kept
    begun = begin_job(logbook, sheet, engine, operator, variant, gauges, station)
    if kept is not None:
        break_off(logbook, kept, operator)
    return begun


def begin_job(
    logbook: "Logbook",
    sheet: "Sheet",
    engine: str,
    operator: str,
    variant: str | None,
    gauges: "dict[str, Gauge]",
    station: "Station",
) -> "KeptJob":
    """A new job, on the disk."""
    from datetime import UTC, datetime

    from daq.jobs.keeping import KeptJob
    from daq.logbook import new_uid
    from daq.logbook.job import JobBegun, JobGauge

    names = [each.name for each in sheet.variants]
    if variant is None and len(names) > 1:
        raise click.UsageError(
            f"The sheet is for several variants: {'; '.join(names)}. Read the engine's plate and "
            "choose one with --variant."
        )
    chosen = sheet.variant(variant if variant is not None else names[0]).name
    begun = JobBegun(
        uid=new_uid(),
        at=datetime.now(UTC),
        station=station_name(),
        operator=operator,
        engine=engine,
        sheet_title=sheet.title,
        sheet_revision=sheet.revision,
        sheet_sha256=sheet.fingerprint,
        sheet_toml=sheet.text,
        variant=chosen,
        gauges=tuple(
            JobGauge(
                role=role,
                label=gauge.label,
                profile=gauge.profile.name,
                identity=station.identity(gauge.label),
                resolution_mm=min(s * u.in_mm for u, s in gauge.profile.resolution.items()),
                calibration="",
            )
            for role, gauge in gauges.items()
        ),
    )
    entry = logbook.append(begun)
    return KeptJob(begun, sequences={begun.uid: entry.sequence})


def is_to_begin_anew(kept: "KeptJob", gauges: "dict[str, Gauge]", station: "Station") -> bool:
    """Whether other gauges were named for a job in which nothing has been captured yet.

    A gauge whose adapter does not say who it is may be the same, with its cable out.
    """
    for known in kept.begun.gauges:
        gauge = gauges.get(known.role)
        if gauge is None:
            continue
        identity = station.identity(gauge.label) or known.identity
        if _is_other(known, gauge, identity):
            return not kept.captures
    return False


def break_off(logbook: "Logbook", kept: "KeptJob", operator: str) -> None:
    """End a job in which nothing was captured, since it is begun anew with other gauges."""
    from datetime import UTC, datetime

    from daq.logbook import new_uid
    from daq.logbook.job import JobEnded

    logbook.append(
        JobEnded(
            uid=new_uid(),
            at=datetime.now(UTC),
            operator=operator,
            job=kept.begun.uid,
            how="broken off",
            reason="begun anew with other gauges, before anything was captured",
        )
    )


def _is_other(known: "JobGauge", gauge: "Gauge", identity: str) -> bool:
    return gauge.label != known.label or bool(known.identity and identity != known.identity)


def require_same_gauges(kept: "KeptJob", gauges: "dict[str, Gauge]", station: "Station") -> None:
    """Refuse to go on with other gauges than the job was begun with.

    Raises:
        click.UsageError: with the role, and what to do.
    """
    for known in kept.begun.gauges:
        gauge = gauges.get(known.role)
        if gauge is None:
            continue
        identity = station.identity(gauge.label)
        if _is_other(known, gauge, identity):
            raise click.UsageError(
                f"{known.role!r} was begun with gauge {known.label} on adapter "
                f"{known.identity or 'without identity'}; this is {gauge.label} on "
                f"{identity or 'one without identity'}. Plug in the one that was used before."
            )
