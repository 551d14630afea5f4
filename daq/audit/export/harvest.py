"""What a logbook's records come to in the open log format, one record after another.

A calibration is written when it ends, with the points that its results rest on: those that were
taken back, taken again or only showed that nothing had moved stay in the logbook alone. A capture
that is a point of a calibration is in ``points`` and not in ``captures``.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field

from daq.audit.export.asked import NOTHING, SheetAsks, asked_by
from daq.audit.export.calibration_rows import CalibrationSoFar, calibration_rows
from daq.audit.export.rows import Rows, day_us, nm, us
from daq.logbook import Capture, Note
from daq.logbook.calibration import (
    CalibrationBegun,
    CalibrationEnded,
    CalibrationGate,
    CalibrationPoint,
    CalibrationResult,
)
from daq.logbook.job import JobBegun, JobPoint, JobResult
from daq.logbook.records import Record
from daq.logbook.register import GaugeEntered, StandardEntered

CONTEXT = (
    "job",
    "standard",
    "gauge",
    "note",
    "calibration",
    "calibration gate",
    "calibration point",
    "calibration result",
    "calibration end",
)
"""The kinds of record before the new ones that new ones may rest on."""

_DAYS_A_MONTH = 365.25 / 12


@dataclass
class _Taken:
    """A capture that is not written yet: the records after it say what it was for."""

    capture: Capture
    point: JobPoint | None = None
    result: JobResult | None = None


@dataclass
class Harvest:
    """Takes records in their order.

    ``site`` is used for all rows if it is given; else the station that a record names, or for the
    register the last one named.
    """

    rows: Rows
    site: str = ""
    station: str = ""
    _jobs: dict[str, JobBegun] = field(default_factory=dict)
    _asks: dict[str, SheetAsks] = field(default_factory=dict)
    _standards: dict[str, StandardEntered] = field(default_factory=dict)
    _calibrations: dict[str, CalibrationSoFar] = field(default_factory=dict)
    _withdrawn: set[str] = field(default_factory=set)
    _taken: dict[str, _Taken] = field(default_factory=dict)
    _entered: list[GaugeEntered | StandardEntered] = field(default_factory=list)

    def all_of(self, before: Iterable[Record], new: Iterable[Record]) -> None:
        """The rows of ``new`` records, which may rest on those ``before``."""
        for record in before:
            self.remember(record)
        for record in new:
            self.take(record)
        self.finish()

    def remember(self, record: Record) -> None:
        """A record of an earlier export, which new ones may rest on."""
        if isinstance(record, JobBegun):
            self._jobs[record.uid] = record
            self._asks[record.uid] = asked_by(record)
        elif isinstance(record, StandardEntered):
            self._standards[record.uid] = record
        elif isinstance(record, Note) and record.purpose == "withdrawal" and record.about:
            self._withdrawn.add(record.about)
        elif isinstance(record, CalibrationBegun):
            self._calibrations[record.uid] = CalibrationSoFar(record)
        elif (
            isinstance(
                record, CalibrationGate | CalibrationPoint | CalibrationResult | CalibrationEnded
            )
            and record.calibration in self._calibrations
        ):
            self._calibrations[record.calibration].take(record)

    def take(self, record: Record) -> None:
        """A new record."""
        self.station = getattr(record, "station", "") or self.station
        self.remember(record)
        if isinstance(record, Capture):
            self._taken[record.uid] = _Taken(record)
        elif isinstance(record, JobPoint):
            if taken := self._taken.get(record.capture):
                taken.point = record
        elif isinstance(record, JobResult):
            self._take_result(record)
        elif isinstance(record, CalibrationPoint):
            self._taken.pop(record.capture, None)
        elif isinstance(record, CalibrationEnded):
            self._end(record)
        elif isinstance(record, GaugeEntered | StandardEntered):
            self._entered.append(record)

    def finish(self) -> None:
        """No record follows: captures and the register are written, each in their order."""
        for entered in self._entered:
            if isinstance(entered, GaugeEntered):
                self._gauge(entered)
            else:
                self._standard(entered)
        self._entered.clear()
        for taken in self._taken.values():
            self._capture(taken)
        self._taken.clear()

    def _place(self, station: str = "") -> str:
        return self.site or station or self.station or "unknown"

    def _take_result(self, result: JobResult) -> None:
        if result.master is not None:
            self._check(result)
        elif len(result.captures) == 1 and (taken := self._taken.get(result.captures[0])):
            taken.result = result

    def _capture(self, taken: _Taken) -> None:
        capture, point = taken.capture, taken.point
        job = self._jobs.get(point.job) if point is not None else None
        roles = {each.label: each.role for each in job.gauges} if job is not None else {}
        role = roles.get(capture.gauge.label, "")
        asked = NOTHING
        if point is not None and job is not None:
            asked = self._asks[point.job].of(point.step, role)
        lower_nm, upper_nm, outcome = _limits(taken)
        self.rows.add(
            "captures",
            self._place(capture.station),
            gauge=capture.gauge.label,
            at_us=us(capture.at),
            job=f"{job.engine} / {job.sheet_title}" if job is not None else "",
            feature=_feature(point, capture),
            value_nm=nm(capture.value_mm),
            n=capture.n,
            u_nm=nm(capture.u_mm),
            lower_nm=lower_nm,
            upper_nm=upper_nm,
            operator=capture.operator,
            resolution_nm=nm(capture.resolution_mm),
            role=role,
            outcome=outcome,
            **asked,
        )

    def _check(self, result: JobResult) -> None:
        taken = [self._taken[uid] for uid in result.captures if uid in self._taken]
        if not taken or result.unit != "mm":
            return
        job, spec = self._jobs.get(result.job), result.spec
        within = result.verdict is not None and result.verdict.outcome == "in"
        self.rows.add(
            "checks",
            self._place(taken[-1].capture.station),
            gauge=taken[-1].capture.gauge.label,
            at_us=us(result.at),
            job=f"{job.engine} / {job.sheet_title}" if job is not None else "",
            checked="doubtful" if result.doubts else "held" if within else "moved",
            value_nm=nm(result.value),
            master_nm=nm(spec.nominal_mm if spec is not None else None),
            allowed_nm=nm(spec.upper_mm if spec is not None else None),
            operator=result.operator,
        )

    def _end(self, end: CalibrationEnded) -> None:
        if found := self._calibrations.get(end.calibration):
            standard = self._standards.get(found.begun.standard)
            flat = self._standards.get(found.begun.flat or "")
            place = self._place(found.begun.station)
            calibration_rows(self.rows, found, end, (standard, flat), place, self._withdrawn)

    def _gauge(self, gauge: GaugeEntered) -> None:
        limits = gauge.limits
        self.rows.add(
            "gauges",
            self._place(),
            gauge=gauge.label,
            kind=gauge.is_a,
            step_nm=nm(gauge.step_mm),
            range_nm=nm(gauge.range_mm),
            limit_nm=nm(limits.over_range_mm),
            hysteresis_nm=nm(limits.hysteresis_mm),
            interval_days=round(gauge.interval.months * _DAYS_A_MONTH),
            identity=gauge.identity,
            at_us=us(gauge.at),
        )

    def _standard(self, standard: StandardEntered) -> None:
        place, begins_us = self._place(), day_us(standard.valid_from)
        self.rows.add(
            "standards",
            place,
            standard=standard.id,
            valid_from_us=begins_us,
            valid_until_us=day_us(standard.due, after=True),
            certificate=standard.certificate,
            issuer=standard.issuer,
            at_us=us(standard.at),
        )
        for each in standard.values:
            self.rows.add(
                "lengths",
                place,
                standard=standard.id,
                valid_from_us=begins_us,
                nominal_nm=nm(each.nominal_mm),
                length_nm=nm(each.length_mm),
                u_nm=nm(each.expanded_u_mm / each.k if each.k else None),
            )


def _feature(point: JobPoint | None, capture: Capture) -> str:
    if point is None:
        return capture.spec.name if capture.spec is not None else ""
    if point.master is not None:
        return f"{point.step} / master {point.master}"
    return " / ".join(each for each in (point.step, point.target, point.position) if each)


def _limits(taken: _Taken) -> tuple[int, int, str]:
    """Lower and upper limit on the scale of the captured value, and the verdict.

    A result of a job that rests on this capture alone has its limits moved to the reading by the
    corrections that are in it; if these are not all there is between the two, it has none here.
    """
    capture, result = taken.capture, taken.result
    if capture.spec is not None:
        spec, moved_mm = capture.spec, capture.value_mm - capture.value_mm
        verdict = capture.verdict
    elif result is not None and result.spec is not None and result.unit == "mm":
        spec, moved_mm = result.spec, result.value - capture.value_mm
        verdict = result.verdict
        if moved_mm != sum(each.amount for each in result.corrections if each.unit == "mm"):
            return nm(None), nm(None), ""
    else:
        return nm(None), nm(None), ""
    middle_mm = spec.nominal_mm - moved_mm
    lower_mm = None if spec.lower_mm is None else middle_mm + spec.lower_mm
    upper_mm = None if spec.upper_mm is None else middle_mm + spec.upper_mm
    return nm(lower_mm), nm(upper_mm), verdict.outcome if verdict is not None else ""
