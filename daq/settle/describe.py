"""Puts the judge's findings into the few words a screen has room for."""

import math
from itertools import pairwise

from daq.settle.history import History
from daq.settle.judge import Judge
from daq.settle.lookback import LIMIT
from daq.settle.rest import State

SWAY_ADVICE = (
    "The value is the middle of the swing."
    " Stop the machine or hold the gauge firmer for a smaller uncertainty."
)


def state_of(judge: Judge, h: History, unit_mm: float) -> State:
    """The state for the screen; ``unit_mm``: one tolerance."""
    rest = judge.rest
    if rest is not None and rest.sway is not None:
        return State(
            "vibrating",
            frequency_hz=rest.sway.frequency_hz,
            swing_mm=2 * rest.sway.amplitude * unit_mm,
            advice=SWAY_ADVICE,
        )
    if rest is not None:
        return State("at rest")
    looked, shown = judge.looked, judge.shown
    if looked is None or shown is None:
        return State("moving")
    left, tau_s = _dying_out(h, looked.span_s[shown])
    if tau_s is None:
        return State("coming to rest", remaining_mm=-looked.r[shown] * unit_mm)
    remaining_s = tau_s * math.log(max(abs(left), LIMIT) / LIMIT)
    return State("coming to rest", remaining_mm=left * unit_mm, remaining_s=remaining_s)


def _dying_out(h: History, span_s: float) -> tuple[float, float | None]:
    """Signed motion still to come and time constant, from three equal parts of the look-back.

    In an exponential decay the differences of the parts' means shrink by the same factor. Where
    they do not shrink, the time constant is None.
    """
    edges = [h.index_at(h.last_s + h.half_gap_s - span_s * part / 3) for part in (3, 2, 1)]
    edges.append(h.bins)
    if any(b <= a for a, b in pairwise(edges)):
        return 0.0, None
    parts = [h.mean[a:b].mean() for a, b in pairwise(edges)]
    before, after = float(parts[1] - parts[0]), float(parts[2] - parts[1])
    factor = after / before if before else 0.0
    if not 0.02 < factor < 0.95:
        return 0.0, None
    kappa = -math.log(factor)
    to_come = after * factor / (1 - factor)  # from the mean of the newest part
    return to_come * kappa / (math.exp(kappa) - 1), span_s / 3 / kappa
