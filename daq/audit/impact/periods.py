"""From when to when a gauge was used while it was out of its limits, by its calibrations.

A calibration finds out of limits what was used since the one before it. One that leaves a gauge out
of limits puts in doubt what is captured until the next. What one calibration answers for, no other
does: so each capture is in one period at most.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

from daq.audit.impact.curve import ErrorCurve


@dataclass(frozen=True, slots=True, eq=False)
class Run:
    """A calibration of a gauge.

    ``first_us`` and ``last_us`` are the times of its points, µs UTC. ``found_out`` and ``left_out``
    say whether it was out of limits as found and as left; None where nothing tells. ``found`` and
    ``left`` are its errors, where points are there; a gauge that was not adjusted is left as found.
    """

    gauge: str
    run: str
    first_us: int
    last_us: int
    found: ErrorCurve | None
    left: ErrorCurve | None
    found_out: bool | None
    left_out: bool | None


@dataclass(frozen=True, slots=True, eq=False)
class Period:
    """When a gauge was used out of its limits, and the calibration that says so.

    Captures count that were taken after ``after_us`` and not after ``until_us``; None for no bound.
    ``what``: it was found so at the end of the period, or left so at its beginning. ``before`` and
    ``following`` are the calibrations at both ends, one of which is ``run``.
    """

    what: Literal["found", "left"]
    run: Run
    before: Run | None
    following: Run | None
    after_us: int | None
    until_us: int | None

    @property
    def gauge(self) -> str:
        """The gauge."""
        return self.run.gauge

    @property
    def curve(self) -> ErrorCurve | None:
        """The errors that captures are corrected by; None if the calibration has no points."""
        return self.run.found if self.what == "found" else self.run.left

    @property
    def other(self) -> ErrorCurve | None:
        """The errors at the other end of the period; None if there is none."""
        if self.what == "found":
            return self.before.left if self.before is not None else None
        return self.following.found if self.following is not None else None

    @property
    def why_not(self) -> str:
        """Why nothing can be corrected by this calibration, in words; or empty."""
        if self.curve is None:
            return "it has no points"
        return self.curve.slip


def periods_of(runs: Sequence[Run]) -> tuple[Period, ...]:
    """When a gauge was out of its limits, oldest first.

    Args:
        runs: all of one gauge, in the order in which they were done.
    """
    # One that was broken off, or that nothing judges, does not say how the gauge was.
    judged = [run for run in runs if run.found_out is not None or run.left_out is not None]
    return tuple(_periods(judged))


def _periods(runs: Sequence[Run]) -> Iterator[Period]:
    if runs and runs[0].found_out:
        yield Period("found", runs[0], None, runs[0], None, runs[0].first_us)
    for before, run in pairwise(runs):
        if run.found_out:
            yield Period("found", run, before, run, before.last_us, run.first_us)
        elif before.left_out:
            yield Period("left", before, before, run, before.last_us, run.first_us)
    if runs and runs[-1].left_out:
        yield Period("left", runs[-1], runs[-1], None, runs[-1].last_us, None)
