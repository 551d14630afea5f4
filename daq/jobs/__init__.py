"""Jobs on an engine: the engine as data, and at which crank positions to set what.

No clock, port or screen.
"""

from daq.jobs.crank import CAUTIONS, Plan, Step, plan
from daq.jobs.engine import Bank, Engine, EngineError
from daq.jobs.engine_file import engine_from_toml, load_engine
from daq.jobs.names import KINDS, Item, Kind, degrees_words, listed
from daq.jobs.phase import PhaseModel, Position
from daq.jobs.timing import Arc, ValveTiming
from daq.jobs.valve_table import VALVES, TableRow
from daq.jobs.ways import Method, half_rule, settable

__all__ = [
    "CAUTIONS",
    "KINDS",
    "VALVES",
    "Arc",
    "Bank",
    "Engine",
    "EngineError",
    "Item",
    "Kind",
    "Method",
    "PhaseModel",
    "Plan",
    "Position",
    "Step",
    "TableRow",
    "ValveTiming",
    "degrees_words",
    "engine_from_toml",
    "half_rule",
    "listed",
    "load_engine",
    "plan",
    "settable",
]
