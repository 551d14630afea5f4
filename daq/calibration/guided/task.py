"""One thing to do in a calibration, as data."""

from dataclasses import dataclass
from typing import Literal

from daq.calibration.points import Run
from daq.calibration.sequence import WantedPoint
from daq.logbook.calibration import CalibrationResult

TaskKind = Literal["conditions", "point", "return", "result", "adjusted or not", "end"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """One thing to do.

    ``kind``: ``conditions`` (see that they are kept, say the temperature), ``point`` (a settled
    value is captured at the length that is named), ``return`` (the same at the last point once
    more, to show that nothing has moved meanwhile), ``result`` (all points are there, and what they
    come to has to be worked out once more), ``adjusted or not`` (the result as found is there: say
    whether the gauge was adjusted), ``end`` (nothing is left but the certificate).

    ``words`` is the one sentence to show and ``more`` what else to mind. ``wanted`` is the point of
    a ``point`` or a ``return``, ``result`` what is to be looked at. ``done`` of ``of`` points of
    the run are there.
    """

    kind: TaskKind
    run: Run
    title: str
    words: str
    more: tuple[str, ...] = ()
    wanted: WantedPoint | None = None
    result: CalibrationResult | None = None
    done: int = 0
    of: int = 0
