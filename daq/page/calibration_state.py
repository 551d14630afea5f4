"""What the calibration page shows, as plain data for JSON: the CAL part of a state.

Errors and limits are millimetres as plain numbers, for the curve; everything that is read by people
is text. What a reading should be is never said, beside the length that is asked for.
"""

from decimal import Decimal
from typing import TYPE_CHECKING, Any

from daq.screen.calibration_view import CalibrationView, large_headline
from daq.spec.units import digits_in

if TYPE_CHECKING:
    from daq.calibration.guided import ErrorCurve, Standing, Task
    from daq.logbook.calibration import CalibrationResult, CharacteristicResult

Message = dict[str, Any]


def calibration_message(view: CalibrationView) -> Message:
    """The view as CAL."""
    task = view.task
    return {
        "kind": view.kind,
        "title": view.title,
        "words": view.words,
        "large": list(view.large),
        "mood": large_headline(view).mood,
        "more": list(view.more),
        "done": view.done,
        "of": view.of,
        "last": view.last,
        "notice": view.notice,
        "unit": "mm",
        "curve": None if view.curve is None else curve_message(view.curve, view),
        "asks": "temperature" if view.kind == "conditions" else None,
        "run": task.run if task is not None else "",
        "can": _can(view),
        **_about(view.standing, task),
    }


def curve_message(curve: "ErrorCurve", view: CalibrationView) -> Message:
    """The errors so far, with the limits as far as they reach along the travel.

    ``at_mm`` and ``error_mm`` are for drawing, ``at`` and ``error`` the same in digits. The points
    of a series come in the order of their taking. After an adjustment those as found come first.
    """
    tenth_mm = view.step_mm / 10
    before = _as_found(view)
    return {
        "points": [*(_points(before, tenth_mm) if before else ()), *_points(curve, tenth_mm)],
        "run": curve.run,
        "limits": [
            {
                "from_mm": 0.0,
                "to_mm": float(curve.to_mm),
                "lower_mm": float(curve.lower_mm),
                "upper_mm": float(curve.upper_mm),
            }
        ],
        "from_mm": 0.0,
        "to_mm": float(curve.to_mm),
        "zero": curve.zero,
        "limit": digits_in(curve.limit_mm, "mm", tenth_mm, sign=False),
        "within": curve.is_within,
        "next_mm": _next_mm(view.task),
    }


def _points(curve: "ErrorCurve", tenth_mm: Decimal) -> list[Message]:
    series = {"up": curve.up, "down": curve.down, "repeat": curve.repeat}
    return [
        {
            "at_mm": float(at_mm),
            "error_mm": float(error_mm),
            "at": f"{at_mm.normalize():f}",
            "error": digits_in(error_mm, "mm", tenth_mm),
            "way": way,
            "run": curve.run,
        }
        for way, points in series.items()
        for at_mm, error_mm in points
    ]


def _as_found(view: CalibrationView) -> "ErrorCurve | None":
    """The curve as found, where another one is being taken."""
    from daq.calibration.guided import curve_of

    if view.standing is None or view.standing.as_left is None:
        return None
    return curve_of(view.standing, "as found")


def _next_mm(task: "Task | None") -> float | None:
    """Where on the travel the next point lies."""
    if task is None or task.wanted is None:
        return None
    return float(task.wanted.stop.nominal_mm)


def _can(view: CalibrationView) -> Message:
    """Which of the other answers the calibration would take here."""
    stands, kind = view.standing, view.kind
    taken = stands is not None and bool(stands.current.taken)
    at_result = kind in ("adjusted or not", "end")
    return {
        "back": taken and kind in ("point", "adjusted or not"),
        "anew": kind in ("conditions", "point", "return"),
        "insist": kind == "point",
        "adjusted": at_result,
        "not adjusted": kind == "adjusted or not",
    }


def _about(stands: "Standing | None", task: "Task | None") -> Message:
    """Gauge, plan and result, for the head of the page."""
    if stands is None:
        return {"gauge": "", "plan": "", "temperature": "", "result": None}
    warm = stands.current.temperature_c
    result = task.result if task is not None else None
    return {
        "gauge": stands.begun.gauge_label,
        "plan": stands.begun.plan_name,
        "temperature": "" if warm is None else f"{warm:f} °C",
        "result": None if result is None else _result(result),
    }


def _stated(each: "CharacteristicResult") -> dict[str, str]:
    """A value and its expanded uncertainty, rounded together as on a certificate."""
    from daq.calibration.rounding import stated

    both = stated(each.value_mm, each.expanded_mm)
    return {"value": f"{both.value:f} mm", "U": f"{both.expanded:f} mm"}


def _result(result: "CalibrationResult") -> Message:
    """What the points of a run come to: each characteristic with what the rule makes of it."""
    return {
        "word": result.word,
        "characteristics": [
            {
                "what": each.what,
                **_stated(each),
                "limit": "" if each.limit_mm is None else f"{each.limit_mm:f} mm",
                "word": each.word or "not judged",
                "reason": each.reason,
            }
            for each in result.characteristics
        ],
    }
