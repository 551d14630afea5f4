"""Job sheets: a whole job on an engine as data, checked as one before anybody begins.

No clock, port or screen.
"""

from daq.jobs.sheet.crank_need import CrankNeed, crank_position
from daq.jobs.sheet.errors import NoSheetError, SheetError
from daq.jobs.sheet.forms import (
    Across,
    CrankGear,
    Expansion,
    Figures,
    Heading,
    Mounting,
    Role,
    Source,
    Variant,
)
from daq.jobs.sheet.lengths import Length, Limits, Temperatures
from daq.jobs.sheet.remarks import remarks_on
from daq.jobs.sheet.sheet import PlannedStep, Sheet
from daq.jobs.sheet.sheet_file import demo_sheet, engine_in, load_sheet, sheet_from_bytes
from daq.jobs.sheet.step import ForEach, Recipe, Step
from daq.jobs.sheet.targets import KINDS_OF, Target, neighbours, targets_of

__all__ = [
    "KINDS_OF",
    "Across",
    "CrankGear",
    "CrankNeed",
    "Expansion",
    "Figures",
    "ForEach",
    "Heading",
    "Length",
    "Limits",
    "Mounting",
    "NoSheetError",
    "PlannedStep",
    "Recipe",
    "Role",
    "Sheet",
    "SheetError",
    "Source",
    "Step",
    "Target",
    "Temperatures",
    "Variant",
    "crank_position",
    "demo_sheet",
    "engine_in",
    "load_sheet",
    "neighbours",
    "remarks_on",
    "sheet_from_bytes",
    "targets_of",
]
