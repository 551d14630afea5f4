"""A bench of an invented lab: whole calibrations, walked through point by point, and work."""

from datetime import UTC, datetime
from decimal import Decimal

import pytest

from daq.logbook.capture import CapturedSpec
from tests.daq.calibration.guided import lab

FIRST = lab.BEGAN
SECOND = datetime(2027, 5, 20, 9, 0, tzinfo=UTC)
BETWEEN = datetime(2027, 1, 15, 9, 0, tzinfo=UTC)
WHO = "M. Ostby"


def calibration(at, wave_mm, adjusts=None):
    """All records of a whole calibration, of a gauge that errs by so much."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(lab, "BEGAN", at)
        done = lab.Lab(instrument=lab.Gauge(wave_mm=wave_mm), adjusts=adjusts).work()
    return [record for transaction in done.transactions for record in transaction]


def work(value, limits=None, at=BETWEEN, **changes):
    """A capture of work; ``limits`` as lengths."""
    capture = lab.capture(value, at, **changes)
    if limits is None:
        return capture
    lower, upper = map(Decimal, limits)
    middle = (lower + upper) / 2
    spec = CapturedSpec(
        name="protrusion", nominal_mm=middle, lower_mm=lower - middle, upper_mm=upper - middle,
        unit="mm", source="setting sheet 4",
    )  # fmt: skip
    return capture.model_copy(update={"spec": spec, "deviation_mm": capture.value_mm - middle})
