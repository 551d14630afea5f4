"""Guided studies as a logbook keeps them: which there are, everything of one, and its values.

The values of a study go the way of those in a file: as the text of a CSV through `read_table`.
"""

import csv
import io
from collections.abc import Iterator
from dataclasses import dataclass, field
from decimal import Decimal

from daq.calibration.study.errors import StudyError
from daq.calibration.study.table import Table, read_table
from daq.logbook import Capture, LogbookReader, Note
from daq.logbook.fields import decimal_text
from daq.logbook.records import Written
from daq.logbook.study import StudyBegun, StudyEnded, StudyPoint


@dataclass(slots=True)
class KeptStudy:
    """One study: its first record, its points oldest first, and what was taken back.

    ``withdrawn`` are the uids of points or captures that a note takes back. ``sequences`` are the
    numbers in the logbook, by uid, of its records.
    """

    begun: StudyBegun
    points: list[StudyPoint] = field(default_factory=list)
    withdrawn: set[str] = field(default_factory=set)
    ended: StudyEnded | None = None
    sequences: dict[str, int] = field(default_factory=dict)

    def add(self, record: Written) -> None:
        """A record was appended after those there are; one of something else changes nothing."""
        match record:
            case StudyPoint() if record.study == self.begun.uid:
                self.points.append(record)
            case StudyEnded() if record.study == self.begun.uid:
                self.ended = record
            case Note(purpose="withdrawal", about=str() as about):
                self.withdrawn.add(about)

    @property
    def standing_points(self) -> dict[int, StudyPoint]:
        """By place, the newest point that is not withdrawn, nor its capture."""
        return {
            each.place: each
            for each in self.points
            if each.uid not in self.withdrawn and each.capture not in self.withdrawn
        }


def studies_in(logbook: LogbookReader) -> Iterator[StudyBegun]:
    """Every study that the logbook has, oldest first."""
    for entry in logbook.entries(kind="study"):
        if isinstance(entry.record, StudyBegun):
            yield entry.record


def kept_study(logbook: LogbookReader, uid: str) -> KeptStudy | None:
    """The study whose first record has this uid; None if there is none.

    Raises:
        StudyError: a point says another value than its capture, or has none.
    """
    study: KeptStudy | None = None
    values: dict[str, Decimal] = {}
    for entry in logbook.entries(_first(logbook, uid)):
        match entry.record:
            case StudyBegun(uid=each) as first if each == uid:
                study = KeptStudy(first, sequences={uid: entry.sequence})
            case Capture() as capture:
                values[capture.uid] = capture.value_mm
            case StudyPoint() | StudyEnded() | Note() as record if study is not None:
                if isinstance(record, Note) or record.study == uid:
                    _require_its_capture(study, record, values)
                    study.add(record)
                    study.sequences[record.uid] = entry.sequence
    return study


def _first(logbook: LogbookReader, uid: str) -> int:
    for entry in logbook.entries(kind="study"):
        if isinstance(entry.record, StudyBegun) and entry.record.uid == uid:
            return entry.sequence
    return 1


def _require_its_capture(study: KeptStudy, record: Written, values: dict[str, Decimal]) -> None:
    """A point repeats the value of its capture; one that does not is nobody's."""
    if isinstance(record, StudyPoint) and values.get(record.capture) != record.value_mm:
        found = values.get(record.capture)
        has = "its capture is not there" if found is None else f"its capture {found:f} mm"
        raise StudyError(
            f"value {record.place} of the study '{study.begun.title}' says {record.value_mm:f} mm, "
            f"and {has}; it was not written by this program, and no study is made of it"
        )


def csv_of(study: KeptStudy) -> str:
    """The study's values as the CSV that a study of this kind has, in millimetres.

    A stability session that is not complete is left out.

    Raises:
        StudyError: values are missing; with how many.
    """
    begun, points = study.begun, study.standing_points
    missing = len(begun.order) - len(points)
    if missing > 0:
        raise StudyError(
            f"the study '{begun.title}' has {len(points)} of {len(begun.order)} values; go on with "
            "it first: restpoint study run"
        )
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    if begun.design == "stability":
        writer.writerow(("at", "value", "unit"))
        for at, each in _sessions(study):
            writer.writerow((at, decimal_text(each.value_mm), "mm"))
    elif begun.design == "bias":
        known = dict(zip(begun.parts, begun.references_mm, strict=True))
        writer.writerow(("reference", "value", "unit"))
        for _, each in sorted(points.items()):
            reference = decimal_text(known[each.part])
            writer.writerow((reference, decimal_text(each.value_mm), "mm"))
    else:
        writer.writerow(("part", "operator", "trial", "value", "unit"))
        for each in sorted(points.values(), key=lambda point: _in_plan(begun, point)):
            value = decimal_text(each.value_mm)
            writer.writerow((each.part, each.appraiser, each.trial, value, "mm"))
    return text.getvalue()


def table_of(study: KeptStudy) -> Table:
    """The study's values as the table that a file of them would give.

    Raises:
        StudyError: as `csv_of`, or there is none.
    """
    kind = study.begun.design
    return read_table(csv_of(study), study.begun.title, kind)


def _sessions(study: KeptStudy) -> Iterator[tuple[str, StudyPoint]]:
    """The values of every complete session, with the day of its first, or day and time."""
    points, size = study.standing_points, study.begun.trials
    sessions = [
        [points[place] for place in range(first, first + size)]
        for first in range(1, max(points, default=0) + 1, size)
        if all(place in points for place in range(first, first + size))
    ]
    times = [each[0].at for each in sessions]
    names = [f"{at:%Y-%m-%d %H:%M:%S}" for at in times]
    days = [f"{at:%Y-%m-%d}" for at in times]
    for name, session in zip(days if len(set(days)) == len(days) else names, sessions, strict=True):
        yield from ((name, each) for each in session)


def _in_plan(begun: StudyBegun, point: StudyPoint) -> tuple[int, int, int]:
    """Where a point of a crossed study stands by the plan, whatever order it was taken in."""
    return begun.parts.index(point.part), begun.appraisers.index(point.appraiser), point.trial
