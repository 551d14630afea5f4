"""A profile for traces that hold values instead of bytes: their display step and their rate."""

from collections.abc import Sequence
from decimal import Decimal, InvalidOperation
from itertools import pairwise

from daq.measure.errors import NoValueError
from drivers.profile import GaugeProfile
from drivers.reading import Reading, Unit


def values_profile(readings: Sequence[Reading], resolution: str | None) -> GaugeProfile:
    """The profile of a gauge that would have sent these readings.

    Args:
        readings: the trace.
        resolution: the display step in the trace's unit; None to take the finest digit there is.

    Raises:
        NoValueError: there are no readings, the step is no positive number, or it is given for a
            trace in two units.
    """
    if not readings:
        raise NoValueError("The trace holds no readings.")
    units = sorted({reading.unit for reading in readings}, key=lambda unit: unit.value)
    if resolution is not None and len(units) > 1:
        raise NoValueError("The trace is in mm and in inches; one display step cannot be both.")
    steps = {
        unit: _finest(readings, unit) if resolution is None else _step(resolution) for unit in units
    }
    names = {unit.value: f" {unit.value}" for unit in units}
    return GaugeProfile.model_validate(
        {
            "name": "trace-of-values",
            "title": "Values with their times",
            "kind": "indicator",
            "source": "the trace itself",
            "resolution": {unit.value: step for unit, step in steps.items()},
            "sends": {"when": "by itself", "rate_hz": _rate_hz(readings)},
            # No wire was used; this is the fastest that a profile may have.
            "serial": {"baud": 12_000_000},
            "frame": {"kind": "line"},
            "layout": {
                "kind": "text",
                "fields": [
                    {
                        "field": "number",
                        "sign": "minus only",
                        "whole": [1, 9],
                        "decimals": {unit.value: _places(step) for unit, step in steps.items()},
                    },
                    {"field": "unit", **names},
                ],
            },
            "samples": [
                {"wire": f"{0 * step:f}{names[unit.value]}\r\n", "number": f"{0 * step:f}",
                 "unit": unit.value}
                for unit, step in steps.items()
            ],
        }
    )  # fmt: skip


def _places(step: Decimal) -> int:
    return max(0, -int(step.as_tuple().exponent))


def _finest(readings: Sequence[Reading], unit: Unit) -> Decimal:
    """One of the last digit that any reading in ``unit`` has."""
    numbers = [reading.value for reading in readings if reading.unit is unit]
    return Decimal(1).scaleb(-max(_places(number) for number in numbers))


def _step(text: str) -> Decimal:
    try:
        step = Decimal(text)
    except InvalidOperation:
        step = Decimal("NaN")
    if not step.is_finite() or step <= 0 or _places(step) > 9:
        raise NoValueError(f"{text!r} is no display step; write a number such as 0.001")
    return step


def _rate_hz(readings: Sequence[Reading]) -> float:
    """Readings a second: from the median of the gaps, so that pauses do not count."""
    gaps_s = sorted(b.t_s - a.t_s for a, b in pairwise(readings))
    middle_s = gaps_s[len(gaps_s) // 2] if gaps_s else 0.1
    return min(max(1 / middle_s, 0.1), 2000.0) if middle_s > 0 else 10.0
