"""The logbook: what was measured, kept in order and for good, and provable years later.

`Logbook.open` to write, `Logbook.read` to read, `verify` to check, `daq.logbook.export` to hand on.
`daq.logbook.vouching` makes what a lab keeps to hold a logbook to its word.
`TraceRecorder` keeps all that gauges send, as a chained trace; `recorded` reads it, `verify_trace`
checks it. The formats are described byte for byte in ``docs/logbook.md``.
"""

from daq.logbook.backup import back_up
from daq.logbook.book import Entry, Logbook, LogbookReader
from daq.logbook.chain import Problem
from daq.logbook.errors import (
    BackupError,
    CheckpointError,
    ExportError,
    LogbookBusyError,
    LogbookDamagedError,
    LogbookDiskError,
    LogbookError,
    LogbookFullError,
    LogbookNotFoundError,
    LogbookReadOnlyError,
    LogbookTooNewError,
    NotALogbookError,
    NotCanonicalError,
    RecordingError,
)
from daq.logbook.export import write_csv, write_jsonl
from daq.logbook.fields import exact, new_uid
from daq.logbook.proof import Report, verify, verify_jsonl
from daq.logbook.records import (
    Capture,
    CapturedGauge,
    CapturedReading,
    CapturedSpec,
    CapturedVerdict,
    Cover,
    Note,
    Record,
    UnknownRecord,
)
from daq.logbook.surviving import Rescued, rescue
from daq.logbook.trace_reading import TraceReport, is_chained_trace, recorded, verify_trace
from daq.logbook.trace_recorder import TraceRecorder

__all__ = [
    "BackupError",
    "Capture",
    "CapturedGauge",
    "CapturedReading",
    "CapturedSpec",
    "CapturedVerdict",
    "CheckpointError",
    "Cover",
    "Entry",
    "ExportError",
    "Logbook",
    "LogbookBusyError",
    "LogbookDamagedError",
    "LogbookDiskError",
    "LogbookError",
    "LogbookFullError",
    "LogbookNotFoundError",
    "LogbookReadOnlyError",
    "LogbookReader",
    "LogbookTooNewError",
    "NotALogbookError",
    "NotCanonicalError",
    "Note",
    "Problem",
    "Record",
    "RecordingError",
    "Report",
    "Rescued",
    "TraceRecorder",
    "TraceReport",
    "UnknownRecord",
    "back_up",
    "exact",
    "is_chained_trace",
    "new_uid",
    "recorded",
    "rescue",
    "verify",
    "verify_jsonl",
    "verify_trace",
    "write_csv",
    "write_jsonl",
]
