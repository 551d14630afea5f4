"""What the register says of the gauges of a job, kept with the job when it is taken up."""

from collections.abc import Mapping
from datetime import UTC, date, datetime
from decimal import Context, Decimal
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from daq.calibration.fleet import Fleet
    from daq.jobs.keeping import KeptJob
    from daq.logbook import Logbook, LogbookReader
    from daq.logbook.calibration import CalibrationBegun, CalibrationResult
    from daq.logbook.job import JobGauge, JobTableRow

_FINE = Context(prec=28)
_FINEST_MM = Decimal("0.000000001")
_RECTANGULAR = _FINE.sqrt(Decimal(3))
"""A bound over the standard deviation of what lies anywhere within it (JCGM 100:2008, 4.3.7)."""


def ask_the_register(
    logbook: "Logbook",
    kept: "KeptJob",
    identities: Mapping[str, str],
    operator: str,
    now: datetime | None = None,
) -> None:
    """Keep how every gauge of a job stands by its calibration, where that is news.

    Without a register of gauges in the logbook nothing is kept and nothing is asked.

    Args:
        logbook: the job's, with the register.
        kept: the job; what is new is added to it.
        identities: by role, the adapter that the gauge is on now, or empty.
        operator: who takes the job up.
        now: the wall clock, aware; the register goes by days in UTC.
    """
    if next(iter(logbook.entries(kind="gauge")), None) is None:
        return
    from daq.calibration.fleet import fleet_of
    from daq.jobs.calibrated import is_changed
    from daq.logbook import new_uid
    from daq.logbook.job import JobCalibration

    at = now or datetime.now(UTC)
    fleet = fleet_of(logbook)
    latest = {each.role: each for each in kept.records if isinstance(each, JobCalibration)}
    for gauge in kept.begun.gauges:
        known = JobCalibration(
            uid=new_uid(),
            at=at,
            operator=operator,
            job=kept.begun.uid,
            role=gauge.role,
            label=gauge.label,
            **_known(
                logbook,
                fleet,
                gauge,
                identities.get(gauge.role) or gauge.identity,
                at.astimezone(UTC).date(),
            ),
        )
        if is_changed(latest.get(gauge.role), known):
            entry = logbook.append(known)
            kept.records.append(known)
            kept.sequences[known.uid] = entry.sequence


def _known(
    logbook: "LogbookReader", fleet: "Fleet", gauge: "JobGauge", identity: str, on: date
) -> dict[str, Any]:
    """What the register says of a gauge on a day, as fields of the record."""
    from daq.calibration.fleet import bench_status

    unknown = {
        "standing": "not in the register",
        "usable": False,
        "certificate": "",
        "due": None,
        "from_mm": None,
        "to_mm": None,
        "rests_on": None,
        "worst_mm": None,
        "table": (),
    }
    status = bench_status(fleet, gauge.label, identity, on)
    assert status is not None  # without a register nobody asks
    if not status.label:
        return {**unknown, "words": status.words}
    entered, last = fleet.entry(status.label), fleet.last_calibration(status.label, on)
    said = {
        **unknown,
        "standing": status.standing,
        "usable": status.is_usable,
        "words": status.words,
        "due": status.due,
        "from_mm": status.from_mm,
        "to_mm": status.to_mm,
    }
    if last is None:
        return said
    begun, ended = last
    said |= {"certificate": ended.certificate, "rests_on": ended.uid}
    result = _result(logbook, begun.uid)
    if result is None:
        return said
    said["worst_mm"] = worst_mm(result)
    if entered.is_a == "depth gauge":
        said["table"] = _table(begun, result)
    return said


def _result(logbook: "LogbookReader", calibration: str) -> "CalibrationResult | None":
    """What a calibration found of the gauge as it was left; as found, if nobody adjusted it."""
    from daq.logbook.calibration import CalibrationResult

    found = {
        entry.record.run: entry.record
        for entry in logbook.entries(kind="calibration result")
        if isinstance(entry.record, CalibrationResult) and entry.record.calibration == calibration
    }
    return found.get("as left") or found.get("as found")


def _table(begun: "CalibrationBegun", result: "CalibrationResult") -> "tuple[JobTableRow, ...]":
    """The correction table, or nothing where it is not known where its zero lay.

    A plunger that was pressed in before the zero was not level with the foot.
    """
    from daq.calibration.errors import PlanError
    from daq.calibration.plan_file import plan_from_bytes

    try:
        plan = plan_from_bytes(begun.plan_toml.encode(), begun.plan_name)
    except PlanError:
        return ()
    return table_rows(result, plan.heading.base_mm) if not plan.heading.preload_mm else ()


def table_rows(result: "CalibrationResult", base_mm: Decimal) -> "tuple[JobTableRow, ...]":
    """The correction table of a depth gauge's calibration, as a job takes it.

    Args:
        result: of the run as the gauge was left.
        base_mm: what the gauge stood on at the zero of its calibration; the table is counted from
            the flat beneath.
    """
    from daq.logbook.job import JobTableRow

    rows: list[JobTableRow] = []
    for each in result.correction:
        # There it was zeroed, so that it reads nothing by definition.
        reading_mm = each.reading_mm if each.nominal_mm else Decimal(0)
        ways_mm = _FINE.divide(each.between_ways_mm, 2 * _RECTANGULAR)
        u_mm = _FINE.sqrt(_FINE.add(each.u_mm**2, ways_mm**2)).quantize(_FINEST_MM)
        rows.append(
            JobTableRow(length_mm=reading_mm + base_mm, error_mm=-each.correction_mm, u_mm=u_mm)
        )
    return tuple(rows)


def worst_mm(result: "CalibrationResult") -> Decimal:
    """The most that a gauge may read wrong anywhere: the largest error with its uncertainty."""
    return max(abs(each.error_mm) + each.expanded_mm for each in result.points)
