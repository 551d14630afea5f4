"""Tells gauges that look alike apart: which of them is the one whose plunger is moved."""

from collections.abc import Sequence
from decimal import Decimal

from daq.measure.station import Station
from drivers.reading import Reading

MOVED_STEPS = 100
"""So many display steps are no trembling of the bench."""

STILL_STEPS = 20
"""The others stay within so many."""

WATCHED_S = 1.0
"""After one has moved, the others are watched for so long: their readings may come later."""

TICK_S = 0.1


def find_moved(station: Station, labels: Sequence[str], until_s: float) -> tuple[str | None, str]:
    """The one gauge of which the plunger is moved, while the others keep still.

    Args:
        station: reads them all.
        labels: of the gauges to look at.
        until_s: when to give up, seconds on the station's clock.

    Returns:
        Its label, or None; and in that case why.

    Raises:
        PortError: a port cannot be opened.
    """
    first_mm: dict[str, Decimal] = {}
    away_steps = dict.fromkeys(labels, Decimal(0))
    judged_s = float("inf")
    while station.clock() < until_s:
        for label, event in station.next(TICK_S):
            if label in away_steps and isinstance(event, Reading):
                first = first_mm.setdefault(label, event.value_mm)
                away = abs(event.value_mm - first) / station.session(label).step_mm
                away_steps[label] = max(away_steps[label], away)
        furthest = max(away_steps, key=lambda label: away_steps[label])
        if away_steps[furthest] >= MOVED_STEPS and judged_s == float("inf"):
            judged_s = station.clock() + WATCHED_S
            until_s = max(until_s, judged_s + 2 * TICK_S)
        if station.clock() >= judged_s:
            if any(away_steps[each] > STILL_STEPS for each in labels if each != furthest):
                return None, "More than one moved. Keep the others still, and try again."
            return furthest, ""
    silent = [each for each in labels if each not in first_mm]
    if silent:
        return None, f"No reading came from: {', '.join(silent)}. See restpoint sniff."
    return None, "No plunger was moved far enough. Move it a good way, and try again."
