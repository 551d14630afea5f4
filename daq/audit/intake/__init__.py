"""Logs of any make into the tables of `daq.audit.layout`: own files, or foreign ones by a mapping.

`open_source` gives a `LogSource`. It knows which tables and columns there are, which rows were
rejected and why, and gives large tables in blocks of whole gauges as arrays of integers.
"""

from daq.audit.intake.converting import Converted, convert_log
from daq.audit.intake.limits import Limits
from daq.audit.intake.mapping import Mapping, load_mapping, mapping_from
from daq.audit.intake.opening import open_source
from daq.audit.intake.rejects import Reject, Rejects
from daq.audit.intake.source import LogSource, Where

__all__ = [
    "Converted",
    "Limits",
    "LogSource",
    "Mapping",
    "Reject",
    "Rejects",
    "Where",
    "convert_log",
    "load_mapping",
    "mapping_from",
    "open_source",
]
