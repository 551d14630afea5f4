"""The interval that a fleet's own history bears out, for gauges with a reliability target.

What counts is an interval that was really run: from one calibration of a gauge to the next, and
whether it was found within its limits at the end. The rule is that of
``daq.calibration.study.reliability.for_reliability``, with the exact interval of a share.

Source: C. J. Clopper and E. S. Pearson, Biometrika 26 (1934) 404.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from statistics import median_low

from daq.calibration.policy import ReliabilityTarget
from daq.calibration.study.reliability import (
    binomial_interval,
    for_reliability,
    trials_without_failure,
)

MONTH_DAYS = 365.25 / 12

NEAR = 0.25
"""Intervals that differ by no more than this share tell of the same interval. House rule: fleets
are calibrated a few weeks before or after the day, and not to the day."""


@dataclass(frozen=True, slots=True)
class IntervalRun:
    """An interval that was run: whose, until when, how long, and what was found at its end."""

    label: str
    until: date
    months: float
    is_within: bool


def enough(policy: ReliabilityTarget) -> int:
    """How many intervals, all ended within the limits, first show more than the target.

    It is the least n of which the lower end of the exact interval, (α/2)^(1/n), reaches the target.
    """
    confidence = float(policy.confidence) / 100
    return trials_without_failure(float(policy.reliability) / 100, 1 - (1 - confidence) / 2)


def months_by_reliability(
    policy: ReliabilityTarget, history: Sequence[IntervalRun]
) -> tuple[int, str]:
    """The interval in whole months, rounded down, and the data it rests on in words.

    Intervals of about the same length are counted together: first those like the interval that is
    run now (the median of each gauge's newest), so that one gauge that came in early moves nothing.
    They decide if there are enough of them, or if they show by themselves that the interval is too
    long; else the rest is looked at in the same way. Where nothing decides, the policy's own
    ``months`` stay.

    Args:
        policy: the target, and what it may come to.
        history: of all gauges that are alike, in any order.
    """
    left = list(history)
    while left:
        alike = _like_those_run_now(left)
        if (decided := _decided(policy, alike)) is not None:
            return decided
        left = [each for each in left if each not in alike]
    if not history:
        so_far = "no gauge like it has run an interval to its end so far"
    else:
        so_far = f"so far {_data(policy, _like_those_run_now(history))}"
    return policy.months, (
        f"{policy.months} months, until the history of the fleet shows more: {so_far}. It takes "
        f"{enough(policy)} intervals of one length."
    )


def _like_those_run_now(history: Sequence[IntervalRun]) -> list[IntervalRun]:
    """The intervals about as long as those that were run last."""
    newest: dict[str, IntervalRun] = {}
    for each in sorted(history, key=lambda each: each.until):
        newest[each.label] = each
    # The low median: one that was really run, so that there is one like it at least.
    now = median_low(each.months for each in newest.values())
    return [each for each in history if abs(each.months - now) <= NEAR * now]


def _decided(policy: ReliabilityTarget, alike: Sequence[IntervalRun]) -> tuple[int, str] | None:
    """What intervals of one length come to; None if they are too few to tell."""
    mean = _mean(alike)
    found = for_reliability(
        mean,
        sum(each.is_within for each in alike),
        len(alike),
        target=float(policy.reliability) / 100,
        shortest=float(policy.least),
        longest=float(policy.most),
        confidence=float(policy.confidence) / 100,
    )
    done = found.rule.partition(": ")[2]
    if len(alike) < enough(policy) and not done.startswith("shortened"):
        return None
    months, how = math.floor(found.interval + 1e-9), done.partition(",")[0]
    # Intervals run two weeks short of a year are no reason to go down a month.
    if done.startswith("kept"):
        months, how = round(mean), "kept, the data cannot tell it from the target"
    elif done.startswith("lengthened") and months <= round(mean):
        months, how = round(mean), "kept, it comes to no whole month more"
    bounded = min(max(months, policy.least), policy.most)
    held = ", held at its bound" if bounded != months or "held" in found.rule else ""
    return bounded, f"{bounded} months ({how}{held}): {_data(policy, alike)}."


def _data(policy: ReliabilityTarget, alike: Sequence[IntervalRun]) -> str:
    """What was counted, the share, its interval, and what is asked for."""
    within, gauges = sum(each.is_within for each in alike), len({each.label for each in alike})
    seen = binomial_interval(within, len(alike), float(policy.confidence) / 100)
    return (
        f"{within} of {len(alike)} {'interval' if len(alike) == 1 else 'intervals'} of about "
        f"{_mean(alike):.1f} months, of {gauges} {'gauge' if gauges == 1 else 'gauges'} like it, "
        f"ended within the limits, {100 * seen.observed:.1f} % (exact {policy.confidence} % "
        f"interval {100 * seen.low:.1f} % to {100 * seen.high:.1f} %); {policy.reliability} % are "
        "asked for"
    )


def _mean(alike: Sequence[IntervalRun]) -> float:
    return math.fsum(each.months for each in alike) / len(alike)
