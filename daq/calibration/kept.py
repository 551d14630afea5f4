"""Calibrations as a logbook keeps them: which there are, and everything that belongs to one."""

from collections.abc import Iterator
from dataclasses import dataclass, field

from daq.calibration.entered import gauge_of, standard_of
from daq.calibration.errors import CalibrationError
from daq.calibration.forms import GaugeIdentity, ReferenceStandard
from daq.calibration.plan import PreparedPlan, prepared
from daq.calibration.plan_file import plan_from_bytes
from daq.logbook import Capture, LogbookReader, Note
from daq.logbook.calibration import (
    CalibrationBegun,
    CalibrationEnded,
    CalibrationGate,
    CalibrationPoint,
    CalibrationRecord,
    CalibrationResult,
)
from daq.logbook.register import GaugeEntered, StandardEntered


@dataclass(slots=True)
class KeptCalibration:
    """One calibration, and what it rests on.

    ``gauge``, ``standard`` and ``flat`` are the entries in the register that it was begun with.
    ``records`` are its later ones, oldest first, ``captures`` those that its points name.
    ``sequences`` are the numbers in the logbook, by uid, of all of these. ``withdrawn`` are notes
    that take back one of its records.
    """

    begun: CalibrationBegun
    gauge: GaugeEntered
    standard: StandardEntered
    flat: StandardEntered | None = None
    records: list[CalibrationRecord] = field(default_factory=list)
    captures: dict[str, Capture] = field(default_factory=dict)
    sequences: dict[str, int] = field(default_factory=dict)
    withdrawn: list[Note] = field(default_factory=list)

    @property
    def ended(self) -> CalibrationEnded | None:
        """The record that ends it, not taken back; None while it is open."""
        gone = {note.about for note in self.withdrawn}
        ends = (each for each in self.records if isinstance(each, CalibrationEnded))
        return next((each for each in ends if each.uid not in gone), None)

    @property
    def identity(self) -> GaugeIdentity:
        """The gauge as it was entered."""
        return gauge_of(self.gauge)

    @property
    def reference(self) -> ReferenceStandard:
        """The standard as it was entered."""
        return standard_of(self.standard)

    def prepared(self) -> PreparedPlan:
        """Its plan with its standard, as on the day on which it was begun.

        Raises:
            PlanError: the plan or the standard in the records is not sound.
        """
        plan = plan_from_bytes(self.begun.plan_toml.encode(), self.begun.plan_name)
        flat = standard_of(self.flat) if self.flat is not None else None
        return prepared(plan, self.reference, self.begun.at.date(), flat)


def calibrations_in(logbook: LogbookReader) -> Iterator[CalibrationBegun]:
    """Every calibration that the logbook has, oldest first."""
    for entry in logbook.entries(kind="calibration"):
        if isinstance(entry.record, CalibrationBegun):
            yield entry.record


def kept_calibration(logbook: LogbookReader, uid: str) -> KeptCalibration | None:
    """The calibration whose first record has this uid; None if there is none.

    Raises:
        CalibrationError: the gauge or the standard that it names is not in the logbook.
    """
    begun = next((each for each in calibrations_in(logbook) if each.uid == uid), None)
    if begun is None:
        return None
    kept = _with_register(logbook, begun)
    # A capture stands before the point that names it, so those that nothing has named yet wait.
    waiting: dict[str, tuple[Capture, int]] = {}
    for entry in logbook.entries(kept.sequences[uid]):
        match entry.record:
            case Capture() as capture:
                waiting[capture.uid] = capture, entry.sequence
            case Note(purpose="withdrawal") as note if note.about in kept.sequences:
                kept.withdrawn.append(note)
            case (
                CalibrationGate() | CalibrationPoint() | CalibrationResult() | CalibrationEnded()
            ) as record:
                if record.calibration != uid:
                    continue
                kept.records.append(record)
                kept.sequences[record.uid] = entry.sequence
                if isinstance(record, CalibrationPoint) and record.capture in waiting:
                    named, sequence = waiting.pop(record.capture)
                    kept.captures[named.uid] = named
                    kept.sequences[named.uid] = sequence
    return kept


def _with_register(logbook: LogbookReader, begun: CalibrationBegun) -> KeptCalibration:
    found: dict[str, GaugeEntered | StandardEntered] = {}
    sequences: dict[str, int] = {}
    wanted = {begun.gauge, begun.standard, begun.flat} - {None}
    for kind in ("gauge", "standard", "calibration"):
        for entry in logbook.entries(kind=kind):
            match entry.record:
                case GaugeEntered() | StandardEntered() as record if record.uid in wanted:
                    found[record.uid] = record
                    sequences[record.uid] = entry.sequence
                case CalibrationBegun(uid=uid) if uid == begun.uid:
                    sequences[uid] = entry.sequence
    gauge, standard = found.get(begun.gauge), found.get(begun.standard)
    flat = found.get(begun.flat) if begun.flat is not None else None
    if not isinstance(gauge, GaugeEntered) or not isinstance(standard, StandardEntered):
        raise CalibrationError(
            f"The calibration of {begun.gauge_label} of {begun.at:%Y-%m-%d} names a gauge or a "
            "standard that this logbook does not have. Look for the logbook that it was begun in."
        )
    if begun.flat is not None and not isinstance(flat, StandardEntered):
        raise CalibrationError(
            f"The calibration of {begun.gauge_label} of {begun.at:%Y-%m-%d} names a flat that this "
            "logbook does not have. Look for the logbook that it was begun in."
        )
    return KeptCalibration(
        begun, gauge, standard, flat if isinstance(flat, StandardEntered) else None,
        sequences=sequences,
    )  # fmt: skip
