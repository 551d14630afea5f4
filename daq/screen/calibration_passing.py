"""What a gauge passes on its way to a point: whether it came without reversing."""

from collections import deque
from dataclasses import dataclass, field
from decimal import Decimal

from daq.calibration.checks import could_err_mm
from daq.calibration.fields import brief_mm
from daq.calibration.forms import GaugeIdentity
from daq.calibration.guided import Passed
from daq.calibration.sequence import WantedPoint

AGREE = 5
"""A place was passed if the middle one of so many readings shows it: a display's flicker, which is
largest where many readings are looked at, would else be taken for a reversal."""


@dataclass(slots=True)
class Passing:
    """The lowest and the highest place since the point before; None while nobody knows.

    Once a gauge was told to go back, what it passed before counts no more as soon as it is well
    short of the point, further than it could err: it then comes to it anew. The same holds where
    nobody watched from the point before, and where that was the same point.
    """

    lowest_mm: Decimal | None = None
    highest_mm: Decimal | None = None
    was_told: bool = False
    _latest_mm: deque[Decimal] = field(default_factory=lambda: deque(maxlen=AGREE))

    @property
    def passed(self) -> Passed:
        """As an answer wants it."""
        return Passed(self.lowest_mm, self.highest_mm)

    def begin(self, value_mm: Decimal) -> None:
        """A point was taken here: it is watched from here on."""
        self.lowest_mm = self.highest_mm = value_mm
        self.was_told = False
        self._latest_mm.clear()

    def forget(self) -> None:
        """Nobody watched for a time."""
        self.lowest_mm = self.highest_mm = None
        self.was_told = False
        self._latest_mm.clear()

    def read(self, value_mm: Decimal, wanted: WantedPoint, gauge: GaugeIdentity) -> str:
        """The gauge reads this on its way to a point.

        Returns:
            What to tell whoever moves it, once: it is past the point, further than it could err.
        """
        self._latest_mm.append(value_mm)
        if len(self._latest_mm) < AGREE:
            return ""
        value_mm = sorted(self._latest_mm)[AGREE // 2]
        known = self.lowest_mm is not None and self.highest_mm is not None
        before = wanted.before
        # Coming back to the same point from its other side passes it by the gauge's own hysteresis.
        turns = before is not None and before.nominal_mm == wanted.stop.nominal_mm
        anew = self.was_told or turns or not known
        if anew and _short_mm(value_mm, wanted) > could_err_mm(gauge):
            self.begin(value_mm)
            return ""
        if not known:
            return ""
        assert self.lowest_mm is not None
        assert self.highest_mm is not None
        self.lowest_mm = min(self.lowest_mm, value_mm)
        self.highest_mm = max(self.highest_mm, value_mm)
        if self.was_told or wanted.prepared.plan.heading.approach == "lifted" or wanted.is_zero:
            return ""
        if -_short_mm(value_mm, wanted) <= could_err_mm(gauge):
            return ""
        self.was_told = True
        at, way = brief_mm(wanted.stop.nominal_mm), wanted.stop.direction
        away = "below" if way == "up" else "above"
        return f"It went past {at}. Go well {away} it and come {way} to it again."


def _short_mm(value_mm: Decimal, wanted: WantedPoint) -> Decimal:
    """How far a reading is short of a point, seen from where it is to be come from."""
    short_mm = wanted.reference_mm - value_mm
    return short_mm if wanted.stop.direction == "up" else -short_mm
