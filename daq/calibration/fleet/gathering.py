"""The register of a logbook, out of its records."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import TypeVar

from pydantic import ValidationError

from daq.calibration.due import Calibrated, ReturnedToUse, Withdrawn
from daq.calibration.entered import gauge_of, standard_of
from daq.calibration.fleet.fleet import Fleet
from daq.logbook import Entry, LogbookReader
from daq.logbook.calibration import CalibrationBegun, CalibrationEnded
from daq.logbook.records import Note, UnknownRecord
from daq.logbook.register import GaugeEntered, StandardEntered, StatusChanged

Named = TypeVar("Named", StandardEntered, GaugeEntered)

KINDS = ("note", "standard", "gauge", "status", "calibration", "calibration end")
"""The records that make up a register; the points of a calibration are not needed."""


@dataclass(slots=True)
class _Found:
    """What was found on the way; ``known`` are all entries of gauges, those taken back too."""

    fleet: Fleet = field(default_factory=Fleet)
    known: dict[str, GaugeEntered] = field(default_factory=dict)
    begun: dict[str, CalibrationBegun] = field(default_factory=dict)
    events: list[StatusChanged | CalibrationEnded] = field(default_factory=list)


def fleet_of(logbook: LogbookReader) -> Fleet:
    """The register that a logbook holds. A record that a note takes back does not count.

    Args:
        logbook: open, for reading or writing.
    """
    entries = [entry for kind in KINDS for entry in logbook.entries(kind=kind)]
    gone = {
        entry.record.about
        for entry in entries
        if isinstance(entry.record, Note) and entry.record.purpose == "withdrawal"
    }
    found = _Found()
    for entry in sorted(entries, key=lambda each: each.sequence):
        if isinstance(entry.record, GaugeEntered):
            found.known[entry.record.uid] = entry.record
        if getattr(entry.record, "uid", None) not in gone:
            _take(found, entry)
    for event in found.events:
        _add_to_history(found, event)
    for label, told in ((label, list(_remarks(found, label))) for label in found.fleet.gauges):
        if told:
            found.fleet.remarks[label] = (*found.fleet.remarks.get(label, ()), *told)
    return found.fleet


def _take(found: _Found, entry: Entry) -> None:
    fleet = found.fleet
    match entry.record:
        case StandardEntered() as record:
            if _is_sound(fleet, entry):
                _as_newest(fleet.standards, record.id, record)
                fleet.standard_entries.setdefault(record.id, []).append(record)
        case GaugeEntered() as record:
            if _is_sound(fleet, entry):
                _as_newest(fleet.gauges, record.label, record)
                fleet.gauge_entries.setdefault(record.label, []).append(record)
        case StatusChanged() as record:
            fleet.changes.setdefault((record.about, record.name), []).append(record)
            found.events.append(record)
        case CalibrationBegun() as record:
            found.begun[record.uid] = record
        case CalibrationEnded(how="complete", calibration=uid) as record if uid in found.begun:
            found.events.append(record)
        case UnknownRecord(kind=kind, why=why):
            _tell(fleet, f"Record {entry.sequence} ({kind}) cannot be read: {why}")
        case _:
            pass


def _as_newest(there: dict[str, Named], name: str, record: Named) -> None:
    # Taken out first: the order of the dictionary is that of the newest entries.
    there.pop(name, None)
    there[name] = record


def _is_sound(fleet: Fleet, entry: Entry) -> bool:
    """Whether an entry is one that could have been made; what is not is told."""
    try:
        match entry.record:
            case StandardEntered() as record:
                standard_of(record)
            case GaugeEntered() as record:
                gauge_of(record)
    except ValidationError as error:
        why = error.errors()[0]["msg"].removeprefix("Value error, ")
        _tell(fleet, f"Record {entry.sequence} enters what cannot be: {why}")
        return False
    return True


def _tell(fleet: Fleet, words: str) -> None:
    fleet.unreadable = (*fleet.unreadable, words.rstrip(".") + ".")


def _add_to_history(found: _Found, event: StatusChanged | CalibrationEnded) -> None:
    fleet = found.fleet
    if isinstance(event, StatusChanged):
        if event.about == "gauge":
            kind = Withdrawn if event.what == "withdrawn" else ReturnedToUse
            change = kind(event.at.date(), event.reason, event.by)
            fleet.histories.setdefault(event.name, []).append(change)
        return
    begun = found.begun[event.calibration]
    label = begun.gauge_label
    then, now = found.known.get(begun.gauge), fleet.gauges.get(label)
    if then is not None and now is not None and not is_same_instrument(then, now):
        words = (
            f"{calibrated(event)} was of a gauge with another kind, range or step than {label} has "
            "been entered with since; it does not count."
        )
        fleet.remarks[label] = (*fleet.remarks.get(label, ()), words)
        return
    fleet.calibrations.setdefault(label, []).append((begun, event))
    fleet.histories.setdefault(label, []).append(calibrated(event))


def is_same_instrument(one: GaugeEntered, other: GaugeEntered) -> bool:
    """Whether two entries of a label can be of one gauge: same kind, range and step."""
    return (one.is_a, one.range_mm, one.step_mm) == (other.is_a, other.range_mm, other.step_mm)


def _remarks(found: _Found, label: str) -> Iterator[str]:
    fleet, entry = found.fleet, found.fleet.gauges[label]
    serves = fleet.gauge_by_identity(entry.identity)
    if serves is not None and serves.label != label:
        since = fleet.gauges[serves.label].at.date()
        yield (
            f"{label} was entered on the adapter {entry.identity}, which serves {serves.label} "
            f"since {since}. Enter {label} with the adapter that it has, or without one."
        )
    if (last := fleet.last_calibration(label)) is None:
        return
    begun, ended = last
    then = found.known.get(begun.gauge)
    if then is not None and _errors(then) != _errors(entry):
        yield (
            f"{label} was judged by other permissible errors than it has been entered with since "
            f"({calibrated(ended)})."
        )


def _errors(entry: GaugeEntered) -> dict[str, object]:
    return entry.limits.model_dump(exclude={"source"})


def calibrated(ended: CalibrationEnded) -> Calibrated:
    """A calibration that was completed, as the history of its gauge has it."""
    assert ended.as_left is not None  # the record refuses to be complete without
    return Calibrated(
        on=ended.at.date(),
        certificate=ended.certificate,
        as_found=ended.as_found,
        as_left=ended.as_left,
        from_mm=ended.from_mm,
        to_mm=ended.to_mm,
        due=ended.due,
    )
