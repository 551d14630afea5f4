"""The screen of a guided calibration as rows: what stands where. No terminal.

From top to bottom: which calibration and how far it is, the task in words, the blocks large, the
reading on its floor, the error curve as it grows, the last point, what was refused, the keys.
"""

import textwrap
from typing import Literal

from daq.screen.calibration_plot import FEWEST_ROWS, plot_rows
from daq.screen.calibration_view import CalibrationView, large_headline
from daq.screen.drawing import lone_headline, reading_rows
from daq.screen.rows import Row, Rows, ascii_row, clean, ends, filled, line
from daq.screen.view import Headline

HEADLINE_ROWS = 6
READING_ROWS = 7
LEAST_READING_ROWS = 2


def calibration_rows(
    view: CalibrationView, width: int, height: int, *, ascii_only: bool = False
) -> Rows:
    """The whole screen: exactly ``height`` rows of exactly ``width`` columns, 1 or more each."""
    head: list[Row] = [
        ends([view.title], [f"{view.done} of {view.of} points"], width),
        *_wrapped(view.words, width, "ink"),
    ]
    # A row each is kept for both, so that nothing moves when there is something to say.
    notice = _wrapped(view.notice, width, "stop") or [()]
    foot: list[Row] = [line([view.last], width), *notice, ends([view.keys], [], width)]
    room = max(height - len(head) - len(foot), 0)
    rows = [*head, *_middle(view, width, room), *foot]
    if len(rows) > height:  # the task and the keys come first
        rows = [*head, foot[-1]]
    rows = [*rows, *[()] * height][:height]
    return tuple(filled(ascii_row(row) if ascii_only else row, width) for row in rows)


def _middle(view: CalibrationView, width: int, room: int) -> list[Row]:
    """What lies between the words and the foot, in exactly ``room`` rows."""
    tall, reading, notes, plot = _shares(view, width, room)
    rows = [*_large(large_headline(view), width, tall)]
    if view.bench is not None and reading:
        rows += reading_rows(view.bench, width, reading)
    rows += notes
    if view.curve is not None and plot:
        rows += plot_rows(view.curve, width, plot, view.step_mm)
    return [*rows, *[()] * room][:room]


def _shares(view: CalibrationView, width: int, room: int) -> tuple[int, int, list[Row], int]:
    """Rows for the headline and the reading, the notes, rows for the curve."""
    notes = [row for each in view.more for row in _wrapped(each, width, "small", "· ")]
    reads = view.bench is not None
    least = LEAST_READING_ROWS if reads else 0
    if room < HEADLINE_ROWS + least:
        tall = max(room - least - len(notes), min(room, 1))
        return tall, min(least, room - tall), notes, 0
    plots = view.curve is not None and room >= HEADLINE_ROWS + least + FEWEST_ROWS
    spare = room - HEADLINE_ROWS - least - (FEWEST_ROWS if plots else 0)
    # What there is to mind comes before large figures, and those before a larger curve.
    notes = notes[:spare]
    spare -= len(notes)
    reading = least + min(spare, READING_ROWS - least) if reads else 0
    spare -= reading - least
    grows = spare // 4
    tall = HEADLINE_ROWS + min(grows, HEADLINE_ROWS)
    reading += min(grows, READING_ROWS) if reads else 0
    plot = room - tall - reading - len(notes) if plots else 0
    return tall, reading, notes, plot


def _large(say: Headline, width: int, rows: int) -> list[Row]:
    """The headline in block letters, or as text in the middle of its rows."""
    if rows <= 0:
        return []
    if rows >= HEADLINE_ROWS and (large := lone_headline(say, width, rows)) is not None:
        return large
    text = next((each for each in say.texts if len(each) + 2 <= width), say.texts[-1])
    middle: Row = ((f" {clean(text)}", say.mood),)
    return [*[()] * ((rows - 1) // 2), middle, *[()] * (rows // 2)]


def _wrapped(
    text: str, width: int, role: Literal["ink", "small", "stop"], first: str = ""
) -> list[Row]:
    """``text`` in as many rows as it needs, a column in from both ends."""
    room = max(width - 2, 1)
    lines = textwrap.wrap(
        clean(text), room, initial_indent=first, subsequent_indent=" " * len(first)
    )
    return [((" ", "ground"), (each, role)) for each in lines]


def plain_calibration_line(view: CalibrationView) -> str:
    """The task on one line, for an output that is no terminal."""
    notice = f"  [{view.notice}]" if view.notice else ""
    return f"{view.done}/{view.of}  {view.title}: {view.words}{notice}"
