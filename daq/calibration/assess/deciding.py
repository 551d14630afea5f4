"""Which limit a characteristic has, and what the decision rule makes of it."""

from collections.abc import Iterable, Iterator
from decimal import Decimal

from daq.calibration.assess.asked import WORST_FIRST, How, Stated
from daq.calibration.decision import Decision, Word, characteristic, judge
from daq.calibration.errors import CalibrationError
from daq.calibration.forms import GaugeIdentity
from daq.calibration.results import Characteristic, What


def limits_of(gauge: GaugeIdentity) -> dict[What, Decimal]:
    """The limits of a gauge, by the characteristic that each is for."""
    limits = gauge.limits
    over_range: What = "fixed-zero error" if limits.zero == "fixed" else "span error"
    every: dict[What, Decimal | None] = {
        over_range: limits.over_range_mm,
        "partial-range error": limits.over_partial_mm,
        "hysteresis": limits.hysteresis_mm,
        "repeatability": limits.repeatability_mm,
    }
    return {what: limit_mm for what, limit_mm in every.items() if limit_mm is not None}


def decided(
    found: Characteristic, stated: Stated, limit_mm: Decimal, source: str, how: How
) -> tuple[Decision | None, str]:
    """The decision, and why it fell so; None where the rule cannot be used on it.

    A characteristic is never below zero, so it has an upper limit only. A rule that asks for
    limits on both sides, or a k that no rule takes, leaves it not judged.
    """
    spec = characteristic(found.what, upper_mm=limit_mm, source=source)
    try:
        decision = judge(
            found.value_mm,
            stated.u_mm,
            spec,
            how.rule,
            k=stated.k,
            largest_expanded_mm=how.largest_expanded_mm,
            magnitude=True,
        )
    except CalibrationError as error:
        return None, str(error)
    return decision, decision.reason


def worst_of(words: Iterable[Word | None]) -> Word:
    """The worst of the words; *not judged* if there is none."""
    given = {each for each in words if each is not None}
    return next((each for each in WORST_FIRST if each in given), Word.NOT_JUDGED)


def unmeasured(gauge: GaugeIdentity, measured: Iterable[What]) -> Iterator[str]:
    """Doubts: limits of the gauge that this run says nothing of."""
    have = set(measured)
    for what in limits_of(gauge):
        if what not in have:
            yield f"There is a limit for the {what}, and the run did not measure it."
