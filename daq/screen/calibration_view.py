"""What the screen of a guided calibration shows, as plain data, and the headline that follows."""

from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING

from daq.screen.view import BenchView, Headline, headline

if TYPE_CHECKING:
    from daq.calibration.guided import ErrorCurve, Standing, Task

KEYS = {
    "conditions": "space type the temperature  s start anew  q stop for now",
    "point": "space take it  b last point again  s start anew  o insist  q stop for now",
    "return": "space take it  s start anew  q stop for now",
    "result": "space work it out  q stop for now",
    "adjusted or not": "a adjusted  n not adjusted  b last point again  q stop for now",
    "end": "space end it  a adjusted again  q stop for now",
}
"""What can be pressed, by the kind of task."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CalibrationView:
    """One moment of a calibration.

    ``title``, ``words`` and ``more`` are the task's, ``large`` is what stands large, longest first.
    ``done`` of ``of`` points of the run are there. ``bench`` is the gauge, None where the task does
    not read it. ``curve`` is what is known of its errors so far. ``last`` is the last point in
    words, with its error. ``notice`` is what has just been refused, or what else happened.
    ``standing`` and ``task`` are what the view was made from, for screens that show more of it; the
    same objects come again until the calibration moves on.
    """

    kind: str
    title: str
    words: str
    large: tuple[str, ...]
    more: tuple[str, ...] = ()
    done: int = 0
    of: int = 0
    bench: BenchView | None = None
    curve: "ErrorCurve | None" = None
    step_mm: Decimal = Decimal("0.001")
    last: str = ""
    notice: str = ""
    standing: "Standing | None" = None
    task: "Task | None" = None

    @property
    def keys(self) -> str:
        """What can be pressed."""
        if self.bench is not None and self.bench.doubt:
            return "c confirm  q stop for now"
        return KEYS.get(self.kind, "q stop for now")


def large_headline(view: CalibrationView) -> Headline:
    """What to put under the gauge; for a moment after a capture or a refusal, that."""
    if view.bench is not None and (say := headline(view.bench)).is_news:
        return say
    return Headline(view.large, "good" if view.kind == "end" else "turn")


def large_of(task: "Task") -> tuple[str, ...]:
    """What stands large for a task: the blocks, or a word, longest first."""
    if task.kind == "conditions":
        return ("TEMPERATURE",)
    if task.kind == "result":
        return ("WORK IT OUT",)
    if task.kind in ("adjusted or not", "end"):
        word = task.result.word if task.result is not None else ""
        return (f"{task.run} {word}".upper(), word.upper())
    wanted = task.wanted
    if wanted is None:
        return (task.kind.upper(),)
    pieces = " + ".join(f"{each.nominal_mm.normalize():f}" for each in wanted.stack.pieces)
    stack, short = wanted.stack.words.removesuffix(" mm").upper(), pieces
    if wanted.prepared.standard.kind == "bench":
        stack, short = f"SET {pieces}", pieces
    elif wanted.stack is wanted.prepared.stacks[Decimal(0)] and not _has_blocks(wanted.stack.words):
        stack = short = wanted.stack.words.removeprefix("the ").upper()
    if wanted.is_zero:
        return (f"{stack} SET ZERO", "SET ZERO", "ZERO")
    if task.kind == "return":
        return (f"BACK TO {short}", short)
    if wanted.stop.series == "repeat":
        return (f"{stack} AGAIN", f"{short} AGAIN", short)
    return (stack, short)


def more_of(task: "Task") -> tuple[str, ...]:
    """What else to mind; never what a reading should be, beside the one that it is."""
    if task.kind == "return":
        return ("It must read here what it read before the interruption.",)
    return task.more


def _has_blocks(words: str) -> bool:
    return words.startswith("block")


def last_words(stands: "Standing") -> str:
    """The last point in words, with its error; empty before the first."""
    taken = stands.current.taken
    if not taken:
        return ""
    point = taken[-1]
    error_mm = point.error_mm.quantize(stands.gauge.step_mm / 10)
    at = f"{point.nominal_mm.normalize():f} mm {point.direction}"
    again = " (again)" if point.series == "repeat" else ""
    return f"Last: {at}{again}, error {error_mm:+f} mm"
