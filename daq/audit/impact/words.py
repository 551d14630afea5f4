"""An impact in words: what each period was, its captures by job, the verdicts that turn."""

from collections.abc import Iterator

import numpy as np

from daq.audit.impact.impact import Impact, tallies
from daq.audit.impact.rows import utc
from daq.audit.impact.touched import FLIPS, GROUPS, NOT_CORRECTED, UNAFFECTED, WEAKENED, Touched

SHOWN = 20
"""Verdicts that turn, a period; the CSV has them all."""


def lines_of(impact: Impact) -> Iterator[str]:
    """The whole impact, a line at a time."""
    for each in impact.touched:
        yield from period_lines(each)
        yield ""
    yield summary(impact)


def summary(impact: Impact) -> str:
    """What it comes to, in one sentence."""
    if not impact.touched:
        return "No gauge was found out of limits."
    gauges = len({each.period.gauge for each in impact.touched})
    counts = ", ".join(f"{name} {impact.count(i)}" for i, name in enumerate(GROUPS))
    return f"{gauges} {_many('gauge', gauges)} out of limits. Captures: {counts}."


def period_lines(each: Touched) -> Iterator[str]:
    """One period: what was found, from when to when, what it comes to by job and feature."""
    yield _headline(each)
    yield f"  {_span(each)}"
    if each.period.why_not:
        yield f"  Nothing is corrected by it: {each.period.why_not}. Put the calibration right."
    if outside := int(each.outside.sum()):
        yield (
            f"  {outside} {_many('value', outside)} beyond the calibrated lengths: the error of "
            "the nearest end was taken."
        )
    if no_u := int(np.isnan(each.captures.u_mm).sum()):
        yield f"  {no_u} without an uncertainty: whether they are weakened cannot be told."
    if each.group.size:
        yield from _table(each)
    flips = np.flatnonzero(each.group == FLIPS)
    yield from (_flip(each, int(i)) for i in flips[:SHOWN])
    if flips.size > SHOWN:
        yield f"  and {flips.size - SHOWN} more; --csv FILE writes them all."


def _headline(each: Touched) -> str:
    period = each.period
    worst = "" if period.curve is None else f", mean error up to {period.curve.worst_mm:+.4f} mm"
    day = utc(period.run.first_us)[:10]
    by = f"by calibration {period.run.run} of {day}"
    return f"{period.gauge}: {period.what} out of limits {by}{worst}."


def _span(each: Touched) -> str:
    period = each.period
    n = each.group.size
    after = "the first capture" if period.after_us is None else _minute(period.after_us)
    until = "the last capture" if period.until_us is None else _minute(period.until_us)
    if period.before is None:
        before = " (no calibration before it)"
    else:
        before = "" if period.what == "left" else f" (calibration {period.before.run})"
    return f"{n} {_many('capture', n)} from {after}{before} to {until}."


def _table(each: Touched) -> Iterator[str]:
    rows: list[tuple[str, ...]] = [("job", "feature", "document", *GROUPS)]
    rows += [
        (tally.job or "no job", tally.feature, tally.document, *map(str, tally.counts))
        for tally in tallies(each)
    ]
    # A column that has nothing to say is left out.
    kept = [
        column for column in zip(*rows, strict=True)
        if any(cell not in ("", "0") for cell in column[1:]) or column[0] in _ALWAYS
    ]  # fmt: skip
    widths = [max(map(len, column)) for column in kept]
    for row in zip(*kept, strict=True):
        cells = [
            cell.rjust(width) if column[0] in GROUPS else cell.ljust(width)
            for cell, width, column in zip(row, widths, kept, strict=True)
        ]
        yield "  " + "  ".join(cells).rstrip()


_ALWAYS = ("job", *(GROUPS[i] for i in (FLIPS, WEAKENED, UNAFFECTED)))


def _flip(each: Touched, i: int) -> str:
    taken = each.captures
    before = "within" if each.within_before[i] else "out"
    after = "within" if each.within_after[i] else "out"
    chances = ""
    if not np.isnan(each.p_before[i]):
        chances = f" (likely within: {_percent(each.p_before[i])} → {_percent(each.p_after[i])})"
    job, feature = str(taken.job[i]), str(taken.feature[i])
    where = f"{f'job {job}' if job else 'no job'}{f', {feature}' if feature else ''}"
    return (
        f"  capture {taken.seq[i]} of {_minute(int(taken.at_us[i]))}, {where}: "
        f"{taken.value_mm[i]:.4f} mm → {each.corrected_mm[i]:.4f} mm, "
        f"{before} → {after}{chances}"
    )


def _percent(p: float) -> str:
    # Never 0 % or 100 %: nothing measured is that sure.
    return "under 0.1 %" if p < 0.001 else "over 99.9 %" if p > 0.999 else f"{100 * p:.1f} %"


def _minute(at_us: int) -> str:
    return utc(at_us)[:16].replace("T", " ")


def _many(name: str, n: int) -> str:
    return name if n == 1 else f"{name}s"


def is_answered(impact: Impact) -> bool:
    """Whether nothing flips, and nothing was left without an answer."""
    return impact.is_whole and not impact.flips and not impact.count(NOT_CORRECTED)
