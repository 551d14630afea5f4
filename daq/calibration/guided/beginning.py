"""How a calibration begins: gauge, plan and standard are bound together in one record."""

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from pydantic import ValidationError

from daq.calibration.entered import gauge_of, standard_of
from daq.calibration.errors import CalibrationError
from daq.calibration.fields import brief_mm
from daq.calibration.plan import Plan, prepared
from daq.logbook.calibration import CalibrationBegun
from daq.logbook.fields import new_uid
from daq.logbook.register import GaugeEntered, StandardEntered
from daq.spec.rules import DecisionRule


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """How it is to be judged, where it is done, and for whom; empty where nobody said."""

    rule: DecisionRule
    level: Decimal = Decimal("0.95")
    largest_expanded_mm: Decimal | None = None
    station: str = ""
    place: str = ""
    customer: str = ""
    order: str = ""


def begun(
    gauge: GaugeEntered,
    standard: StandardEntered,
    flat: StandardEntered | None,
    plan: Plan,
    order: Order,
    *,
    operator: str,
    at: datetime,
) -> CalibrationBegun:
    """The first record of a calibration.

    Args:
        gauge: as it was entered.
        standard: the blocks or the bench, as entered.
        flat: on which it is zeroed, where that has a certificate of its own.
        plan: what is measured.
        order: how it is judged, and for whom.
        operator: who does it.
        at: when (aware).

    Raises:
        CalibrationError: the plan is not for a gauge of this range, a standard may not be used on
            that day or cannot make up the lengths, or an entry is not sound.
    """
    try:
        range_mm = gauge_of(gauge).range_mm
        bare, plane = standard_of(standard), standard_of(flat) if flat is not None else None
    except ValidationError as error:
        told = "; ".join(each["msg"].removeprefix("Value error, ") for each in error.errors())
        raise CalibrationError(f"An entry of the register is not sound: {told}.") from error
    if plan.heading.range_mm != range_mm:
        raise CalibrationError(
            f"{plan.name} is for a range of {brief_mm(plan.heading.range_mm)}, and {gauge.label} "
            f"has {brief_mm(range_mm)}. Take a plan for that range."
        )
    record = CalibrationBegun(
        uid=new_uid(),
        at=at,
        station=order.station,
        operator=operator,
        gauge=gauge.uid,
        gauge_label=gauge.label,
        identity=gauge.identity,
        standard=standard.uid,
        flat=flat.uid if flat is not None else None,
        plan_name=plan.name,
        plan_sha256=plan.fingerprint,
        plan_toml=plan.text,
        rule=str(order.rule),
        largest_expanded_mm=order.largest_expanded_mm,
        level=order.level,
        place=order.place,
        customer=order.customer,
        order=order.order,
    )
    prepared(plan, bare, record.at.date(), plane)
    return record
