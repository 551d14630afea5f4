"""What a gauge out of its limits touched: the captures to look at again, whose verdicts turn."""

from daq.audit.impact.curve import ErrorCurve, curve_of
from daq.audit.impact.from_tables import Judges
from daq.audit.impact.impact import Impact, Tally, impact_of, tallies
from daq.audit.impact.periods import Period, Run, periods_of
from daq.audit.impact.touched import GROUPS, Captures, Touched, touched

__all__ = [
    "GROUPS",
    "Captures",
    "ErrorCurve",
    "Impact",
    "Judges",
    "Period",
    "Run",
    "Tally",
    "Touched",
    "curve_of",
    "impact_of",
    "periods_of",
    "tallies",
    "touched",
]
