"""From the points of one run to errors with uncertainty, characteristics, decisions, a record."""

from daq.calibration.assess.asked import (
    AssessedCharacteristic,
    AssessedLine,
    AssessedPoint,
    Assessment,
    Conditions,
    How,
    Stated,
)
from daq.calibration.assess.assessing import assess, name_of
from daq.calibration.assess.record import record_of

__all__ = [
    "AssessedCharacteristic",
    "AssessedLine",
    "AssessedPoint",
    "Assessment",
    "Conditions",
    "How",
    "Stated",
    "assess",
    "name_of",
    "record_of",
]
