"""What the points of a complete run come to, as the record of it."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from daq.calibration.assess import Conditions, How, assess, record_of
from daq.calibration.errors import CalibrationError
from daq.calibration.fields import brief_mm
from daq.calibration.guided.standing import Standing, point_of
from daq.calibration.sequence import counted
from daq.logbook.calibration import CalibrationPoint, CalibrationResult
from daq.logbook.fields import new_uid
from daq.spec.errors import SpecError
from daq.spec.rules import rule_from


@dataclass(frozen=True, slots=True)
class Stamp:
    """Who answers, and when (aware)."""

    operator: str
    at: datetime

    def on(self, stands: Standing) -> dict[str, Any]:
        """What every later record of a calibration begins with."""
        return {
            "uid": new_uid(),
            "at": self.at,
            "operator": self.operator,
            "calibration": stands.begun.uid,
        }


def worked_out(
    stands: Standing,
    stamp: Stamp,
    *,
    last: CalibrationPoint | None = None,
    with_monte_carlo: bool = False,
) -> CalibrationResult:
    """The result of the run that the calibration is in.

    Args:
        stands: where it stands.
        stamp: who has it worked out, and when.
        last: the run's last point, where it is not in the logbook yet.
        with_monte_carlo: whether the budgets are held against random draws too.

    Raises:
        CalibrationError: points are missing, the decision rule in the records is none, or nothing
            can be made of the points.
    """
    run, new = stands.current, [last] if last is not None else []
    taken = [*run.taken, *(point_of(each) for each in new)]
    points = counted(stands.prepared, taken)
    if len(points) < len(stands.prepared.plan.stops):
        raise CalibrationError(f"It lacks {run.missing_words}. Go on with it first.")
    day = max(each.at for each in (*run.records.values(), *new)).date()
    assessment = assess(
        stands.prepared,
        stands.gauge,
        taken,
        run.run,
        Conditions(run.mean_temperature_c(*new)),
        day,
        _how(stands, with_monte_carlo),
    )
    record = record_of(
        assessment,
        calibration=stands.begun.uid,
        operator=stamp.operator,
        at=stamp.at,
        uids={each.place: each.uid for each in points},
    )
    known = {**run.records, **{each.uid: each for each in new}}
    insisted = tuple(_insisted(known[each.uid] for each in points))
    return record.model_copy(update={"doubts": (*record.doubts, *insisted)})


def _how(stands: Standing, with_monte_carlo: bool) -> How:
    begun = stands.begun
    try:
        rule = rule_from(begun.rule)
    except SpecError as error:
        raise CalibrationError(f"The calibration of {begun.gauge_label}: {error}.") from error
    return How(
        rule=rule,
        level=float(begun.level),
        largest_expanded_mm=begun.largest_expanded_mm,
        with_monte_carlo=with_monte_carlo,
    )


def _insisted(points: Iterable[CalibrationPoint]) -> Iterator[str]:
    for each in points:
        if each.insisted:
            yield (
                f"{brief_mm(each.nominal_mm)} {each.direction} was taken although it looked like a "
                f"mistake: {each.insisted}."
            )
