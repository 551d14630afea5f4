"""How people take part in any work: a screen and single keys, lines of text, or several of them."""

import sys
import threading
import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import ExitStack
from dataclasses import replace
from queue import Empty, SimpleQueue
from typing import TYPE_CHECKING, Any, Generic, NamedTuple, TextIO, TypeVar

import click

if TYPE_CHECKING:
    from daq.screen.rows import Rows

View = TypeVar("View")
Command = TypeVar("Command")
Told = TypeVar("Told")


class Part(NamedTuple, Generic[View, Command, Told]):
    """One way of taking part.

    ``show`` is given each view with the time in seconds, ``commands`` says what was asked for since
    the last call, ``told`` is given each new task. ``due`` says whether a view would be shown at a
    time, so that none need be made which nobody sees.
    """

    show: Callable[[View, float], object]
    commands: Callable[[], Iterable[Command]] = tuple
    told: Callable[[Told], object] = lambda _: None
    due: Callable[[float], bool] = lambda _: True


def together(*parts: Part[View, Command, Told]) -> Part[View, Command, Told]:
    """Several ways of taking part as one: everybody sees everything, and anybody may ask."""
    if len(parts) == 1:
        return parts[0]

    def show(view: View, now_s: float) -> None:
        for part in parts:
            part.show(view, now_s)

    def commands() -> Iterator[Command]:
        # Asked one by one: what comes after an answer is looked at when that can be seen.
        for part in parts:
            yield from part.commands()

    def told(task: Told) -> None:
        for part in parts:
            part.told(task)

    def due(now_s: float) -> bool:
        return any(part.due(now_s) for part in parts)

    return Part(show, commands, told, due)


def with_notice(
    part: Part[View, Command, Told], notice: Callable[[], str]
) -> Part[View, Command, Told]:
    """``part``, told what is wrong elsewhere wherever a view has no notice of its own."""

    def show(view: View, now_s: float) -> None:
        words = notice()
        if words and not view.notice:  # type: ignore[attr-defined]
            view = replace(view, notice=words)  # type: ignore[type-var]
        part.show(view, now_s)

    return part._replace(show=show)


def is_at_terminal() -> bool:
    """Whether there is a screen to draw on and a keyboard to read."""
    from rich.console import Console

    from daq.screen.terminal import can_draw

    return can_draw(Console()) and sys.stdin.isatty()


class Terminal(Generic[View]):
    """The live screen and single keys; what takes words is typed on a line.

    Args:
        rows: the rows of a view; it is given the view, the width, the height and ``ascii_only``.
        operator: who answers, if nobody else is named.
    """

    def __init__(self, rows: "Callable[..., Rows]", operator: str) -> None:
        self.operator = operator
        self._rows = rows
        self._stack = ExitStack()

    def enter(self) -> None:
        """Take over the terminal."""
        from rich.console import Console

        from daq.screen.keys import Keys
        from daq.screen.terminal import Screen

        def rows(view: Any, width: int, height: int, ascii_only: bool) -> "Rows":
            return self._rows(view, width, height, ascii_only=ascii_only)

        self._keys = self._stack.enter_context(Keys())
        self._screen = self._stack.enter_context(Screen(Console(), rows))

    def leave(self) -> None:
        """Give the terminal back."""
        self._stack.close()

    def show(self, view: View, now_s: float) -> None:
        """Draw ``view``."""
        self._screen.show(view, now_s)

    def pressed(self) -> list[str]:
        """The keys that were pressed since the last call, by what they mean."""
        return list(self._keys.pressed(time.monotonic()))

    def ask(self, what: str, default: str = "") -> str:
        """What is typed on a line of its own; the screen comes back after it."""
        typed: str = self.between(
            lambda: click.prompt(what, default=default, show_default=bool(default))
        )
        return typed.strip()

    def between(self, ask: "Callable[[], Any]") -> Any:
        """Do something with the terminal given back; the screen comes back after it."""
        self.leave()
        try:
            return ask()
        finally:
            self.enter()


class Lines:
    """Lines of text as they come, without anybody waiting for them."""

    def __init__(self, source: TextIO) -> None:
        self._source = source
        self._lines: SimpleQueue[str | None] = SimpleQueue()
        threading.Thread(target=self._read, daemon=True).start()

    def next(self) -> str | None:
        """The next line, ``""`` if none has come; None once the input has ended."""
        try:
            return self._lines.get_nowait()
        except Empty:
            return ""

    def _read(self) -> None:
        for line in self._source:
            if line.strip():
                self._lines.put(line)
        self._lines.put(None)


class PlainLines(Generic[View]):
    """Prints a line whenever what there is to say has changed.

    Args:
        words: a view on one line.
    """

    def __init__(self, words: Callable[[View], str]) -> None:
        self._words, self._said = words, ""

    def __call__(self, view: View, _now_s: float) -> None:
        """Print ``view`` if there is news in it."""
        line = self._words(view)
        if line != self._said:
            self._said = line
            print(line, flush=True)
