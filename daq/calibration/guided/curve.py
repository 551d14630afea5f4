"""The error curve as it grows, as plain data for a screen."""

from dataclasses import dataclass
from decimal import Decimal

from daq.calibration.forms import ZeroAt
from daq.calibration.guided.standing import RunStanding, Standing
from daq.calibration.plan import Series
from daq.calibration.points import Run

CurvePoint = tuple[Decimal, Decimal]
"""Nominal travel and error there, in millimetres."""


@dataclass(frozen=True, slots=True)
class ErrorCurve:
    """The errors of one run so far, each series in the order of its taking.

    The scale of travel goes from 0 to ``to_mm``. ``limit_mm`` is the permissible error over the
    range. With a fixed ``zero`` the errors must lie between ``lower_mm`` and ``upper_mm``; with a
    floating one they may not spread wider than ``limit_mm``, and the two are drawn as far apart,
    about the middle of what there is.
    """

    run: Run
    up: tuple[CurvePoint, ...]
    down: tuple[CurvePoint, ...]
    repeat: tuple[CurvePoint, ...]
    to_mm: Decimal
    limit_mm: Decimal
    zero: ZeroAt
    lower_mm: Decimal
    upper_mm: Decimal

    @property
    def is_within(self) -> bool:
        """Whether every error so far, repeats left out, is between the limits as drawn."""
        return all(self.lower_mm <= error <= self.upper_mm for _, error in (*self.up, *self.down))


def curve_of(stands: Standing, run: Run | None = None) -> ErrorCurve | None:
    """The error curve of a run, of the current one if none is named; None if it has not begun."""
    of = stands.current if run is None else stands.as_left if run == "as left" else stands.as_found
    if of is None:
        return None
    limits = stands.gauge.limits
    up, down = _series(of, "up"), _series(of, "down")
    errors = [error for _, error in (*up, *down)]
    half_mm, middle_mm = limits.over_range_mm, Decimal(0)
    if limits.zero == "floating":
        half_mm = limits.over_range_mm / 2
        middle_mm = (max(errors) + min(errors)) / 2 if errors else Decimal(0)
    return ErrorCurve(
        run=of.run,
        up=up,
        down=down,
        repeat=_series(of, "repeat"),
        to_mm=stands.prepared.plan.lengths_mm[-1],
        limit_mm=limits.over_range_mm,
        zero=limits.zero,
        lower_mm=middle_mm - half_mm,
        upper_mm=middle_mm + half_mm,
    )


def _series(run: RunStanding, series: Series) -> tuple[CurvePoint, ...]:
    return tuple((each.nominal_mm, each.error_mm) for each in run.points if each.series == series)
