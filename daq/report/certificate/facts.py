"""What a certificate says of the gauge, the standards, the method and the conditions."""

import hashlib
from collections.abc import Iterator, Sequence
from decimal import Decimal

from daq.calibration.errors import CalibrationError
from daq.calibration.kept import KeptCalibration
from daq.calibration.plan import Plan
from daq.calibration.plan_file import plan_from_bytes
from daq.logbook.calibration import CalibrationGate, CalibrationWord
from daq.logbook.register import GaugeEntered, GaugeInterval, StandardEntered
from daq.report.certificate import figures
from daq.report.certificate.lines import (
    AdjustmentFacts,
    GaugeFacts,
    LimitLine,
    StandardFacts,
    StandardValueLine,
    TemperatureLine,
    WordMeaning,
)
from daq.report.certificate.model import DecisionFacts, Environment, Method
from daq.report.certificate.runs import meaning_of
from daq.report.certificate.standing import Counted
from daq.spec import SpecError, rule_from

_BOM = b"\xef\xbb\xbf"
_WORDS: tuple[CalibrationWord, ...] = (
    "pass",
    "conditional pass",
    "conditional fail",
    "fail",
    "not judged",
)


def plan_of(kept: KeptCalibration) -> tuple[Plan | None, str]:
    """The plan in the record, and what is wrong with it; one of the two is empty."""
    begun = kept.begun
    raw = begun.plan_toml.encode()
    # A mark at the head of the file is in its SHA-256, and not in its text.
    sums = {hashlib.sha256(each).hexdigest() for each in (raw, _BOM + raw)}
    if begun.plan_sha256 not in sums:
        return None, "The plan in the record does not fit its SHA-256."
    try:
        return plan_from_bytes(raw, begun.plan_name), ""
    except CalibrationError as error:
        return None, f"The plan in the record cannot be used: {error}"


def method_of(kept: KeptCalibration, plan: Plan | None) -> Method:
    """The plan, in words."""
    begun = kept.begun
    return Method(
        plan=begun.plan_name,
        title=plan.heading.title if plan else "",
        revision=plan.heading.revision if plan else "",
        sha256=begun.plan_sha256,
        words=tuple(_asked(plan)) if plan else (),
        remarks=plan.remarks if plan else (),
    )


def _asked(plan: Plan) -> Iterator[str]:
    heading = plan.heading
    ways = "up and down" if heading.directions == "up and down" else "up only"
    how = (
        "without reversing"
        if heading.approach == "without reversing"
        else "the plunger lifted between points"
    )
    yield (
        "The gauge is set to zero and its readings are compared with lengths of the standard, from "
        "one zero for all points. An error is indicated minus reference."
    )
    yield f"{len(plan.lengths_mm)} lengths, {ways}, {how}: {_lengths(plan.lengths_mm)} mm."
    if plan.partial is not None:
        yield (
            f"Of these, close together over {figures.brief(plan.partial.over_mm)} mm: "
            f"{_lengths(plan.partial.points_mm)} mm."
        )
    for each in plan.repeats:
        yield f"{each.times} repeats at {figures.brief(each.at_mm)} mm, {each.direction}."
    if heading.base_mm:
        yield f"It stands on {figures.brief(heading.base_mm)} mm at its zero."
    if heading.preload_mm:
        yield f"The plunger is pressed in by {figures.brief(heading.preload_mm)} mm before that."
    yield (
        f"Gauge and standard lie together for {heading.soak} min before; a stack rests for "
        f"{heading.wait} s before it is read."
    )


def _lengths(lengths_mm: Sequence[Decimal]) -> str:
    return ", ".join(figures.brief(each) for each in lengths_mm)


def gauge_facts(gauge: GaugeEntered, record: int, condition: str) -> GaugeFacts:
    """The item that was calibrated."""
    limits = gauge.limits
    over = "error over the range, the zero "
    named = (
        (over + ("staying where it was set" if limits.zero == "fixed" else "floating"),
         limits.over_range_mm),
        (f"error over {figures.brief(limits.partial_mm)} mm" if limits.partial_mm else "",
         limits.over_partial_mm),
        ("hysteresis", limits.hysteresis_mm),
        ("repeatability, as a range", limits.repeatability_mm),
    )  # fmt: skip
    return GaugeFacts(
        label=gauge.label,
        identity=gauge.identity,
        kind=gauge.is_a,
        range=figures.as_written(gauge.range_mm),
        step=figures.as_written(gauge.step_mm),
        profile=gauge.profile,
        condition=condition,
        expansion=gauge.expansion,
        u_expansion=gauge.u_expansion,
        limits_source=limits.source,
        zero=limits.zero,
        limits=tuple(
            LimitLine(of=of, limit=figures.as_written(mm)) for of, mm in named if mm is not None
        ),
        interval=_interval(gauge.interval),
        record=record,
    )


def _interval(each: GaugeInterval) -> str:
    if each.rule == "fixed":
        return f"every {each.months} months"
    ends = f"{each.least} to {each.most} months"
    if each.rule == "reactive":
        return (
            f"{each.months} months to begin with, longer by {each.longer_by} after "
            f"{each.good_results} good results, shorter by {each.shorter_by} after a bad one; "
            f"{ends}"
        )
    assert each.reliability is not None  # the rule needs it
    assert each.confidence is not None
    return (
        f"so long that {figures.brief(each.reliability)} % of the fleet are still within their "
        f"limits, with a confidence of {figures.brief(each.confidence)} %; {ends}"
    )


def standards_of(kept: KeptCalibration) -> Iterator[StandardFacts]:
    """The standard, and the flat if the gauge is zeroed on one with a certificate of its own."""
    yield _standard(kept.standard, kept.sequences[kept.standard.uid], is_flat=False)
    if kept.flat is not None:
        yield _standard(kept.flat, kept.sequences[kept.flat.uid], is_flat=True)


def _standard(each: StandardEntered, record: int, *, is_flat: bool) -> StandardFacts:
    return StandardFacts(
        role="zeroed on" if is_flat else "standard",
        id=each.id,
        kind=each.is_a,
        what=each.what,
        certificate=each.certificate,
        issuer=each.issuer,
        valid_from=each.valid_from,
        due=each.due,
        values=tuple(
            StandardValueLine(
                nominal=figures.as_written(value.nominal_mm),
                length=figures.as_written(value.length_mm),
                expanded=figures.as_written(value.expanded_u_mm),
                k=value.k,
            )
            for value in each.values
        ),
        drift_per_year=figures.as_written(each.drift_per_year_mm),
        expansion=each.expansion,
        u_expansion=each.u_expansion,
        record=record,
    )


def environment_of(kept: KeptCalibration, found: Counted, plan: Plan | None) -> Environment:
    """The temperatures that were read, against those that the plan allows."""
    lines = tuple(
        TemperatureLine(
            run=gate.run,
            c=gate.temperature_c,
            asked=gate.asked,
            said=gate.said,
            operator=gate.operator,
            at=gate.at,
            record=kept.sequences[gate.uid],
        )
        for gate in found.conditions
        if gate.temperature_c is not None
    )
    at_points = [each.temperature_c for each in found.points.values()]
    read = [*(each.c for each in lines), *at_points]
    low, high = (min(read), max(read)) if read else (None, None)
    heading = plan.heading if plan else None
    return Environment(
        readings=lines,
        lowest_c=low,
        highest_c=high,
        coldest_c=heading.coldest if heading else None,
        warmest_c=heading.warmest if heading else None,
        change_k=heading.change if heading else None,
        words=" ".join(_climate(low, high, plan)),
    )


def _climate(low: Decimal | None, high: Decimal | None, plan: Plan | None) -> Iterator[str]:
    if low is None or high is None:
        yield "No temperature was recorded."
    elif low == high:
        yield f"Gauge and standard were at {figures.digits(low)} °C whenever it was read."
    else:
        yield f"Gauge and standard were at {figures.digits(low)} °C to {figures.digits(high)} °C."
    if plan is not None:
        heading = plan.heading
        yield (
            f"The plan allows {figures.brief(heading.coldest)} °C to "
            f"{figures.brief(heading.warmest)} °C, and a change of "
            f"{figures.brief(heading.change)} K during a run."
        )
    yield "Results are for 20 °C. No other condition was recorded."


def decision_of(kept: KeptCalibration) -> DecisionFacts:
    """The decision rule in words, and what each word of it means."""
    begun = kept.begun
    try:
        words = rule_from(begun.rule).in_words()
    except SpecError:
        words = f"By the rule as recorded: {begun.rule}."
    words += " Here U is each result's own, with the k that stands with it."
    largest_mm = begun.largest_expanded_mm
    if largest_mm is not None:
        words += (
            f" U may be at most {figures.brief(largest_mm)} mm; beyond that nothing is judged a "
            "pass."
        )
    return DecisionFacts(
        rule=begun.rule,
        words=words,
        level=begun.level,
        level_shown=figures.per_cent(begun.level),
        largest_expanded=None if largest_mm is None else figures.as_written(largest_mm),
        meanings=tuple(WordMeaning(word=each, meaning=meaning_of(each)) for each in _WORDS),
    )


def adjustment_of(kept: KeptCalibration, gates: Sequence[CalibrationGate]) -> AdjustmentFacts:
    """Whether the gauge was adjusted between the runs; once, or again."""
    if not gates:
        return AdjustmentFacts(
            what="not said",
            words="Nobody said whether the gauge was adjusted.",
            operator="",
            at=None,
            record=None,
        )
    adjusted = [each for each in gates if each.gate == "adjusted"]
    gate = (adjusted or gates)[-1]
    if adjusted:
        done = "; then ".join(each.said or "nothing was said" for each in adjusted)
        words = f"The gauge was adjusted after the run as found: {done}"
    else:
        words = "The gauge was not adjusted, so that as found is as left."
        words += f" {gate.said}" if gate.said else ""
    return AdjustmentFacts(
        what="adjusted" if adjusted else "not adjusted",
        words=words,
        operator=gate.operator,
        at=gate.at,
        record=kept.sequences[gate.uid],
    )
