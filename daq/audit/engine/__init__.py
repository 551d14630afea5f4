"""The audit: kernel and rules over a log, on the engine that comes with the program."""

from daq.audit.engine.audit import Parameters, Progress, audit, fill
from daq.audit.engine.evidence import Audit, Evidence, NotRun, Ran
from daq.audit.engine.store import Store
from daq.audit.engine.writing import write_evidence

__all__ = [
    "Audit",
    "Evidence",
    "NotRun",
    "Parameters",
    "Progress",
    "Ran",
    "Store",
    "audit",
    "fill",
    "write_evidence",
]
