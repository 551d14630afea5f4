"""One thing for the fitter to do, as data."""

from dataclasses import dataclass
from typing import Literal

from daq.jobs.adjusting import TurnTold
from daq.jobs.recipes import Wanted
from daq.logbook.job import Gate, JobCalibration, MasterCheck, Phase
from daq.spec import Spec


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """One thing for the fitter to do.

    ``kind``: ``confirm`` (do it, then say so), ``measure`` (a settled value is captured),
    ``adjust`` (turn until it is within limits, then the settled value is captured), ``decide``
    (the result is outside its limits and no screw sets it: measure again, or let it stand with
    reason and name; or the gauge may not be used), ``end`` (nothing is left).

    ``title`` is what it is about, ``words`` what to do, ``more`` what to know besides, cautions
    first. ``role`` is the gauge that is read; empty if none is. ``spec`` are the limits on that
    gauge's own scale, for the live indicator. ``wanted`` is the capture that is asked for,
    ``asks`` what the fitter has to say besides: the angle it was taken at, or the temperatures of
    part and gauge; ``told`` the turn. ``gauge`` is, where that is to be decided, what is known of a
    gauge that may not be used unless somebody answers for it.
    """

    kind: Literal["confirm", "measure", "adjust", "decide", "end"]
    title: str
    words: str
    more: tuple[str, ...] = ()
    step: str = ""
    target: str = ""
    gate: Gate | None = None
    phase: Phase | None = None
    master: MasterCheck | None = None
    role: str = ""
    spec: Spec | None = None
    wanted: Wanted | None = None
    asks: Literal["", "angle", "temperatures"] = ""
    told: TurnTold | None = None
    gauge: JobCalibration | None = None
