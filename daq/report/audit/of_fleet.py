"""The report's parts that tell how the fleet stands: due dates, drift, reliability, sites."""

from collections.abc import Sequence
from datetime import date

import numpy as np

from daq.audit.layout import NULL
from daq.calibration.study.reliability import binomial_interval
from daq.report.audit.facts import DriftFacts, DueFacts, ReliabilityFacts, SiteFacts
from daq.report.audit.model import (
    DriftLine,
    DriftReport,
    Horizon,
    MonthBar,
    ReliabilityLine,
    ReliabilityReport,
    SiteLine,
    SitesReport,
)
from daq.report.audit.sizes import Most
from daq.report.audit.words import (
    beyond,
    count,
    counted,
    day,
    length,
    percent,
    places_for,
    signed,
)

FURTHEST_YEARS = 20
"""A day that lies further away is told as such: nobody knows a line to go on for so long."""

SOON = 3
"""Months, that of the audit counted, of which the text says how many come due."""

_MONTHS = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"]


def horizon(due: DueFacts | None, on: date, most: Most) -> Horizon | None:
    """How many gauges are overdue, and how many come due in each month from that of ``on``."""
    if due is None or not due.due_us.size:
        return None
    known = due.due_us[due.due_us != NULL].view(np.int64)
    days = np.floor_divide(known, 86_400_000_000)
    today = (on - date(1970, 1, 1)).days
    # `due` is the first moment that a gauge is no longer in date: on that day it is overdue.
    late = int(np.count_nonzero(days <= today))
    ahead = days[days > today].astype("datetime64[D]").astype("datetime64[M]").astype(np.int64)
    first = (on.year - 1970) * 12 + on.month - 1
    within = ahead[ahead < first + most.months] - first
    counts = np.bincount(within, minlength=most.months)
    months = tuple(
        _month(first + place, int(number), named=place == 0)
        for place, number in enumerate(counts.tolist())
    )
    later = int(ahead.size - within.size)
    none = int(due.due_us.size - known.size)
    soon, third = int(counts[:SOON].sum()), first + min(SOON, most.months) - 1
    said = (
        f"On {on:%Y-%m-%d}: {count(late)} of {counted(int(due.due_us.size), 'gauge')} overdue; "
        f"{count(soon)} more {'comes' if soon == 1 else 'come'} due by the end of "
        f"{_MONTHS[third % 12]} {third // 12 + 1970}."
    )
    return Horizon(
        said=said,
        overdue=MonthBar(month="overdue", year="", gauges=late, shown=count(late)),
        months=months,
        later=MonthBar(month="later", year="", gauges=later, shown=count(later)),
        no_date=f"No due date is known of {counted(none, 'gauge')}." if none else "",
    )


def _month(number: int, gauges: int, *, named: bool) -> MonthBar:
    year, month = divmod(number, 12)
    return MonthBar(
        month=_MONTHS[month],
        year=str(1970 + year) if named or month == 0 else "",
        gauges=gauges,
        shown=count(gauges),
    )


def drift(facts: DriftFacts | None, on: date, most: Most) -> DriftReport | None:
    """The gauges that drift worst: first those whose drift is clear, soonest out first."""
    if facts is None:
        return None
    told = np.flatnonzero(np.isfinite(facts.slope_nm))
    if not told.size:
        return None
    slope, low, high = facts.slope_nm, facts.low_nm, facts.high_nm
    known = np.isfinite(low) & np.isfinite(high)
    clear = known & ((low > 0) | (high < 0))
    leaves = np.where(facts.leaves_us == NULL, np.iinfo(np.int64).max, facts.leaves_us)
    # The last key counts most.
    order = np.lexsort((-np.abs(slope[told]), leaves[told], ~clear[told]))
    shown = told[order][: most.drifts]
    in_mm = [float(each) / 1e6 for each in (*slope[shown], *low[shown], *high[shown])]
    places = min(places_for([abs(each) for each in in_mm]), 5)
    lines = tuple(_drift_line(facts, int(i), bool(clear[i]), on, places) for i in shown)
    clear_count = int(np.count_nonzero(clear[told]))
    few = len(facts.gauges) - int(told.size)
    said = [
        f"A straight line through {facts.of}, with the interval that holds the true slope with "
        f"95 %. Of {counted(int(told.size), 'gauge')} with enough calibrations, "
        f"{count(clear_count)} have an interval that leaves out 0.",
        "By chance alone about one sound gauge in twenty has such an interval. When a line leaves "
        "the limit supposes that the gauge goes on as before.",
    ]
    if few:
        said.append(f"{counted(few, 'gauge')} with too few calibrations for a line.")
    return DriftReport(
        said=tuple(said), lines=lines, left_out=beyond(int(told.size) - len(lines), "gauge")
    )


def _drift_line(facts: DriftFacts, at: int, clear: bool, on: date, places: int) -> DriftLine:
    slope, low, high = (
        float(each[at]) / 1e6 for each in (facts.slope_nm, facts.low_nm, facts.high_nm)
    )
    is_known = np.isfinite(low) and np.isfinite(high)
    limit = int(facts.limit_nm[at])
    return DriftLine(
        gauge=facts.gauges[at],
        calibrations=count(int(facts.calibrations[at])),
        slope=slope,
        low=low if is_known else slope,
        high=high if is_known else slope,
        shown=signed(slope, places),
        interval=f"{signed(low, places)} to {signed(high, places)}" if is_known else "not known",
        limit="none" if limit == NULL else length(limit).removesuffix(" mm"),
        leaves=_leaves(int(facts.leaves_us[at]), limit, on),
        is_clear=clear,
    )


def _leaves(leaves_us: int, limit: int, on: date) -> str:
    if limit == NULL:
        return "no limit known"
    if leaves_us == NULL:
        return "never"
    days = leaves_us // 86_400_000_000 - (on - date(1970, 1, 1)).days
    if days > FURTHEST_YEARS * 365.25:
        return f"in over {FURTHEST_YEARS} years"
    return f"{day(leaves_us)}, past" if days <= 0 else day(leaves_us)


def reliability(facts: Sequence[ReliabilityFacts], most: Most) -> ReliabilityReport | None:
    """The share within limits by kind and interval, the kinds in order, with 95 % intervals."""
    told = [each for each in facts if each.calibrations]
    if not told:
        return None
    # Where there are too many, those with most calibrations say most.
    kept = sorted(told, key=lambda each: -each.calibrations)[: most.reliabilities]
    kept.sort(key=lambda each: (each.kind, each.interval_days or 0))
    return ReliabilityReport(
        lines=tuple(map(_reliable, kept)),
        left_out=beyond(len(told) - len(kept), "kind and interval", "kinds and intervals"),
    )


def _reliable(each: ReliabilityFacts) -> ReliabilityLine:
    share = binomial_interval(each.within, each.calibrations)
    days = each.interval_days
    ends = f"{percent(share.low)} to {percent(share.high)}"
    return ReliabilityLine(
        kind=each.kind or "kind not known",
        interval="interval not known" if days is None else counted(days, "day"),
        share=share.observed,
        low=share.low,
        high=share.high,
        counted=f"{count(each.within)} of {count(each.calibrations)}",
        shown=f"{percent(share.observed)} % ({ends})",
    )


def sites(facts: Sequence[SiteFacts], most: Most) -> SitesReport | None:
    """Findings by site, those with most first."""
    if not facts:
        return None
    order = sorted(facts, key=lambda each: (-each.findings, -each.high, each.site))
    return SitesReport(
        lines=tuple(
            SiteLine(
                site=each.site or "no site stated",
                gauges=count(each.gauges),
                calibrations=count(each.calibrations),
                captures=count(each.captures),
                high=each.high,
                medium=each.medium,
                low=each.low,
                findings=count(each.findings),
            )
            for each in order[: most.sites]
        ),
        left_out=beyond(len(order) - most.sites, "site"),
    )
