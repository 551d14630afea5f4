"""Standards and gauges on their way between a register file and the logbook's records."""

from datetime import datetime

from daq.calibration.forms import (
    CertifiedLength,
    GaugeIdentity,
    PermissibleErrors,
    ReferenceStandard,
)
from daq.calibration.policy import FixedInterval, Interval, ReactiveInterval, ReliabilityTarget
from daq.logbook.fields import new_uid
from daq.logbook.register import (
    GaugeEntered,
    GaugeInterval,
    GaugeLimits,
    StandardEntered,
    StandardValue,
)


def standard_record(
    standard: ReferenceStandard, operator: str, at: datetime, source: str = ""
) -> StandardEntered:
    """The record that enters a standard.

    Args:
        standard: as its certificate has it.
        operator: who enters it.
        at: when.
        source: the name of the file it was read from.
    """
    return StandardEntered(
        uid=new_uid(),
        at=at,
        operator=operator,
        source=source,
        id=standard.id,
        is_a=standard.kind,
        what=standard.what,
        certificate=standard.certificate,
        issuer=standard.issuer,
        values=tuple(
            StandardValue(
                nominal_mm=each.nominal_mm,
                length_mm=each.length_mm,
                expanded_u_mm=each.expanded_u_mm,
                k=each.k,
            )
            for each in standard.values
        ),
        expansion=standard.expansion,
        u_expansion=standard.u_expansion,
        drift_per_year_mm=standard.drift_per_year_mm,
        valid_from=standard.valid_from,
        due=standard.due,
    )


def standard_of(record: StandardEntered) -> ReferenceStandard:
    """The standard that a record entered.

    Raises:
        pydantic.ValidationError: it is not one that could have been entered; a record that was
            written by something else may be.
    """
    return ReferenceStandard(
        id=record.id,
        kind=record.is_a,
        what=record.what,
        certificate=record.certificate,
        issuer=record.issuer,
        values=tuple(
            CertifiedLength(
                nominal=each.nominal_mm,
                length=each.length_mm,
                expanded_u=each.expanded_u_mm,
                k=each.k,
            )
            for each in record.values
        ),
        expansion=record.expansion,
        u_expansion=record.u_expansion,
        drift_per_year=record.drift_per_year_mm,
        valid_from=record.valid_from,
        due=record.due,
    )


def gauge_record(
    gauge: GaugeIdentity, operator: str, at: datetime, source: str = ""
) -> GaugeEntered:
    """The record that enters a gauge; arguments as for ``standard_record``."""
    limits = gauge.limits
    return GaugeEntered(
        uid=new_uid(),
        at=at,
        operator=operator,
        source=source,
        label=gauge.label,
        identity=gauge.identity or "",
        is_a=gauge.kind,
        range_mm=gauge.range_mm,
        step_mm=gauge.step_mm,
        profile=gauge.profile,
        expansion=gauge.expansion,
        u_expansion=gauge.u_expansion,
        limits=GaugeLimits(
            source=limits.source,
            over_range_mm=limits.over_range_mm,
            zero=limits.zero,
            over_partial_mm=limits.over_partial_mm,
            partial_mm=limits.partial_mm,
            hysteresis_mm=limits.hysteresis_mm,
            repeatability_mm=limits.repeatability_mm,
        ),
        interval=_interval_record(gauge.interval),
    )


def gauge_of(record: GaugeEntered) -> GaugeIdentity:
    """The gauge that a record entered.

    Raises:
        pydantic.ValidationError: as for ``standard_of``.
    """
    limits = record.limits
    return GaugeIdentity(
        label=record.label,
        identity=record.identity or None,
        kind=record.is_a,
        range=record.range_mm,
        step=record.step_mm,
        profile=record.profile,
        expansion=record.expansion,
        u_expansion=record.u_expansion,
        limits=PermissibleErrors(
            source=limits.source,
            over_range=limits.over_range_mm,
            zero=limits.zero,
            over_partial=limits.over_partial_mm,
            partial=limits.partial_mm,
            hysteresis=limits.hysteresis_mm,
            repeatability=limits.repeatability_mm,
        ),
        interval=_interval_of(record.interval),
    )


def _interval_record(interval: Interval) -> GaugeInterval:
    given = interval.model_dump(mode="python")
    rule = given.pop("kind")
    nothing = dict.fromkeys(GaugeInterval.model_fields)
    return GaugeInterval.model_validate({**nothing, **given, "rule": rule})


def _interval_of(record: GaugeInterval) -> Interval:
    said = {key: value for key, value in record.model_dump().items() if value is not None}
    kind = said.pop("rule")
    match kind:
        case "fixed":
            return FixedInterval(kind=kind, **said)
        case "reactive":
            return ReactiveInterval(kind=kind, **said)
        case _:
            return ReliabilityTarget(kind=kind, **said)
