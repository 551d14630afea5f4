"""What a screen asks for, as the command of the loop that is at work; or why that cannot be."""

from decimal import Decimal
from typing import TYPE_CHECKING

from daq.page.errors import UnfitError
from daq.page.messages import Wish
from daq.screen import bench, calibration_run, job_run

if TYPE_CHECKING:
    from daq.calibration.guided import Task as CalibrationTask
    from daq.jobs.task import Task as JobTask

_NOT_A_JOB = "There is no job here: this bench shows gauges, and captures."
_NOT_IN_A_JOB = "That is asked for in a calibration only."
_NOT_IN_A_CALIBRATION = "That is asked for in a job only."
_OTHER_GAUGE = "This work chooses its gauge by itself."

_WHAT_FIGURES = {
    "angle": (1, "Type the angle on the engine's scale, in degrees, as 36.5."),
    "temperatures": (2, "Type both temperatures in °C, that of the part and that of the gauge."),
    "temperature": (1, "Type the temperature of gauge and standard in °C, as 20.1."),
}


def bench_command(wish: Wish) -> bench.Command:
    """The command to a bench that shows and captures; ``choose`` is none of it.

    Raises:
        UnfitError: there is no such thing here.
    """
    match wish.do:
        case "capture" | "go":
            return "capture"
        case "confirm":
            return "confirm"
    raise UnfitError(_NOT_A_JOB)


def job_command(wish: Wish, task: "JobTask | None") -> job_run.Command:
    """The command to a job.

    Args:
        wish: what a screen asks for.
        task: what the job asks for just now.

    Raises:
        UnfitError: it does not fit, or something is missing.
    """
    Command = job_run.Command
    match wish.do:
        case "capture" | "go":
            return Command("go", figures=_figures(wish, task.asks if task is not None else ""))
        case "confirm":
            return Command("trust the gauge")
        case "back":
            return Command("back")
        case "anew":
            return Command("anew", target=wish.target)
        case "again":
            reason = _reason(wish, "Say why it is measured again.")
            return Command("again", reason, wish.by, uid=wish.uid)
        case "skip":
            return Command("skip", *_answered_for(wish))
        case "stand":
            return Command("let it stand", *_answered_for(wish))
        case "choose":
            raise UnfitError(_OTHER_GAUGE)
    raise UnfitError(_NOT_IN_A_JOB)


def calibration_command(wish: Wish, task: "CalibrationTask | None") -> calibration_run.Command:
    """The command to a calibration.

    Args:
        wish: what a screen asks for.
        task: what the calibration asks for just now.

    Raises:
        UnfitError: it does not fit, or something is missing.
    """
    Command = calibration_run.Command
    match wish.do:
        case "capture" | "go" if task is not None and task.kind == "conditions":
            (temperature_c,) = _figures(wish, "temperature")
            return Command(kind="go", temperature_c=temperature_c)
        case "capture" | "go":
            return Command(kind="go")
        case "confirm":
            return Command(kind="trust the gauge")
        case "back":
            return Command(kind="back", text=wish.reason)
        case "anew":
            return Command(kind="anew", text=_reason(wish, "Say why the run is begun anew."))
        case "insist":
            reason, by = _answered_for(wish)
            return Command(kind="insist", text=reason, by=by)
        case "adjusted":
            return Command(kind="adjusted", text=_reason(wish, "Say what was adjusted."))
        case "not adjusted":
            return Command(kind="not adjusted", text=wish.reason)
        case "choose":
            raise UnfitError(_OTHER_GAUGE)
    raise UnfitError(_NOT_IN_A_CALIBRATION)


def _figures(wish: Wish, asks: str) -> tuple[Decimal, ...]:
    """The figures that are asked for; none where none are.

    Raises:
        UnfitError: there are more or fewer.
    """
    if not asks:
        return ()
    count, words = _WHAT_FIGURES[asks]
    if len(wish.figures) != count:
        raise UnfitError(words)
    return wish.numbers


def _reason(wish: Wish, words: str) -> str:
    if not wish.reason:
        raise UnfitError(words)
    return str(wish.reason)


def _answered_for(wish: Wish) -> tuple[str, str]:
    reason = _reason(wish, "A reason is needed; it is kept for good.")
    if not wish.by:
        raise UnfitError("A name is needed: somebody has to answer for it.")
    return reason, str(wish.by)
