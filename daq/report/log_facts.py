"""What a report needs of a logbook: a job's records in their places, and what vouches for them.

Everything is read from entries in order; whoever calls has checked the chain
(`daq.logbook.verify`).
"""

import hashlib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from daq.jobs.sheet import Sheet, SheetError, sheet_from_bytes
from daq.jobs.standing import JobStanding, standing
from daq.logbook.book import Entry
from daq.logbook.job import JobBegun, JobPoint, JobRecord, JobResult
from daq.logbook.records import Capture, Note, UnknownRecord
from daq.report.errors import JobUnreadableError, NoJobError


@dataclass(frozen=True, slots=True)
class LogFacts:
    """A job's records in their places.

    numbers: by the uid of every record of the job, and of every capture it refers to, its number.
    captures: by uid. notes: about any of these, with their own numbers.
    """

    logbook_id: str
    records: int
    last_hash: str
    numbers: Mapping[str, int]
    begun: JobBegun
    job_records: tuple[JobRecord, ...]
    captures: Mapping[str, Capture]
    notes: tuple[tuple[int, Note], ...]

    @property
    def first(self) -> int:
        """The number of the job's first record."""
        return self.numbers[self.begun.uid]

    @property
    def last(self) -> int:
        """The number of the job's last record."""
        return max(self.numbers[each.uid] for each in (self.begun, *self.job_records))

    @property
    def standing(self) -> JobStanding:
        """Where the job stands by these records.

        Raises:
            JobUnreadableError: the sheet in the job's first record is not what it says, or has no
                such step as a later record names.
        """
        sheet = sheet_of(self.begun)
        try:
            return standing(sheet, self.begun, self.job_records)
        except KeyError as error:
            raise JobUnreadableError(
                f"A record of the job on {self.begun.engine} names the step {error}, which is not "
                "on its sheet. No report is made from it."
            ) from error


def jobs_in(entries: Iterable[Entry]) -> tuple[JobBegun, ...]:
    """The first record of every job in a logbook, oldest first."""
    return tuple(each.record for each in entries if isinstance(each.record, JobBegun))


def facts_of(entries: Iterable[Entry], logbook_id: str, job: str) -> LogFacts:
    """A job's records and what belongs to them.

    Args:
        entries: the whole logbook, in order.
        logbook_id: the logbook's own id.
        job: the uid of the job's first record.

    Raises:
        NoJobError: there is no such job.
        JobUnreadableError: a record since the job began cannot be read, or a capture that the job
            refers to is not there.
    """
    begun: JobBegun | None = None
    ours: list[JobRecord] = []
    numbers: dict[str, int] = {}
    captures: dict[str, Capture] = {}
    notes: list[tuple[int, Note]] = []
    unreadable: list[tuple[int, str]] = []
    last: Entry | None = None
    for entry in entries:
        record, last = entry.record, entry
        match record:
            case JobBegun(uid=uid) if uid == job:
                begun = record
                numbers[uid] = entry.sequence
            case Capture():
                captures[record.uid] = record
                numbers[record.uid] = entry.sequence
            case Note():
                notes.append((entry.sequence, record))
            case UnknownRecord():
                unreadable.append((entry.sequence, record.why))
            case _ if getattr(record, "job", None) == job:
                ours.append(record)  # type: ignore[arg-type]  # nothing else says its job
                numbers[record.uid] = entry.sequence  # type: ignore[union-attr]
    if begun is None or last is None:
        raise NoJobError(f"This logbook holds no job {job}. restpoint log show lists its records.")
    _refuse_gaps(begun, ours, numbers, captures, unreadable)
    used = _used(ours)
    about = {*used, begun.uid, *(each.uid for each in ours)}
    return LogFacts(
        logbook_id=logbook_id,
        records=last.sequence,
        last_hash=last.hash,
        numbers={uid: number for uid, number in numbers.items() if uid in about},
        begun=begun,
        job_records=tuple(ours),
        captures={uid: captures[uid] for uid in used},
        notes=tuple((number, note) for number, note in notes if note.about in about),
    )


def sheet_of(begun: JobBegun) -> Sheet:
    """The sheet that a job was begun with, from its first record.

    Raises:
        JobUnreadableError: it does not fit its SHA-256, has mistakes, or has another title,
            revision or variant than the record says.
    """
    raw = begun.sheet_toml.encode()
    digest = hashlib.sha256(raw).hexdigest()
    if digest != begun.sheet_sha256:
        raise JobUnreadableError(
            f"The sheet in the first record of the job on {begun.engine} has the SHA-256 {digest}, "
            f"and the record says {begun.sheet_sha256}. No report is made from it."
        )
    try:
        sheet = sheet_from_bytes(raw, f"the sheet of the job on {begun.engine}")
        sheet.variant(begun.variant)
    except SheetError as error:
        raise JobUnreadableError(
            f"The sheet in the first record of the job on {begun.engine} cannot be used: {error}"
        ) from error
    if (sheet.title, sheet.revision) != (begun.sheet_title, begun.sheet_revision):
        raise JobUnreadableError(
            f"The job on {begun.engine} was begun by {begun.sheet_title!r}, revision "
            f"{begun.sheet_revision}, and the sheet in its record is {sheet.title!r}, revision "
            f"{sheet.revision}. No report is made from it."
        )
    return sheet


def _used(records: Iterable[JobRecord]) -> list[str]:
    """The captures that a job refers to, each once, in order."""
    used: dict[str, None] = {}
    for record in records:
        if isinstance(record, JobPoint):
            used[record.capture] = None
        elif isinstance(record, JobResult):
            used |= dict.fromkeys(record.captures)
    return list(used)


def _refuse_gaps(
    begun: JobBegun,
    ours: Iterable[JobRecord],
    numbers: Mapping[str, int],
    captures: Mapping[str, Capture],
    unreadable: Iterable[tuple[int, str]],
) -> None:
    for number, why in unreadable:
        if number > numbers[begun.uid]:
            raise JobUnreadableError(
                f"Record {number} of the logbook cannot be read, and it may belong to the job on "
                f"{begun.engine}: {why}. Make the report with the restpoint that wrote it."
            )
    for uid in _used(ours):
        if uid not in captures:
            raise JobUnreadableError(
                f"The job on {begun.engine} refers to the capture {uid}, which is not in this "
                "logbook. No report is made without it."
            )
