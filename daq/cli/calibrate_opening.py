"""Beginning a calibration, or going on with one: what the register says of gauge and standard."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from daq.logbook.calibration import CalibrationBegun, CalibrationEnded
from daq.logbook.records import Note
from daq.logbook.register import GaugeEntered, StandardEntered

if TYPE_CHECKING:
    from daq.calibration.due import Calibrated, Proposal
    from daq.calibration.fleet import Fleet
    from daq.calibration.guided import Order
    from daq.calibration.kept import KeptCalibration
    from daq.calibration.plan import Plan
    from daq.logbook import Logbook, LogbookReader
    from daq.measure.gauges import Gauge
    from daq.measure.station import Station


@dataclass(frozen=True, slots=True)
class Wanted:
    """What was asked for on the command line.

    ``standard`` and ``flat`` are ids; None for what was not said.
    """

    gauge: str
    standard: str | None
    flat: str | None
    plan: "Plan | None"


def standard_entry(fleet: "Fleet", name: str, on: date) -> StandardEntered:
    """The newest entry of a standard, which may be used on a day.

    Raises:
        RegisterError: it was never entered.
        click.UsageError: it is past its date, or was withdrawn.
    """
    status = fleet.standard_status(name, on)
    if not status.is_usable:
        raise click.UsageError(f"{status.words.rstrip('.')}. It cannot be used.")
    return fleet.standard_entry(name)


def open_calibration(logbook: "LogbookReader", label: str) -> "KeptCalibration | None":
    """The newest calibration of a gauge that has neither ended nor been taken back."""
    from daq.calibration.kept import calibrations_in, kept_calibration

    gone = {
        entry.record.about
        for entry in logbook.entries(kind="note")
        if isinstance(entry.record, Note) and entry.record.purpose == "withdrawal"
    }
    over = {
        entry.record.calibration
        for entry in logbook.entries(kind="calibration end")
        if isinstance(entry.record, CalibrationEnded) and entry.record.uid not in gone
    }
    there = [each for each in calibrations_in(logbook) if each.gauge_label == label]
    still = [each for each in there if each.uid not in gone and each.uid not in over]
    return kept_calibration(logbook, still[-1].uid) if still else None


def require_same(kept: "KeptCalibration", wanted: Wanted) -> None:
    """Refuse to go on with another standard or plan than a calibration was begun with.

    Raises:
        click.UsageError: with what to do.
    """
    begun = kept.begun
    since = f"The calibration of {begun.gauge_label} of {begun.at:%Y-%m-%d} is still open, begun "
    hint = "Go on with it as it was begun, or end it with --break-off REASON."
    flat = kept.flat.id if kept.flat is not None else None
    if wanted.standard not in (None, kept.standard.id) or wanted.flat not in (None, flat):
        own = " and ".join(each for each in (kept.standard.id, flat) if each)
        raise click.UsageError(f"{since}with {own}. {hint}")
    if wanted.plan is not None and wanted.plan.fingerprint != begun.plan_sha256:
        raise click.UsageError(f"{since}by another plan ({begun.plan_name}). {hint}")


def begin_calibration(
    logbook: "Logbook", wanted: Wanted, fleet: "Fleet", order: "Order", operator: str
) -> "KeptCalibration":
    """A new calibration, on the disk.

    Raises:
        click.UsageError: no standard was named, or it may not be used.
        RegisterError: the gauge or the standard was never entered.
        CalibrationError: the plan, or what the register has, will not do.
    """
    from daq.calibration.entered import gauge_of, standard_of
    from daq.calibration.guided import begun
    from daq.calibration.kept import kept_calibration
    from daq.calibration.plan_default import default_plan

    if wanted.standard is None:
        raise click.UsageError("Say against which standard: --standard ID.")
    now, entry = datetime.now(UTC), fleet.entry(wanted.gauge)
    standard = standard_entry(fleet, wanted.standard, now.date())
    flat = None
    if wanted.flat is not None:
        flat = standard_entry(fleet, wanted.flat, now.date())
    gauge = gauge_of(entry)
    plan = wanted.plan or default_plan(
        gauge.range_mm, gauge.step_mm, standard_of(standard), kind=gauge.kind
    )
    record: CalibrationBegun = begun(entry, standard, flat, plan, order, operator=operator, at=now)
    logbook.append(record)
    kept = kept_calibration(logbook, record.uid)
    assert kept is not None  # it was just begun
    return kept


def plan_in(path: Path) -> "Plan":
    """The plan in a file.

    Raises:
        PlanError: it cannot be read, or has mistakes; all of them.
    """
    from daq.calibration.errors import PlanError
    from daq.calibration.plan_file import plan_from_bytes

    try:
        return plan_from_bytes(path.read_bytes(), path.name)
    except OSError as error:
        raise PlanError(f"{path} cannot be read: {error.strerror}.") from error


def gauge_at(entry: GaugeEntered, port: str | None) -> "Gauge":
    """The gauge to read: by its adapter's identity, or at a port that was named.

    Raises:
        click.UsageError: nobody said where it is, or its profile cannot show its step.
        ProfileError: its profile does not exist or has mistakes.
    """
    from daq.calibration.fields import brief_mm
    from daq.measure.gauges import Gauge
    from drivers.discovery import SCHEME
    from drivers.profiles import load_profile

    profile = load_profile(entry.profile)
    steps_mm = [step * unit.in_mm for unit, step in profile.resolution.items()]
    if entry.step_mm not in steps_mm:
        raise click.UsageError(
            f"{entry.label} was entered with a step of {brief_mm(entry.step_mm)}, and "
            f"{entry.profile} shows {' or '.join(map(brief_mm, steps_mm))}. Enter the gauge with "
            "the profile and the step that it has."
        )
    if port is None and not entry.identity.startswith(SCHEME):
        how = f"as on {entry.identity}, which is" if entry.identity else "with"
        raise click.UsageError(
            f"{entry.label} was entered {how} no identity that an adapter can be found by. Say "
            "where it is: --port PORT. restpoint find lists ports and identities."
        )
    return Gauge(entry.label, profile, port or entry.identity)


def require_same_adapter(entry: GaugeEntered, station: "Station") -> None:
    """Refuse a gauge on another adapter than it was entered with.

    Raises:
        click.UsageError: with what to do.
    """
    from daq.calibration.fleet.fleet import is_same_adapter

    identity = station.identity(entry.label)
    if not station.port(entry.label) or not entry.identity:
        return
    if identity and is_same_adapter(entry.identity, identity):
        return
    raise click.UsageError(
        f"{entry.label} was entered on adapter {entry.identity}, and this is "
        f"{identity or 'one without identity'}. Plug in {entry.label}, or enter it anew."
    )


def certificate_numbers(logbook: "LogbookReader") -> frozenset[str]:
    """The numbers of all certificates in a logbook."""
    ends = (entry.record for entry in logbook.entries(kind="calibration end"))
    return frozenset(
        each.certificate for each in ends if isinstance(each, CalibrationEnded) and each.certificate
    )


def due_by_fleet(fleet: "Fleet", label: str) -> "Callable[[Calibrated], Proposal]":
    """When a gauge would be due next, by its policy and the history of the whole fleet."""
    return lambda calibrated: fleet.next_due(label, calibrated.on, as_if=calibrated)
