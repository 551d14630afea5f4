"""The bench screen in a terminal: colours, a rich drawing of one view, and the live screen.

Colour only repeats what the words, the arrows and the shapes say already. The ground is painted
too, so that the contrast is the same on a light terminal and a dark one.
"""

import contextlib
from collections.abc import Callable
from types import TracebackType
from typing import Any, Self

from rich.console import COLOR_SYSTEMS, Console
from rich.control import Control
from rich.style import Style
from rich.text import Text

from daq.screen.drawing import rows_of
from daq.screen.rows import Role, Row, Rows
from daq.screen.view import BenchView

GROUND = "#10161d"
INKS: dict[Role, str] = {
    "ground": "#f5f2ea",
    "number": "#f5f2ea",
    "ink": "#f5f2ea",
    "small": "#c8d1da",
    "faint": "#93a1ae",
    "wall": "#66788a",
    "turn": "#ffb84d",
    "wait": "#8ecbff",
    "good": "#5fdba7",
    "stop": "#ff8f80",
}
"""Told apart by lightness and hue; none of them carries a meaning alone."""

_BOLD: frozenset[Role] = frozenset({"number", "ink", "turn", "wait", "good", "stop"})

STYLES: dict[Role, Style] = {
    role: Style(color=ink, bgcolor=GROUND, bold=role in _BOLD) for role, ink in INKS.items()
}

DRAWS_A_SECOND = 20
"""More is not seen, and an old laptop has other work."""


def draw(view: BenchView, width: int, height: int, *, ascii_only: bool = False) -> Text:
    """The view as a rich text of ``height`` lines, each exactly ``width`` columns.

    Args:
        view: what to show.
        width: columns, 1 or more.
        height: rows, 1 or more.
        ascii_only: for an output that has no block characters.
    """
    return _text_of(rows_of(view, width, height, ascii_only=ascii_only))


def _text_of(rows: Rows) -> Text:
    text = Text(no_wrap=True, overflow="crop", end="")
    for number, row in enumerate(rows):
        if number:
            text.append("\n")
        for piece, role in row:
            text.append(piece, STYLES[role])
    return text


def can_draw(console: Console) -> bool:
    """Whether the console is a terminal that can be drawn on; if not, print plain lines."""
    return console.is_terminal and not console.is_dumb_terminal


def needs_ascii(console: Console) -> bool:
    """Whether the console's encoding lacks the block characters."""
    try:
        "█▀▄▌▐▒│─◄►·…±°".encode(console.encoding)
    except (UnicodeEncodeError, LookupError):
        return True
    return False


Drawer = Callable[[Any, int, int, bool], Rows]


def _bench_rows(view: BenchView, width: int, height: int, ascii_only: bool) -> Rows:
    return rows_of(view, width, height, ascii_only=ascii_only)


class Screen:
    """The live screen: takes over the terminal, and gives it back whatever happens.

    Only rows that changed are written, straight to the terminal, because drawing whole screens
    through rich costs several times as much. Use it as a context manager::

        with Screen(console) as screen:
            screen.show(view, now_s=clock())

    Args:
        console: the rich console of the terminal.
        rows: how a view becomes rows, given width, height and whether ASCII is all there is.

    Raises:
        ValueError: the console is no terminal; ask ``can_draw`` first.
    """

    def __init__(self, console: Console, rows: Drawer = _bench_rows) -> None:
        if not can_draw(console):
            raise ValueError("this output is no terminal to draw on; print plain lines instead")
        self._console = console
        self._rows = rows
        self._ascii_only = needs_ascii(console)
        self._codes = _codes(console)
        self._shown: Rows = ()
        self._size = (0, 0)
        self._drawn_s: float | None = None

    def __enter__(self) -> Self:
        try:
            self._console.set_alt_screen(True)
            self._console.show_cursor(False)
        except BaseException:
            self._restore()
            raise
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        traceback: TracebackType | None,
    ) -> None:
        self._restore()

    def due(self, now_s: float) -> bool:
        """Whether the last drawing is old enough for another one at ``now_s``."""
        return self._drawn_s is None or not 0 <= now_s - self._drawn_s < 1 / DRAWS_A_SECOND

    def show(self, view: Any, now_s: float) -> bool:
        """Draws the view if it differs from what is shown and the last drawing is old enough.

        Args:
            view: what to show. One that came too soon is dropped, so keep calling with the newest.
            now_s: monotonic time, seconds.

        Returns:
            Whether anything was written.
        """
        if not self.due(now_s):
            return False
        width, height = self._console.size
        size = (max(width, 1), max(height, 1))
        rows = self._rows(view, *size, self._ascii_only)
        if size == self._size and rows == self._shown:
            return False
        if self._console.legacy_windows:
            self._console.control(Control.home())
            self._console.print(_text_of(rows), end="")
        else:
            self._write(rows, size)
        self._shown, self._size, self._drawn_s = rows, size, now_s
        return True

    def _write(self, rows: Rows, size: tuple[int, int]) -> None:
        """Writes the rows that differ from those shown; all of them on a terminal of a new size."""
        out = []
        before: Rows = self._shown
        if size != self._size:
            out.append("\x1b[2J")
            before = ()
        for number, row in enumerate(rows):
            if number >= len(before) or row != before[number]:
                out.append(f"\x1b[{number + 1};1H{self._coded(row)}")
        self._console.file.write("".join(out))
        self._console.file.flush()

    def _coded(self, row: Row) -> str:
        return "".join(f"{self._codes[role][0]}{text}{self._codes[role][1]}" for text, role in row)

    def _restore(self) -> None:
        # A terminal that went away cannot be restored, and must not hide why we are leaving.
        with contextlib.suppress(OSError):
            self._console.show_cursor(True)
        with contextlib.suppress(OSError):
            self._console.set_alt_screen(False)


def _codes(console: Console) -> dict[Role, tuple[str, str]]:
    """What rich writes before and after text of each role on this console."""
    name = console.color_system
    system = None if name is None else COLOR_SYSTEMS[name]
    codes: dict[Role, tuple[str, str]] = {}
    for role, style in STYLES.items():
        worn = style.without_color if console.no_color else style
        before, _, after = worn.render("x", color_system=system).partition("x")
        codes[role] = (before, after)
    return codes
