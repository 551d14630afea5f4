"""What a job's screen shows: the task in words, and under it the bench screen of its gauge."""

import textwrap
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from daq.screen.drawing import lone_headline, rows_of
from daq.screen.rows import Row, Rows, ascii_row, clean, ends, filled, line
from daq.screen.view import BenchView, Headline

if TYPE_CHECKING:
    from daq.jobs.standing import JobStanding
    from daq.jobs.task import Task

Kind = Literal["confirm", "measure", "adjust", "decide", "end"]

HEADLINES: dict[str, tuple[str, ...]] = {
    "plate": ("READ PLATE",),
    "cautions": ("TAKE CARE",),
    "step": ("MOUNT GAUGE",),
    "crank": ("BAR ON",),
    "adjusted": ("TURN",),
    "locked": ("LOCK IT",),
    "worked": ("WORK IT",),
    "across": ("TOO FAR APART", "TOO FAR"),
    "sealed": ("SEAL IT",),
    "decide": ("DECIDE",),
    "end": ("DONE",),
}
"""What stands large, by what is to be confirmed."""

NEEDS_ROWS = 10
"""A bench screen of fewer rows says less than the words."""


@dataclass(frozen=True, slots=True, kw_only=True)
class JobView:
    """One moment of a job.

    ``title``, ``words`` and ``more`` are the task's; ``sign`` chooses the headline of a task
    without a gauge. ``done`` of ``of`` targets are done. ``bench`` is the gauge that is read, None
    if none is. ``notice`` is what has just happened or been refused.
    ``standing`` and ``task`` are what the view was made from, for screens that show more; the same
    objects come again until the job moves on.
    """

    kind: Kind
    sign: str
    title: str
    words: str
    more: tuple[str, ...] = ()
    done: int = 0
    of: int = 0
    bench: BenchView | None = None
    notice: str = ""
    keys: str = "space go on  b back  a set anew  s skip  o let it stand  q stop for now"
    standing: "JobStanding | None" = None
    task: "Task | None" = None


def job_rows(view: JobView, width: int, height: int, *, ascii_only: bool = False) -> Rows:
    """The whole screen: exactly ``height`` rows of exactly ``width`` columns, 1 or more each."""
    head: list[Row] = [
        ends([view.title], [f"{view.done} of {view.of}"], width),
        *_wrapped(view.words, width, "ink"),
    ]
    foot: list[Row] = [ends([view.keys], [], width)]
    if view.notice:
        foot.insert(0, line([view.notice], width, "stop"))
    room = height - len(head) - len(foot)
    if view.bench is not None and room >= NEEDS_ROWS:
        notes = [row for each in view.more for row in _wrapped(each, width, "small")]
        notes = notes[: max(0, room - 2 * NEEDS_ROWS)]
        middle = [*notes, *rows_of(view.bench, width, room - len(notes), ascii_only=ascii_only)]
    else:
        middle = _without_gauge(view, width, max(room, 0))
    rows = [*head, *middle, *foot][:height]
    rows += [()] * (height - len(rows))
    return tuple(filled(ascii_row(row) if ascii_only else row, width) for row in rows)


def _without_gauge(view: JobView, width: int, height: int) -> list[Row]:
    notes: list[Row] = []
    for each in view.more:
        notes += _wrapped(each, width, "small", first="· ")
    rows: list[Row] = []
    left = height - len(notes) - 2
    texts = HEADLINES.get(view.sign)
    if texts and left >= 4:
        mood: Literal["good", "wait"] = "good" if view.kind == "end" else "wait"
        large = lone_headline(Headline(texts, mood), width, min(left, 9))
        rows += [(), *(large or []), ()]
    rows += notes
    return [*rows, *[()] * height][:height]


def _wrapped(text: str, width: int, role: Literal["ink", "small"], first: str = "") -> list[Row]:
    """``text`` in as many rows as it needs, a column in from both ends."""
    room = max(width - 2, 1)
    lines = textwrap.wrap(
        clean(text), room, initial_indent=first, subsequent_indent=" " * len(first)
    )
    return [((" ", "ground"), (each, role)) for each in lines]


def plain_job_line(view: JobView) -> str:
    """The task on one line, for an output that is no terminal."""
    notice = f"  [{view.notice}]" if view.notice else ""
    return f"{view.done}/{view.of}  {view.title}: {view.words}{notice}"
