"""The audit: kernel and rules over a log, on the engine that comes with the program."""

from daq.audit.engine.asking import Parameters
from daq.audit.engine.audit import audit
from daq.audit.engine.evidence import Audit, Evidence, NotRun, Ran
from daq.audit.engine.fill import Progress, fill
from daq.audit.engine.keeping import Keeping
from daq.audit.engine.places import places_of
from daq.audit.engine.store import Store
from daq.audit.engine.writing import write_evidence

__all__ = [
    "Audit",
    "Evidence",
    "Keeping",
    "NotRun",
    "Parameters",
    "Progress",
    "Ran",
    "Store",
    "audit",
    "fill",
    "places_of",
    "write_evidence",
]
