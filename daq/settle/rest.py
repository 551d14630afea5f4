"""What the settler says: a rest, and the state in between."""

from dataclasses import dataclass
from typing import Literal

Kind = Literal["moving", "coming to rest", "vibrating", "at rest"]


@dataclass(frozen=True, slots=True)
class Rest:
    """One settled length.

    value_mm: mean over the settled span. u_mm: its standard uncertainty (k = 1) with scatter,
    correlation, display step and the motion that may still come; twice u_mm covers 95 %. n:
    readings in the span. since_s, until_s: times of its first and last reading.
    """

    value_mm: float
    u_mm: float
    n: int
    since_s: float
    until_s: float


@dataclass(frozen=True, slots=True)
class State:
    """What to show between and during rests.

    kind: see `Kind`. remaining_mm: signed estimate of the motion still to come, and remaining_s:
    the time until less than a tolerance of it is left, while coming to rest; None where nobody can
    say. frequency_hz and swing_mm (peak to peak): of a vibration. advice: what to do, or "".
    """

    kind: Kind
    remaining_mm: float | None = None
    remaining_s: float | None = None
    frequency_hz: float | None = None
    swing_mm: float | None = None
    advice: str = ""
