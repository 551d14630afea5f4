"""Jobs as a logbook keeps them: which there are, and everything that belongs to one."""

from collections.abc import Iterator
from dataclasses import dataclass, field

from daq.logbook import Capture, LogbookReader
from daq.logbook.job import (
    JobBegun,
    JobCalibration,
    JobEnded,
    JobException,
    JobGate,
    JobGaugeUsed,
    JobPoint,
    JobRecord,
    JobResult,
)


@dataclass(slots=True)
class KeptJob:
    """One job: its first record, the later ones oldest first, and the captures they name.

    ``sequences`` are the numbers in the logbook, by uid, of all of these.
    """

    begun: JobBegun
    records: list[JobRecord] = field(default_factory=list)
    captures: dict[str, Capture] = field(default_factory=dict)
    sequences: dict[str, int] = field(default_factory=dict)

    @property
    def ended(self) -> JobEnded | None:
        """The record that ends it; None while it is open."""
        return next((each for each in self.records if isinstance(each, JobEnded)), None)


def jobs_in(logbook: LogbookReader) -> Iterator[JobBegun]:
    """Every job that the logbook has, oldest first."""
    for entry in logbook.entries(kind="job"):
        if isinstance(entry.record, JobBegun):
            yield entry.record


def kept_job(logbook: LogbookReader, uid: str) -> KeptJob | None:
    """The job whose first record has this uid; None if there is none."""
    job: KeptJob | None = None
    # A capture stands before the point that names it, so those that nothing has named yet wait.
    waiting: dict[str, tuple[Capture, int]] = {}
    for entry in logbook.entries(_first(logbook, uid)):
        match entry.record:
            case JobBegun(uid=each) as begun if each == uid:
                job = KeptJob(begun, sequences={uid: entry.sequence})
            case Capture() as capture:
                waiting[capture.uid] = capture, entry.sequence
            case (
                JobCalibration()
                | JobGaugeUsed()
                | JobGate()
                | JobPoint()
                | JobResult()
                | JobException()
                | JobEnded()
            ) as record:
                if job is None or record.job != uid:
                    continue
                job.records.append(record)
                job.sequences[record.uid] = entry.sequence
                if isinstance(record, JobPoint) and record.capture in waiting:
                    named, sequence = waiting.pop(record.capture)
                    job.captures[named.uid] = named
                    job.sequences[named.uid] = sequence
    return job


def _first(logbook: LogbookReader, uid: str) -> int:
    for entry in logbook.entries(kind="job"):
        if isinstance(entry.record, JobBegun) and entry.record.uid == uid:
            return entry.sequence
    return 1
