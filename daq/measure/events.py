"""What a session tells: readings, rests, captures, refusals."""

from dataclasses import dataclass
from typing import Literal

from daq.spec import Verdict
from drivers.reading import BadFrame, NoNumber, Reading

Trigger = Literal["settled", "data key", "key"]


@dataclass(frozen=True, slots=True)
class AtRest:
    """The gauge has come to rest: the settled span, and the verdict if there is a specification.

    ``number`` counts the rests of a session; a rest that is only known better keeps its number.
    """

    number: int
    value_mm: float
    u_mm: float
    n: int
    since_s: float
    until_s: float
    verdict: Verdict | None


@dataclass(frozen=True, slots=True)
class Captured:
    """A value to be kept, with everything that it rests on.

    ``rest_seen`` is False for a single reading sent by the gauge's data key: nobody saw whether
    the part was at rest.
    """

    rest: AtRest
    readings: tuple[Reading, ...]
    trigger: Trigger
    rest_seen: bool
    bad_frames: int


@dataclass(frozen=True, slots=True)
class Refused:
    """Why nothing was captured, in words for the person at the gauge."""

    reason: str


@dataclass(frozen=True, slots=True)
class Moved:
    """The gauge has left its rest."""

    t_s: float


SessionEvent = Reading | NoNumber | BadFrame | AtRest | Moved | Captured
