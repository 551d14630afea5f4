"""A stand-in profile for traces that hold values instead of bytes."""

from collections.abc import Sequence
from decimal import Decimal, InvalidOperation
from itertools import pairwise

from daq.measure.errors import NoValueError
from drivers.profile import GaugeProfile
from drivers.reading import Reading, Unit


def values_profile(readings: Sequence[Reading], resolution_mm: str | None) -> GaugeProfile:
    """A profile with the display step and the rate of a trace of values.

    Args:
        readings: the trace.
        resolution_mm: the display step in millimetres; None to take the finest digit that occurs.

    Raises:
        NoValueError: the step is no positive number, or there are no readings.
    """
    if not readings:
        raise NoValueError("The trace holds no readings.")
    step_mm = _finest(readings) if resolution_mm is None else _step(resolution_mm)
    return GaugeProfile.model_validate(
        {
            "name": "trace-of-values",
            "title": "Values with their times",
            "kind": "indicator",
            "source": "the trace itself",
            "resolution": {"mm": step_mm, "in": step_mm / Unit.INCH.in_mm},
            "sends": {"when": "by itself", "rate_hz": _rate_hz(readings)},
            "frame": {"kind": "line"},
            "layout": {
                "kind": "text",
                "unit": "mm",
                "fields": [{"field": "number", "whole": 1, "decimals": {"mm": 0}}],
            },
            "samples": [{"wire": "+0\r\n", "number": "0"}],
        }
    )


def _finest(readings: Sequence[Reading]) -> Decimal:
    places = max(-int(reading.value.as_tuple().exponent) for reading in readings)
    return Decimal(1).scaleb(-places) * readings[0].unit.in_mm


def _step(text: str) -> Decimal:
    try:
        step_mm = Decimal(text)
    except InvalidOperation:
        step_mm = Decimal("NaN")
    if not step_mm.is_finite() or step_mm <= 0:
        raise NoValueError(f"{text!r} is no display step; write millimetres such as 0.001")
    return step_mm


def _rate_hz(readings: Sequence[Reading]) -> float:
    """Readings a second: the median of the gaps, so that pauses do not count."""
    gaps_s = sorted(b.t_s - a.t_s for a, b in pairwise(readings))
    middle_s = gaps_s[len(gaps_s) // 2] if gaps_s else 0.1
    return min(max(1 / middle_s, 0.1), 2000.0) if middle_s > 0 else 10.0
