"""Runs a settler over a trace and holds every rest it reports against the truth.

A rest reported is *false* when the part never rests, when it later moves by more than a tolerance
from where it was, or when the motion's mean over the averaged span is more than half a tolerance
off. A required rest without a right report is *missed*. The oracle knows the true instant of rest
and averages exactly the good readings since then. Lengths in tolerances.
"""

import time
from dataclasses import dataclass, field

import numpy as np

from .trace import Trace


@dataclass
class Report:
    """One rest from its first report to its end; first and last are Rest objects."""

    told_s: float
    first: object
    last: object
    withdrawn_s: float | None = None


@dataclass
class Score:
    """What one trace adds to the table."""

    family: str
    hz: int
    coarse: bool
    never_rests: bool
    required: int = 0
    missed: int = 0
    false: int = 0
    delays_s: list = field(default_factory=list)
    first: list = field(default_factory=list)  # (error, u, oracle's error or nan)
    final: list = field(default_factory=list)
    stale_s: list = field(default_factory=list)
    withdrawn: int = 0
    resting_s: float = 0.0
    cost_us: float = 0.0


def reports_of(settler, trace: Trace) -> tuple[list[Report], list[object], float]:
    """The rests reported, what every push gave, and the CPU time a reading in microseconds."""
    times, values = trace.t_s.tolist(), trace.value_mm.tolist()
    began = time.process_time()
    said = [settler.push(t, v) for t, v in zip(times, values, strict=True)]
    cost_us = 1e6 * (time.process_time() - began) / len(times)
    reports: list[Report] = []
    live = None
    for t, rest in zip(times, said, strict=True):
        if live is not None and (rest is None or rest.since_s > live.last.until_s):
            live.withdrawn_s, live = t, None
        if rest is not None:
            if live is None:
                live = Report(t, rest, rest)
                reports.append(live)
            live.last = rest
    return reports, said, cost_us


def score(settler, trace: Trace) -> Score:
    """Score a fresh settler on one trace."""
    reports, said, cost_us = reports_of(settler, trace)
    out = Score(trace.family, trace.hz, trace.coarse, trace.never_rests, cost_us=cost_us)
    visible = [_visible_from(trace, k) for k in range(len(trace.stretches))] + [np.inf]
    for k, stretch in enumerate(trace.stretches):
        mine = [r for r in reports if visible[k] <= r.told_s < visible[k + 1]]
        if stretch.rest is None:
            out.false += len(mine)
            continue
        right = [r for r in mine if not _is_false(trace, k, r)]
        out.false += len(mine) - len(right)
        end_s = stretch.end_s
        for r in right:
            out.withdrawn += r.withdrawn_s is not None and r.withdrawn_s < end_s
            out.resting_s += max(0.0, min(r.withdrawn_s or end_s, end_s) - r.told_s)
        if k > 0:
            _score_withdrawal(out, trace, k, reports)
        if mine:
            out.first.append(_errors(trace, k, mine[0].first, mine[0].told_s))
        _score_required(out, trace, k, right, reports, said, visible)
    return out


def _visible_from(trace, k):
    """When the move that begins a stretch can be told from one wrong frame; end if it never can."""
    stretch = trace.stretches[k]
    if k == 0:
        return stretch.begin_s
    grid = np.arange(stretch.begin_s, stretch.end_s, 0.004)
    moved = np.flatnonzero(np.abs(stretch.x(grid) - stretch.x(grid[:1])) > 1)
    if len(moved) == 0:
        return stretch.begin_s
    return min(stretch.end_s, grid[moved[0]] + max(min(3 / trace.hz, 0.2), 0.02))


def is_false(trace: Trace, report: Report) -> bool:
    """Whether a report tells of a rest that is none."""
    told_in = max(
        k for k in range(len(trace.stretches)) if k == 0 or _visible_from(trace, k) <= report.told_s
    )
    return trace.stretches[told_in].rest is None or _is_false(trace, told_in, report)


def _is_false(trace, k, report):
    stretch = trace.stretches[k]
    told = np.array([min(report.told_s, stretch.end_s)])
    later = np.append(np.arange(told[0], stretch.end_s, 0.01), told)
    leaves = (stretch.x(later) - stretch.rest(later)) - (stretch.x(told) - stretch.rest(told))
    span = (trace.t_s >= report.first.since_s - 1e-9) & (trace.t_s <= report.told_s + 1e-9)
    off = trace.x(trace.t_s[span]).mean() - stretch.x(told)[0]
    return bool(np.abs(leaves).max() > 1 or abs(off) > 0.5)


def _errors(trace, k, rest, until_s):
    """Error and u of a report, and the error of the oracle that sees as far; in tolerances."""
    stretch = trace.stretches[k]
    at = lambda t_s: float(stretch.rest(np.array([t_s]))[0])  # noqa: E731
    error = rest.value_mm / trace.tolerance_mm - at(until_s)
    good = (trace.t_s >= stretch.settled_s) & (trace.t_s <= until_s) & ~trace.wrong
    oracle = np.nan
    if good.any():
        shown = trace.value_mm[good] / trace.tolerance_mm
        oracle = float((shown - stretch.rest(trace.t_s[good])).mean())
    return error, rest.u_mm / trace.tolerance_mm, oracle


def _score_withdrawal(out, trace, k, reports):
    stretch = trace.stretches[k]
    before = trace.stretches[k - 1]
    begin = stretch.begin_s
    held = [r for r in reports if r.told_s < begin and (r.withdrawn_s or np.inf) >= begin]
    if not held or before.rest is None:
        return
    grid = np.arange(begin, stretch.end_s, 0.01)
    left = np.flatnonzero(np.abs(stretch.x(grid) - before.rest(np.array([begin]))[0]) > 1)
    if len(left):
        withdrawn_s = held[-1].withdrawn_s or trace.t_s[-1]
        out.stale_s.append(max(0.0, withdrawn_s - grid[left[0]]))


def _score_required(out, trace, k, right, reports, said, visible):
    stretch = trace.stretches[k]
    if not stretch.required or (k > 0 and visible[k] <= stretch.begin_s):
        return
    out.required += 1
    held = [
        r for r in reports
        if r.told_s < visible[k] and (r.withdrawn_s or np.inf) >= stretch.end_s
    ]  # fmt: skip
    if not right and held:
        # An earlier rest was held through; right if it is right of this one too.
        error, u, _ = _errors(trace, k, held[-1].last, stretch.end_s)
        out.missed += abs(error) > max(0.5, 2 * u)
        return
    if not right:
        out.missed += 1
        return
    out.delays_s.append(right[0].told_s - stretch.settled_s)
    last = int(np.searchsorted(trace.t_s, stretch.end_s)) - 1
    if said[last] is not None:
        at = said[last].until_s if trace.family == "slow drift" else trace.t_s[last]
        error, u, _ = _errors(trace, k, said[last], at)
        out.final.append((error, u, _errors(trace, k, said[last], trace.t_s[last])[2]))
