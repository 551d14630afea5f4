"""A logbook in the open log format: only what is new since the last time, bound into a chain.

`export_log` writes; `check_export` says whether what was written is whole and unedited. The files
are described in ``docs/log-format.md``.
"""

from daq.audit.export.checking import check_export
from daq.audit.export.exporting import Exported, export_log

__all__ = ["Exported", "check_export", "export_log"]
