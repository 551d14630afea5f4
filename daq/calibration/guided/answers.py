"""What an answer to a task becomes: records to append, all of them or none; or why it may not.

A result is worked out and recorded together with the last point of its run, so no interruption can
come between them. A capture is appended before the point that names it, in the same transaction.
"""

from dataclasses import dataclass, replace
from decimal import ROUND_UP, Decimal

from daq.calibration.checks import Refusal, Seen, check, check_return, check_temperature
from daq.calibration.errors import CalibrationError
from daq.calibration.guided.standing import Standing, point_of
from daq.calibration.guided.task import Task
from daq.calibration.guided.tasks import conditions_words
from daq.calibration.guided.working_out import Stamp, worked_out
from daq.calibration.sequence import WantedPoint, next_point
from daq.logbook.calibration import (
    CalibrationGate,
    CalibrationGateName,
    CalibrationPoint,
    CalibrationResult,
)
from daq.logbook.capture import Capture
from daq.logbook.records import Note
from drivers.reading import Status

_FINEST_MM = Decimal("0.000000001")


@dataclass(frozen=True, slots=True)
class Insisted:
    """A reading is taken although it looks like a mistake: why, and who answers for it."""

    reason: str
    by: str

    def __str__(self) -> str:
        return f"{self.reason} ({self.by})"


@dataclass(frozen=True, slots=True)
class Passed:
    """What the gauge passed since the point before; None if nobody watched all the way."""

    lowest_mm: Decimal | None = None
    highest_mm: Decimal | None = None


def conditions(
    stands: Standing, temperature_c: Decimal, stamp: Stamp, said: str = ""
) -> CalibrationGate | Refusal:
    """The temperature of gauge and standard, said when it is asked for or at any time between.

    Args:
        stands: where the calibration stands.
        temperature_c: in °C.
        stamp: who says so, and when.
        said: anything else of the conditions.
    """
    heading, run = stands.prepared.plan.heading, stands.current
    refusal = check_temperature(heading, temperature_c, run.first_temperature_c)
    if refusal is not None:
        return refusal
    return _gate(stands, "conditions", conditions_words(stands), said, stamp, temperature_c)


def anew(stands: Standing, reason: str, stamp: Stamp) -> CalibrationGate:
    """The run is begun again from its zero; nothing of it counts any more.

    Args:
        stands: where the calibration stands.
        reason: why.
        stamp: who says so, and when.

    Raises:
        CalibrationError: there is no reason, or the run is over: how the gauge was found stands
            once it was said whether it was adjusted.
    """
    if not reason.strip():
        raise CalibrationError("A run that is begun again needs a reason. Say why.")
    if stands.not_adjusted is not None:
        raise CalibrationError(
            "It is said already that the gauge is left as it was found. Take that back first."
        )
    return _gate(stands, "anew", f"Begin the run {stands.run} again from its zero.", reason, stamp)


def adjusted(stands: Standing, done: str, stamp: Stamp) -> CalibrationGate:
    """The gauge was adjusted: it is measured as left, from its zero on.

    Args:
        stands: where the calibration stands. The result as found must be there. After an
            adjustment this begins the run as left again.
        done: what was done.
        stamp: who says so, and when.

    Raises:
        CalibrationError: it is not known yet how the gauge was found, or nobody says what was done.
    """
    if not stands.may_be_adjusted:
        raise CalibrationError(
            f"It is not known yet how {stands.begun.gauge_label} was found: it lacks "
            f"{stands.as_found.missing_words}. Go on before it is adjusted."
        )
    if not done.strip():
        raise CalibrationError("Say what was adjusted.")
    return _gate(stands, "adjusted", "Was the gauge adjusted?", done, stamp)


def not_adjusted(stands: Standing, stamp: Stamp, said: str = "") -> CalibrationGate:
    """The gauge was not adjusted, so that as found is as left.

    Raises:
        CalibrationError: there is no result as found, or it was adjusted.
    """
    if stands.is_adjusted or stands.as_found.result is None:
        why = "it was" if stands.is_adjusted else "it is not known yet how it was found"
        raise CalibrationError(
            f"{stands.begun.gauge_label} cannot be left as it was found: {why}. Go on with the run."
        )
    return _gate(stands, "not adjusted", "Was the gauge adjusted?", said, stamp)


def taken_back(stands: Standing, reason: str, stamp: Stamp) -> Note:
    """The last point of the run no longer counts, and is taken again.

    Raises:
        CalibrationError: there is none, or there is no reason.
    """
    run = stands.current
    if stands.ended is not None:
        raise CalibrationError("The calibration has ended. Begin another.")
    if not run.taken:
        raise CalibrationError(f"There is no point {run.run} to take back.")
    if not reason.strip():
        raise CalibrationError("A point that is taken back needs a reason. Say why.")
    begins = stamp.on(stands)
    del begins["calibration"]
    return Note(**begins, purpose="withdrawal", about=run.taken[-1].uid, text=reason)


def captured(
    stands: Standing,
    task: Task,
    capture: Capture,
    stamp: Stamp,
    *,
    passed: Passed | None = None,
    insisted: Insisted | None = None,
    with_monte_carlo: bool = False,
) -> list[CalibrationPoint | CalibrationResult] | Refusal:
    """A value was captured for a ``point`` or a ``return``.

    Args:
        stands: where the calibration stands.
        task: what was asked.
        capture: the value, kept or about to be kept in the same transaction.
        stamp: who took it, and when.
        passed: what the gauge passed on its way.
        insisted: by whom and why it is taken though it looks like a mistake. It helps against a
            refusal that says so (``may_insist``), and against no other.
        with_monte_carlo: as for ``worked_out``.

    Returns:
        Why it may not be taken; or the point, together with the result if it was the run's last.

    Raises:
        CalibrationError: nothing can be made of the points.
    """
    wanted = task.wanted
    if wanted is None or task.kind not in ("point", "return"):
        raise CalibrationError("No reading is asked for now.")
    passed = passed or Passed()
    seen = _seen(stands, capture, passed)
    why, overruled = _why_not(stands, task, wanted, capture, seen, insisted)
    if why is not None:
        return why
    point = CalibrationPoint(
        **stamp.on(stands),
        run=task.run,
        place=wanted.stop.place,
        series=wanted.stop.series,
        direction=wanted.stop.direction,
        nominal_mm=wanted.stop.nominal_mm,
        reference_mm=wanted.reference_mm,
        # A certificate's k need not divide its U without a rest.
        u_reference_mm=wanted.u_reference_mm.quantize(_FINEST_MM, rounding=ROUND_UP),
        capture=capture.uid,
        reading_mm=capture.value_mm,
        u_reading_mm=capture.u_mm,
        is_return=task.kind == "return",
        temperature_c=_said(seen.temperature_c),
        lowest_mm=passed.lowest_mm,
        highest_mm=passed.highest_mm,
        insisted=str(insisted) if overruled else "",
        words=task.words,
    )
    taken = (*stands.current.taken, point_of(point))
    if point.is_return or next_point(stands.prepared, taken) is not None:
        return [point]
    return [point, worked_out(stands, stamp, last=point, with_monte_carlo=with_monte_carlo)]


def _gate(
    stands: Standing,
    gate: CalibrationGateName,
    asked: str,
    said: str,
    stamp: Stamp,
    temperature_c: Decimal | None = None,
) -> CalibrationGate:
    if stands.ended is not None:
        raise CalibrationError("The calibration has ended. Begin another.")
    return CalibrationGate(
        **stamp.on(stands),
        gate=gate,
        run=stands.run,
        asked=asked,
        said=said.strip(),
        temperature_c=temperature_c,
    )


def _said(temperature_c: Decimal | None) -> Decimal:
    assert temperature_c is not None  # check() has refused it
    return temperature_c


def _seen(stands: Standing, capture: Capture, passed: Passed) -> Seen:
    words = {word for reading in capture.readings for word in reading.status}
    run = stands.current
    return Seen(
        value_mm=capture.value_mm,
        on=capture.at.date(),
        temperature_c=run.temperature_c,
        first_temperature_c=run.first_temperature_c,
        lowest_mm=passed.lowest_mm,
        highest_mm=passed.highest_mm,
        status=frozenset(each for each in Status if each.value in words),
    )


def _why_not(
    stands: Standing,
    task: Task,
    wanted: WantedPoint,
    capture: Capture,
    seen: Seen,
    insisted: Insisted | None,
) -> tuple[Refusal | None, bool]:
    """Why it is not taken, if so; and whether somebody's insisting was needed."""
    gauge = stands.gauge
    refusal = _another_gauge(stands, capture) or check(wanted, seen, gauge)
    if task.kind == "return":
        return _why_no_return(wanted, seen, stands, refusal), False
    if refusal is None or not refusal.may_insist or insisted is None:
        return refusal, False
    if not insisted.reason.strip() or not insisted.by.strip():
        return Refusal("answer", "Say why it is taken nevertheless, and who answers for it."), False
    return check(wanted, seen, gauge, insisted=True), True


def _why_no_return(
    wanted: WantedPoint, seen: Seen, stands: Standing, refusal: Refusal | None
) -> Refusal | None:
    if refusal is None:
        assert wanted.before is not None
        return check_return(wanted.before, seen, stands.gauge)
    if refusal.kind != "wrong block":
        return refusal
    words = f"{refusal.words} If all is as it should be, the zero has moved: begin the run again."
    return replace(refusal, words=words, may_insist=False)


def _another_gauge(stands: Standing, capture: Capture) -> Refusal | None:
    own, other = stands.begun.identity, capture.gauge.identity
    if not own or own == other:
        return None
    label = stands.begun.gauge_label
    return Refusal(
        "another gauge",
        f"This came from {other or 'a gauge without identity'}, and {label} is {own}. Plug in "
        f"{label}.",
    )
