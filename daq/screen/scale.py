"""Where a value lies on the limits scale, in columns. No drawing here."""

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from daq.screen.view import BenchView

LEAST_REACH_STEPS = 50
"""How far past the aim and the limits the scale reaches at least, in display steps, where they
coincide."""

FEWEST_COLUMNS = 9
"""Below this the limits, zero and a needle between them cannot be told apart."""


@dataclass(frozen=True, slots=True)
class Spot:
    """The needle's place: a column, and on which side it lies outside the scale, if it does."""

    column: int
    beyond: Literal["", "left", "right"] = ""


@dataclass(frozen=True, slots=True)
class Scale:
    """Everything the scale marks, in columns from 0. A limit's column belongs to what is out."""

    aim: int
    """Where the value should be: zero, unless the limits leave zero outside."""

    lower: int | None
    upper: int | None
    needle: Spot | None
    band: tuple[int, int] | None
    """First and last column of the settled value ± U (k = 2); None unless it is at rest."""


def scale_of(view: BenchView, width: int) -> Scale:
    """The limits scale of a view.

    It covers the aim, the limits and half their span more on either side; as much again where
    there is one limit only. That depends on the specification alone, so it stands still while the
    value moves. A value outside a limit never gets a column between the limits, and a value
    within them never one outside.

    Args:
        view: what is to be shown.
        width: columns to draw it in, ``FEWEST_COLUMNS`` or more.
    """
    left_mm, right_mm = _reach(view)

    def column(mm: float) -> int:
        share = (mm - left_mm) / (right_mm - left_mm)
        return math.floor(min(max(share, 0.0), 1.0) * (width - 1) + 0.5)

    lower = None if view.lower_mm is None else column(float(view.lower_mm))
    upper = None if view.upper_mm is None else column(float(view.upper_mm))
    needle = None
    if view.shown_mm is not None:
        value_mm = float(view.shown_mm)
        if value_mm < left_mm:
            needle = Spot(0, "left")
        elif value_mm > right_mm:
            needle = Spot(width - 1, "right")
        else:
            needle = Spot(_on_its_side(view, column(value_mm), lower, upper))
    return Scale(column(float(view.aim_mm)), lower, upper, needle, _band(view, column))


def _reach(view: BenchView) -> tuple[float, float]:
    """The deviations at the scale's two ends, millimetres."""
    ends = (view.aim_mm, view.lower_mm, view.upper_mm)
    ends_mm = [float(end) for end in ends if end is not None]
    low_mm, high_mm = min(ends_mm), max(ends_mm)
    span_mm = high_mm - low_mm or LEAST_REACH_STEPS * float(view.step_mm)
    margin_mm = span_mm / 2 if len(ends_mm) == len(ends) else span_mm
    return low_mm - margin_mm, high_mm + margin_mm


def _on_its_side(view: BenchView, at: int, lower: int | None, upper: int | None) -> int:
    """The needle's column, moved where rounding put it on the wrong side of a limit's edge."""
    value_mm = view.shown_mm
    assert value_mm is not None
    if view.lower_mm is not None and lower is not None:
        at = min(at, lower) if value_mm < view.lower_mm else max(at, lower + 1)
    if view.upper_mm is not None and upper is not None:
        at = max(at, upper) if value_mm > view.upper_mm else min(at, upper - 1)
    return at


def _band(view: BenchView, column: Callable[[float], int]) -> tuple[int, int] | None:
    settled_mm, u_mm = view.settled_mm, view.u_mm
    if not view.is_at_rest or settled_mm is None or u_mm is None:
        return None
    if not (math.isfinite(settled_mm) and math.isfinite(u_mm)):
        return None
    return column(settled_mm - 2 * u_mm), column(settled_mm + 2 * u_mm)
