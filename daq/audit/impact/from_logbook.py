"""Impact straight from a bench's own logbook: its calibrations, and its captures with their jobs.

A record that a note takes back does not count, nor does a calibration that was broken off or has
not ended. The captures that a calibration was made of are no work, and are left out.
"""

import math
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field
from decimal import Decimal

import numpy as np

from daq.audit.impact.curve import ErrorCurve, Floats, curve_of
from daq.audit.impact.impact import Impact
from daq.audit.impact.periods import Run, periods_of
from daq.audit.impact.touched import Captures, touched
from daq.calibration.fleet import Fleet, fleet_of
from daq.logbook import Capture, Entry, LogbookReader, Note
from daq.logbook.calibration import (
    CalibrationBegun,
    CalibrationEnded,
    CalibrationPoint,
    CalibrationResult,
    CalibrationWord,
    RunName,
)
from daq.logbook.job import JobBegun, JobPoint
from daq.logbook.records import UnknownRecord

_OUT: tuple[CalibrationWord, ...] = ("fail", "conditional fail")
_IN: tuple[CalibrationWord, ...] = ("pass", "conditional pass")


@dataclass(slots=True)
class _Read:
    """What the logbook holds that bears on it, none of it taken back."""

    fleet: Fleet
    points: dict[str, list[CalibrationPoint]] = field(default_factory=lambda: defaultdict(list))
    results: dict[tuple[str, RunName], CalibrationResult] = field(default_factory=dict)
    jobs: dict[str, JobBegun] = field(default_factory=dict)
    of_job: dict[str, JobPoint] = field(default_factory=dict)
    of_calibration: set[str] = field(default_factory=set)
    gone: set[str] = field(default_factory=set)
    unread: list[str] = field(default_factory=list)


def impact_in(logbook: LogbookReader, gauge: str | None = None, *, in_time: bool = False) -> Impact:
    """What gauges out of their limits touched, from a logbook.

    Args:
        logbook: open, for reading or writing.
        gauge: only the one of this label.
        in_time: as for ``daq.audit.impact.touched.touched``.

    Raises:
        RegisterError: there is no gauge of that label; the message names those there are.
    """
    fleet = fleet_of(logbook)
    if gauge is not None:
        fleet.entry(gauge)
    read = _read(logbook, fleet)
    labels = [gauge] if gauge is not None else sorted(fleet.calibrations)
    periods = [each for label in labels for each in periods_of(list(_runs(read, label)))]
    wanted = {period.gauge for period in periods}
    captures = _captures(logbook, read, wanted) if wanted else {}
    of_gauges = (fleet.remarks.get(label, ()) for label in labels)
    return Impact(
        tuple(touched(each, captures[each.gauge], in_time=in_time) for each in periods),
        in_time,
        remarks=(*(words for each in of_gauges for words in each), *fleet.unreadable, *read.unread),
        is_whole=not fleet.unreadable and not read.unread,
    )


def _read(logbook: LogbookReader, fleet: Fleet) -> _Read:
    read = _Read(fleet)
    for entry in logbook.entries(kind="note"):
        note = entry.record
        if isinstance(note, Note) and note.purpose == "withdrawal" and note.about is not None:
            read.gone.add(note.about)
    for kind in ("calibration point", "calibration result", "job", "job point"):
        for entry in logbook.entries(kind=kind):
            match entry.record:
                case CalibrationPoint() as point:
                    read.of_calibration.add(point.capture)
                    if point.uid not in read.gone:
                        read.points[point.calibration].append(point)
                case CalibrationResult() as result if result.uid not in read.gone:
                    read.results[result.calibration, result.run] = result  # the later one counts
                case JobBegun() as job:
                    read.jobs[job.uid] = job
                case JobPoint() as point if point.uid not in read.gone:
                    read.of_job[point.capture] = point
                case UnknownRecord():
                    read.unread.append(_unread(entry))
                case _:
                    pass
    return read


def _runs(read: _Read, label: str) -> Iterator[Run]:
    for begun, ended in read.fleet.calibrations.get(label, []):
        points = read.points.get(begun.uid, [])
        times = [_us(each) for each in points] or [_us(begun), _us(ended)]
        found = _curve(read.results.get((begun.uid, "as found")))
        left = _curve(read.results.get((begun.uid, "as left")))
        yield Run(
            gauge=label,
            run=ended.certificate,
            first_us=min(times),
            last_us=max(times),
            found=found,
            left=left or found,
            found_out=_is_out(ended.as_found, found, read.fleet, begun),
            left_out=_is_out(ended.as_left, left or found, read.fleet, begun),
        )


def _is_out(
    word: CalibrationWord | None, curve: ErrorCurve | None, fleet: Fleet, begun: CalibrationBegun
) -> bool | None:
    """By its own decision; where nothing was decided, by the permissible error over the range."""
    if word in _OUT or word in _IN:
        return word in _OUT
    entries = fleet.gauge_entries.get(begun.gauge_label, [])
    entry = next((each for each in entries if each.uid == begun.gauge), None)
    if word is None or curve is None or entry is None:
        return None
    # A floating zero allows any shift of all errors together: then their spread is what is limited.
    errors = curve.error_mm
    floating = entry.limits.zero == "floating"
    worst = np.ptp(errors) if floating else np.abs(errors).max()
    return bool(worst > float(entry.limits.over_range_mm))


def _curve(result: CalibrationResult | None) -> ErrorCurve | None:
    if result is None:
        return None
    points = result.points

    def column(name: str) -> Floats:
        return np.array([float(getattr(each, name)) for each in points])

    # The error as it was worked out, temperature and all, not the bare difference.
    reading, error = column("reading_mm"), column("error_mm")
    return curve_of(
        column("nominal_mm"), reading - error, reading, [each.series for each in points],
        column("u_mm"),
    )  # fmt: skip


def _captures(logbook: LogbookReader, read: _Read, wanted: set[str]) -> dict[str, Captures]:
    found: dict[str, list[tuple[int, Capture]]] = {label: [] for label in wanted}
    for entry in logbook.entries(kind="capture"):
        capture = entry.record
        if not isinstance(capture, Capture):
            read.unread.append(_unread(entry))
            continue
        label = _label(read.fleet, capture)
        if label in wanted and not {capture.uid} & (read.gone | read.of_calibration):
            found[label].append((entry.sequence, capture))
    return {label: _arrays(read, each) for label, each in found.items()}


def _unread(entry: Entry) -> str:
    why = entry.record.why if isinstance(entry.record, UnknownRecord) else "it is none"
    return f"Record {entry.sequence} cannot be read: {why.rstrip('.')}."


def _label(fleet: Fleet, capture: Capture) -> str:
    """The gauge by the name it is in the register under; the adapter says so where no name does."""
    if capture.gauge.label in fleet.gauges:
        return capture.gauge.label
    known = fleet.gauge_by_identity(capture.gauge.identity)
    return known.label if known is not None else capture.gauge.label


def _arrays(read: _Read, entries: list[tuple[int, Capture]]) -> Captures:
    captures = [capture for _, capture in entries]
    limits = [_limits(capture) for capture in captures]
    said = [_said(read, capture) for capture in captures]
    texts = np.empty((4, len(captures)), dtype=object)
    for i, each in enumerate(said):
        texts[:, i] = each
    return Captures(
        np.array([sequence for sequence, _ in entries], dtype=np.int64),
        np.array([_us(capture) for capture in captures], dtype=np.int64),
        np.array([float(capture.value_mm) for capture in captures]),
        np.array([float(capture.u_mm) for capture in captures]),
        np.array([low for low, _ in limits]),
        np.array([high for _, high in limits]),
        *texts,
    )


def _limits(capture: Capture) -> tuple[float, float]:
    """The limits as lengths in mm; infinite where there is none."""
    spec = capture.spec
    if spec is None:
        return -math.inf, math.inf

    def length(deviation: Decimal | None, missing: float) -> float:
        return missing if deviation is None else float(spec.nominal_mm + deviation)

    return length(spec.lower_mm, -math.inf), length(spec.upper_mm, math.inf)


def _said(read: _Read, capture: Capture) -> tuple[str, str, str, str]:
    """Job, feature, document and operator, in words."""
    document = capture.spec.source if capture.spec is not None else ""
    feature = capture.spec.name if capture.spec is not None else ""
    point = read.of_job.get(capture.uid)
    job = read.jobs.get(point.job) if point is not None else None
    if point is None or job is None:
        return "", feature, document, capture.operator
    names = (point.step, point.target or ("setting master" if point.master else ""))
    return (
        f"{job.engine}, {job.sheet_title}", ": ".join(filter(None, names)), document,
        capture.operator,
    )  # fmt: skip


def _us(record: CalibrationPoint | CalibrationBegun | CalibrationEnded | Capture) -> int:
    """The record's time in whole microseconds UTC."""
    at = record.at
    return int(at.replace(microsecond=0).timestamp()) * 1_000_000 + at.microsecond
