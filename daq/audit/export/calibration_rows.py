"""The rows of a calibration that has ended: itself, and the points that its results rest on."""

from dataclasses import dataclass, field
from decimal import Decimal

from daq.audit.export.rows import Rows, day_us, mc, nm, us
from daq.audit.layout import NULL
from daq.calibration.entered import standard_of
from daq.calibration.errors import CalibrationError, PlanError
from daq.calibration.plan import Plan, prepared
from daq.calibration.plan_file import plan_from_bytes
from daq.logbook.calibration import (
    CalibrationBegun,
    CalibrationEnded,
    CalibrationGate,
    CalibrationPoint,
    CalibrationResult,
    CharacteristicResult,
    RunName,
)
from daq.logbook.register import StandardEntered

JUDGED = ("span error", "fixed-zero error")
"""The characteristics of which one has the limit over the range."""


@dataclass
class CalibrationSoFar:
    """A calibration with the records that belong to it, in their order."""

    begun: CalibrationBegun
    points: list[CalibrationPoint] = field(default_factory=list)
    results: list[CalibrationResult] = field(default_factory=list)
    ends: int = 0

    def take(
        self, record: CalibrationGate | CalibrationPoint | CalibrationResult | CalibrationEnded
    ) -> None:
        """A later record of it."""
        if isinstance(record, CalibrationPoint):
            self.points.append(record)
        elif isinstance(record, CalibrationResult):
            self.results.append(record)
        elif isinstance(record, CalibrationEnded):
            self.ends += 1
        elif record.gate == "anew":
            self.points = [each for each in self.points if each.run != record.run]

    def result(self, run: RunName, withdrawn: set[str]) -> CalibrationResult | None:
        """What stands of a run; None if nothing does."""
        found = [each for each in self.results if each.run == run and each.uid not in withdrawn]
        return found[-1] if found else None

    def standing(self, withdrawn: set[str]) -> list[CalibrationPoint]:
        """The points that count, in the order in which they were taken."""
        counting: set[str] = set()
        for run in ("as found", "as left"):
            result = self.result(run, withdrawn)
            if result is not None:
                counting |= {each.point for each in result.points}
            else:
                latest = {
                    each.place: each.uid
                    for each in self.points
                    if each.run == run and not each.is_return and each.uid not in withdrawn
                }
                counting |= {*latest.values()}
        return [each for each in self.points if each.uid in counting]


def calibration_rows(
    rows: Rows,
    calibration: CalibrationSoFar,
    end: CalibrationEnded,
    standards: tuple[StandardEntered | None, StandardEntered | None],
    site: str,
    withdrawn: set[str],
) -> None:
    """Add the rows of a calibration.

    Args:
        rows: what to add them to.
        calibration: the calibration, ``end`` taken already.
        end: how it ended. One that was ended before gets a name of its own: it is told as another.
        standards: the standard, and the flat on which the gauge was zeroed, as entered; None for
            what is not in the logbook.
        site: where it was done.
        withdrawn: uids of records that are taken back.
    """
    begun = calibration.begun
    standard = standards[0].id if standards[0] is not None else ""
    plan = _plan(begun)
    certified = _certified(begun, plan, standards)
    run = begun.uid if calibration.ends == 1 else f"{begun.uid} ({calibration.ends})"
    for point in calibration.standing(withdrawn):
        rows.add(
            "points",
            site,
            gauge=begun.gauge_label,
            run=run,
            at_us=us(point.at),
            found=point.run,
            way=point.series,
            nominal_nm=nm(point.nominal_mm),
            reference_nm=nm(point.reference_mm),
            indicated_nm=nm(point.reading_mm),
            u_reference_nm=nm(point.u_reference_mm),
            temperature_mc=mc(point.temperature_c),
            operator=point.operator,
            standard=standard,
            certified_nm=certified.get(point.nominal_mm, NULL),
        )
    found, left = (calibration.result(name, withdrawn) for name in ("as found", "as left"))
    rows.add(
        "calibrations",
        site,
        gauge=begun.gauge_label,
        run=run,
        at_us=us(end.at),
        begun_us=us(begun.at),
        ended=end.how,
        certificate=end.certificate,
        standard=standard,
        plan=begun.plan_name,
        rule=begun.rule,
        limit_nm=nm(next((e.limit_mm for r in (found, left) if r and (e := _judged(r))), None)),
        due_us=day_us(end.due, after=True),
        authorised_by=end.authorised_by,
        operator=end.operator,
        **_asked(plan),
        **_result("found", found, end.as_found),
        **_result("left", left, end.as_left),
    )


def _result(name: str, result: CalibrationResult | None, word: str | None) -> dict[str, int | str]:
    judged = _judged(result) if result is not None else None
    return {
        f"{name}_error_nm": nm(judged.value_mm if judged else None),
        f"{name}_expanded_nm": nm(judged.expanded_mm if judged else None),
        f"{name}_error_word": (judged.word or "") if judged else "",
        f"{name}_word": word or "",
    }


def _judged(result: CalibrationResult) -> CharacteristicResult | None:
    """The error over the range that has a limit; if none has, the one of the zero as it was set."""
    errors = [each for each in result.characteristics if each.what in JUDGED]
    limited = [each for each in errors if each.limit_mm is not None]
    return next(iter([*limited, *reversed(errors)]), None)


def _plan(begun: CalibrationBegun) -> Plan | None:
    """The plan; None if it cannot be read any more."""
    try:
        return plan_from_bytes(begun.plan_toml.encode(), begun.plan_name)
    except PlanError:
        return None


def _certified(
    begun: CalibrationBegun,
    plan: Plan | None,
    standards: tuple[StandardEntered | None, StandardEntered | None],
) -> dict[Decimal, int]:
    """The reference of each nominal length, worked out anew from the plan and the register.

    Empty where that cannot be done, as with a standard that is out of date.
    """
    standard, flat = standards
    if plan is None or standard is None or (flat is None and begun.flat is not None):
        return {}
    try:
        ready = prepared(
            plan,
            standard_of(standard),
            begun.at.date(),
            standard_of(flat) if flat is not None else None,
        )
    except CalibrationError:
        return {}
    return {nominal_mm: nm(ready.reference_mm(nominal_mm)[0]) for nominal_mm in ready.stacks}


def _asked(plan: Plan | None) -> dict[str, int | str]:
    """What the plan asks for; missing if it cannot be read any more."""
    if plan is None:
        return {}
    return {
        "planned_up": _count(plan, "up"),
        "planned_down": _count(plan, "down"),
        "planned_repeats": _count(plan, "repeat"),
        "coldest_mc": mc(plan.heading.coldest),
        "warmest_mc": mc(plan.heading.warmest),
    }


def _count(plan: Plan, series: str) -> int:
    return sum(stop.series == series for stop in plan.stops)
