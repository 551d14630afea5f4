"""What is to be done next in a calibration: one task, worked out from where it stands."""

from collections.abc import Iterator

from daq.calibration.fields import brief_mm
from daq.calibration.guided.standing import Standing
from daq.calibration.guided.task import Task, TaskKind
from daq.calibration.plan import PlanHeading
from daq.calibration.rounding import stated
from daq.calibration.sequence import WantedPoint
from daq.logbook.calibration import CalibrationResult, CharacteristicResult


def next_task(stands: Standing) -> Task | None:
    """The task that comes next; None after the calibration has ended."""
    if stands.ended is not None:
        return None
    run = stands.current
    if run.result is None:
        if run.is_measured:
            return _task(
                stands, "result", "All points are there. Work out what they come to once more."
            )
        if stands.needs_conditions:
            return _task(stands, "conditions", conditions_words(stands), _conditions_more(stands))
        if (again := stands.return_wanted) is not None:
            return _task(stands, "return", again.words, again.more, again)
        wanted = run.wanted
        assert wanted is not None
        return _task(stands, "point", wanted.words, wanted.more, wanted)
    if stands.left is None:
        return _task(
            stands,
            "adjusted or not",
            f"As found: {run.result.word}. Was the gauge adjusted?",
            (
                *result_words(run.result),
                "Adjusted: say what was done; it is measured as left. Not adjusted: it is left as "
                "it was found.",
            ),
            result=run.result,
        )
    return _task(
        stands,
        "end",
        f"As left: {stands.left.word}. End it; the certificate can be made.",
        (*_loss(stands), *result_words(stands.left)),
        result=stands.left,
    )


def _task(
    stands: Standing,
    kind: TaskKind,
    words: str,
    more: tuple[str, ...] = (),
    wanted: WantedPoint | None = None,
    result: CalibrationResult | None = None,
) -> Task:
    return Task(
        kind=kind,
        run=stands.run,
        title=f"{stands.begun.gauge_label}, {stands.run}",
        words=words,
        more=more,
        wanted=wanted,
        result=result,
        done=len(stands.current.points),
        of=len(stands.prepared.plan.stops),
    )


def conditions_words(stands: Standing) -> str:
    """What is asked of the conditions, in one sentence."""
    if stands.current.conditions:
        return "Measure the temperature of gauge and standard again and type it in."
    return "Measure the temperature of gauge and standard and type it in."


def _conditions_more(stands: Standing) -> tuple[str, ...]:
    return tuple(_conditions_lines(stands, stands.prepared.plan.heading))


def _conditions_lines(stands: Standing, heading: PlanHeading) -> Iterator[str]:
    if heading.soak:
        yield f"They must have lain together for {heading.soak} minutes."
    yield f"The plan allows {heading.coldest} to {heading.warmest} °C."
    first_c = stands.current.first_temperature_c
    if first_c is not None:
        yield f"When the run began it was {first_c} °C; it may change by {heading.change} K."


def _loss(stands: Standing) -> Iterator[str]:
    """Said where it is no longer known how the gauge was found, since a point was taken back."""
    if stands.as_found.result is None:
        yield (
            "A point as found was taken back after the gauge was adjusted, so there is no result "
            "as found."
        )


def result_words(result: CalibrationResult) -> tuple[str, ...]:
    """A result on a few lines: every characteristic, then the reasons to look again.

    Raises:
        CalibrationError: an uncertainty in the record is none.
    """
    return (*(_characteristic_words(each) for each in result.characteristics), *result.doubts)


def _characteristic_words(found: CharacteristicResult) -> str:
    said = f"{found.what}: {stated(found.value_mm, found.expanded_mm)} mm"
    if found.limit_mm is None or found.word is None:
        return f"{said}, no limit"
    return f"{said}, limit {brief_mm(found.limit_mm)}: {found.word}"
