"""Whether a gauge may be used on a day, and when it is due next, from its history and its policy.

No clock: the day comes in. Nothing dated later than it counts. Each answer says what it rests on.
"""

import calendar
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Literal

from daq.calibration.errors import CalibrationError
from daq.calibration.fields import brief_mm
from daq.calibration.forms import GaugeIdentity
from daq.calibration.policy import FixedInterval, ReactiveInterval
from daq.calibration.reliability import IntervalRun, months_by_reliability

SOON_DAYS = 30
"""So many days before it is due, a gauge counts as due. Common practice."""

Outcome = Literal["pass", "conditional pass", "conditional fail", "fail", "not judged"]
"""The words of ``daq.calibration.decision``, the worst of all characteristics."""

_GOOD: tuple[Outcome, ...] = ("pass", "conditional pass")
_BAD: tuple[Outcome, ...] = ("fail", "conditional fail")

Standing = Literal["in date", "due", "overdue", "limited range", "withdrawn", "never calibrated"]


@dataclass(frozen=True, slots=True)
class Calibrated:
    """A calibration of a gauge.

    ``as_found`` is how it was before anybody adjusted it, None if that was not measured;
    ``as_left`` how it was after, which is how it works now. ``from_mm`` and ``to_mm`` bound the
    range that it may be used in, None for all of it. ``due`` is the day that was set, None for the
    policy's own.
    """

    on: date
    certificate: str
    as_found: Outcome | None
    as_left: Outcome
    from_mm: Decimal | None = None
    to_mm: Decimal | None = None
    due: date | None = None

    def __str__(self) -> str:
        return f"{self.certificate} of {self.on}"


@dataclass(frozen=True, slots=True)
class Withdrawn:
    """A gauge was taken out of use, with the reason and who says so."""

    on: date
    reason: str
    by: str


@dataclass(frozen=True, slots=True)
class ReturnedToUse:
    """A gauge that was withdrawn may be used again, with the reason and who says so."""

    on: date
    reason: str
    by: str


HistoryEntry = Calibrated | Withdrawn | ReturnedToUse


@dataclass(frozen=True, slots=True)
class Proposal:
    """When a gauge is due next, after how many months, why, and the calibrations it rests on."""

    due: date
    months: int
    words: str
    rests_on: tuple[Calibrated, ...]


@dataclass(frozen=True, slots=True)
class GaugeStatus:
    """How a gauge stands on a day.

    ``words`` say it in one sentence. ``is_usable`` is whether it may serve at all; from ``from_mm``
    to ``to_mm`` only, where they are given. ``rests_on`` is the calibration behind it, if any.
    ``is_due_soon`` may go along with a limited range.
    """

    standing: Standing
    words: str
    is_usable: bool
    due: date | None = None
    rests_on: Calibrated | None = None
    from_mm: Decimal | None = None
    to_mm: Decimal | None = None
    is_due_soon: bool = False

    def __str__(self) -> str:
        return self.words


def status_on(
    on: date,
    gauge: GaugeIdentity,
    history: Sequence[HistoryEntry],
    intervals: Sequence[IntervalRun] = (),
) -> GaugeStatus:
    """How a gauge stands on a day.

    Args:
        on: the day. On the day that it is due a gauge may still be used.
        gauge: its identity and policy.
        history: its calibrations, withdrawals and returns, in any order; of one day, as they come.
        intervals: those that gauges like it have run, for a reliability target.
    """
    known = _until(on, history)
    calibrations = [each for each in known if isinstance(each, Calibrated)]
    changes = [each for each in known if not isinstance(each, Calibrated)]
    last = calibrations[-1] if calibrations else None
    if changes and isinstance(changes[-1], Withdrawn):
        why = changes[-1]
        return GaugeStatus(
            "withdrawn",
            f"{gauge.label} was withdrawn on {why.on} by {why.by}: {why.reason}",
            is_usable=False,
            rests_on=last,
        )
    if last is None:
        return GaugeStatus(
            "never calibrated", f"{gauge.label} has never been calibrated.", is_usable=False
        )
    if last.as_left not in _GOOD:
        how = "did not pass" if last.as_left in _BAD else "could not be judged"
        return GaugeStatus(
            "withdrawn",
            f"{gauge.label} {how} ({last}); adjust it or take it out of use.",
            is_usable=False,
            rests_on=last,
        )
    return _by_date(on, gauge, last, next_due(gauge, calibrations, on, intervals).due)


def _by_date(on: date, gauge: GaugeIdentity, last: Calibrated, due: date) -> GaugeStatus:
    days = (due - on).days
    if days < 0:
        return GaugeStatus(
            "overdue",
            f"{gauge.label} has been overdue since {due}, {-days} {_days(-days)} ({last}).",
            is_usable=False,
            due=due,
            rests_on=last,
        )
    soon = days <= SOON_DAYS
    when = f"due on {due}"
    if soon:
        when += ", today" if days == 0 else f", in {days} {_days(days)}"
    standing: Standing = "due" if soon else "in date"
    words = f"{gauge.label} is {when} ({last})."
    if last.from_mm is not None or last.to_mm is not None:
        standing = "limited range"
        good = range_words(last.from_mm, last.to_mm)
        words = f"{gauge.label} is good {good} only, {when} ({last})."
    return GaugeStatus(
        standing,
        words,
        is_usable=True,
        due=due,
        rests_on=last,
        from_mm=last.from_mm,
        to_mm=last.to_mm,
        is_due_soon=soon,
    )


def next_due(
    gauge: GaugeIdentity,
    history: Sequence[HistoryEntry],
    on: date,
    intervals: Sequence[IntervalRun] = (),
) -> Proposal:
    """When a gauge is due next by its policy, seen from a day.

    The day that was set at the last calibration, if any, comes before the policy's own.

    Args:
        gauge: its identity and policy.
        history: as for ``status_on``; withdrawals are left out.
        on: the day.
        intervals: those that gauges like it have run to their end, for a reliability target.

    Raises:
        CalibrationError: it has never been calibrated.
    """
    known = [each for each in _until(on, history) if isinstance(each, Calibrated)]
    if not known:
        raise CalibrationError(f"{gauge.label} has never been calibrated, so it is due now.")
    last = known[-1]
    months, words, rests_on = _interval(gauge, known, intervals)
    due = months_later(last.on, months)
    if last.due is not None:
        return Proposal(last.due, months, f"The day was set at the calibration ({last}).", (last,))
    return Proposal(due, months, f"{words} Last: {last}.", rests_on)


def _interval(
    gauge: GaugeIdentity, known: Sequence[Calibrated], intervals: Sequence[IntervalRun]
) -> tuple[int, str, tuple[Calibrated, ...]]:
    """The months from the last calibration to the next, the words, and what they rest on."""
    policy, last = gauge.interval, known[-1]
    match policy:
        case FixedInterval():
            return policy.months, f"Every {policy.months} months.", (last,)
        case ReactiveInterval():
            return staircase(policy, known)
    months, words = months_by_reliability(policy, intervals)
    return months, words, (last,)


def staircase(
    policy: ReactiveInterval, calibrations: Sequence[Calibrated]
) -> tuple[int, str, tuple[Calibrated, ...]]:
    """The interval after a row of calibrations by the reactive rule.

    The first calibration begins the row: nothing was promised before it, so it moves nothing. One
    with no as-found result neither lengthens nor shortens, and begins the count of good ones anew.

    Args:
        policy: the rule.
        calibrations: oldest first.

    Returns:
        The months, why in words, and the calibrations that the last step rests on: those since the
        step before.
    """
    months, good = policy.months, 0
    words = f"{months} months to begin with."
    rests_on: list[Calibrated] = list(calibrations[:1])
    counted: list[Calibrated] = []
    for each in calibrations[1:]:
        counted.append(each)
        before = months
        if each.as_found is None or each.as_found == "not judged":
            good, counted = 0, []
            words = f"{months} months as before: nothing was judged as found ({each})."
            rests_on = [each]
        elif each.as_found in _BAD:
            months, good = max(policy.least, months - policy.shorter_by), 0
            words = f"{_changed(before, months)}: found out of its limits ({each})."
            rests_on, counted = [each], []
        else:
            good += 1
            if good == policy.good_results:
                months, good = min(policy.most, months + policy.longer_by), 0
                words = (
                    f"{_changed(before, months)}: found within its limits {policy.good_results} "
                    "times in a row."
                )
                rests_on, counted = counted, []
            else:
                words = (
                    f"{months} months as before: found within its limits {good} of "
                    f"{policy.good_results} times in a row."
                )
                rests_on = list(counted)
    return months, words, tuple(rests_on)


def months_later(day: date, months: int) -> date:
    """The same day so many months later; the last of the month where there is no such day."""
    years, month = divmod(day.month - 1 + months, 12)
    year, month = day.year + years, month + 1
    return date(year, month, min(day.day, calendar.monthrange(year, month)[1]))


def _until(on: date, history: Sequence[HistoryEntry]) -> list[HistoryEntry]:
    return sorted((each for each in history if each.on <= on), key=lambda each: each.on)


def _changed(before: int, months: int) -> str:
    if months == before:
        return f"{months} months, no further"
    return f"{months} months, {'up' if months > before else 'down'} from {before}"


def _days(number: int) -> str:
    return "day" if number == 1 else "days"


def range_words(from_mm: Decimal | None, to_mm: Decimal | None) -> str:
    """A range with one end or two, such as ``from 2 mm to 8 mm``; ``everywhere`` without any."""
    if from_mm is None:
        return "everywhere" if to_mm is None else f"up to {brief_mm(to_mm)}"
    if to_mm is None:
        return f"from {brief_mm(from_mm)}"
    return f"from {brief_mm(from_mm)} to {brief_mm(to_mm)}"
