"""A captured value as a record for the logbook: what the session found, and who, where and when."""

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from daq.logbook.fields import new_uid
from daq.logbook.records import (
    READINGS_RECORDED,
    Capture,
    CapturedGauge,
    CapturedReading,
    CapturedSpec,
    CapturedVerdict,
)
from daq.measure.events import Captured
from daq.measure.gauges import Gauge
from daq.spec import Spec, Verdict
from drivers.reading import Reading

NANOMETRE = Decimal("0.000001")
"""Values and uncertainties are recorded to the nanometre: far below any gauge's step."""


@dataclass(frozen=True, slots=True)
class Bench:
    """Who measures, and at which bench."""

    station: str
    operator: str = ""


def record_of(
    captured: Captured,
    gauge: Gauge,
    identity: str,
    spec: Spec | None,
    bench: Bench,
    at: datetime,
    monotonic_s: float,
    note: str = "",
) -> Capture:
    """The record that keeps ``captured``.

    Args:
        captured: what the session gave.
        gauge: the gauge it is from; ``gauge.port`` is the port's name now, a hint only.
        identity: the adapter's stable identity, empty if it has none.
        spec: what the length should be, if anything was said of it.
        bench: who and where.
        at: the wall clock's time, aware.
        monotonic_s: the same moment on the clock of the readings, seconds.
        note: words to keep with it.
    """
    rest, readings = captured.rest, captured.readings
    value_mm = Decimal(repr(rest.value_mm)).quantize(NANOMETRE)
    step = gauge.profile.resolution[readings[-1].unit]
    shown = readings[-READINGS_RECORDED:]
    return Capture(
        uid=new_uid(),
        at=at,
        monotonic_s=monotonic_s,
        station=bench.station,
        operator=bench.operator,
        gauge=CapturedGauge(
            label=gauge.label, profile=gauge.profile.name, identity=identity, port=gauge.port
        ),
        spec=_spec(spec),
        value_mm=value_mm,
        u_mm=max(Decimal(repr(rest.u_mm)).quantize(NANOMETRE), NANOMETRE),
        n=rest.n,
        rest_seen=captured.rest_seen,
        since_s=rest.since_s,
        until_s=rest.until_s,
        resolution_mm=step * readings[-1].unit.in_mm,
        deviation_mm=value_mm - spec.nominal_mm if spec else None,
        verdict=_verdict(rest.verdict) if spec else None,
        trigger=captured.trigger,
        unit_shown=readings[-1].unit.value,
        span_readings=len(readings),
        readings=tuple(_reading(each) for each in shown),
        frames=tuple(each.raw.hex() for each in shown),
        bad_frames=captured.bad_frames,
        note=note,
    )


def _reading(reading: Reading) -> CapturedReading:
    return CapturedReading(
        t_s=reading.t_s,
        text=f"{reading.value:f}",
        unit=reading.unit.value,
        status=tuple(sorted(each.value for each in reading.status)),
    )


def _spec(spec: Spec | None) -> CapturedSpec | None:
    if spec is None:
        return None
    return CapturedSpec(
        name=spec.name,
        nominal_mm=spec.nominal_mm,
        lower_mm=spec.lower_mm,
        upper_mm=spec.upper_mm,
        unit=spec.unit,
        source=spec.source,
    )


def _verdict(verdict: Verdict | None) -> CapturedVerdict | None:
    if verdict is None:
        return None
    return CapturedVerdict(
        outcome=verdict.outcome.value, rule=verdict.rule_text, guard_mm=verdict.guard_mm
    )
