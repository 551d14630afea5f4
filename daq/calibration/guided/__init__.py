"""A guided calibration as a pure state machine: records in, one task out; answer in, records out.

``standing`` works out where a calibration stands, ``next_task`` what is to be done, the answers
what is to be appended. It owns no clock, port, file or screen.
"""

from daq.calibration.guided.answers import (
    Insisted,
    Passed,
    adjusted,
    anew,
    captured,
    conditions,
    not_adjusted,
    taken_back,
)
from daq.calibration.guided.beginning import Order, begun
from daq.calibration.guided.curve import ErrorCurve, curve_of
from daq.calibration.guided.ending import (
    Ending,
    broken_off,
    calibrated_as,
    certificate_number,
    completed,
    proposed,
)
from daq.calibration.guided.standing import RunStanding, Standing, point_of, standing
from daq.calibration.guided.task import Task, TaskKind
from daq.calibration.guided.tasks import next_task, result_words
from daq.calibration.guided.working_out import Stamp, worked_out

__all__ = [
    "Ending",
    "ErrorCurve",
    "Insisted",
    "Order",
    "Passed",
    "RunStanding",
    "Stamp",
    "Standing",
    "Task",
    "TaskKind",
    "adjusted",
    "anew",
    "begun",
    "broken_off",
    "calibrated_as",
    "captured",
    "certificate_number",
    "completed",
    "conditions",
    "curve_of",
    "next_task",
    "not_adjusted",
    "point_of",
    "proposed",
    "result_words",
    "standing",
    "taken_back",
    "worked_out",
]
