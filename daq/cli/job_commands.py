"""How a person takes part in a job: a screen and keys, or lines of text."""

import sys
import threading
import time
from collections.abc import Callable, Iterable
from contextlib import ExitStack
from decimal import Decimal, InvalidOperation
from queue import Empty, SimpleQueue
from typing import TYPE_CHECKING, TextIO

import click

if TYPE_CHECKING:
    from daq.jobs.task import Task
    from daq.screen.job_run import Command
    from daq.screen.job_view import JobView

Show = Callable[["JobView", float], object]
Commands = Callable[[], "Iterable[Command]"]
OnTask = Callable[["Task"], object]


def take_part(stack: ExitStack, operator: str) -> tuple[Show, Commands, OnTask]:
    """How views are shown, where commands come from, and who is told of each task.

    Args:
        stack: closes the screen and gives the keyboard back.
        operator: who answers, if nobody else is named.
    """
    from rich.console import Console

    from daq.screen.terminal import can_draw

    console = Console()
    if can_draw(console) and sys.stdin.isatty():
        person = AtTerminal(operator)
        stack.callback(person.leave)
        person.enter()
        return person.show, person.commands, person.told
    lines = LinesOfText(sys.stdin)
    return PlainTasks(), lines.commands, lambda _: None


class AtTerminal:
    """The live screen and single keys; reasons, names and angles are typed on a line."""

    def __init__(self, operator: str) -> None:
        self._operator = operator
        self._stack = ExitStack()
        self._asks = ""

    def enter(self) -> None:
        """Take over the terminal."""
        from rich.console import Console

        from daq.screen.job_view import job_rows
        from daq.screen.keys import Keys
        from daq.screen.terminal import Screen

        self._keys = self._stack.enter_context(Keys())
        self._screen = self._stack.enter_context(
            Screen(Console(), lambda view, w, h, ascii_only: job_rows(
                view, w, h, ascii_only=ascii_only
            ))
        )  # fmt: skip

    def leave(self) -> None:
        """Give the terminal back."""
        self._stack.close()

    def told(self, task: "Task") -> None:
        """Remember what the task asks for; beep, for somebody who looks elsewhere."""
        self._asks = task.asks
        sys.stdout.write("\a")

    def show(self, view: "JobView", now_s: float) -> None:
        """Draw ``view``."""
        self._screen.show(view, now_s)

    def commands(self) -> "list[Command]":
        """What was pressed since the last call."""
        from daq.screen.job_run import Command

        found: list[Command] = []
        for key in self._keys.pressed(time.monotonic()):
            match key:
                case "capture" if self._asks:
                    found.append(Command("go", figures=self._figures()))
                case "capture":
                    found.append(Command("go"))
                case "confirm":
                    found.append(Command("trust the gauge"))
                case "skip" | "let it stand":
                    reason, by = self._reason(key)
                    found.append(Command(key, reason, by))
                case "back" | "anew" | "quit":
                    found.append(Command(key))
        return found

    def _reason(self, what: str) -> tuple[str, str]:
        self.leave()
        try:
            reason = click.prompt(f"Why {what}? (empty: do not)", default="", show_default=False)
            by = self._operator
            if reason:
                by = click.prompt("Who answers for it?", default=self._operator)
            return reason, by
        finally:
            self.enter()

    def _figures(self) -> tuple[Decimal, ...]:
        what = "Angle on the engine's scale, degrees"
        if self._asks == "temperatures":
            what = "Temperatures in °C, part then gauge (as 31 22.5)"
        self.leave()
        try:
            return _decimals(click.prompt(what, default="", show_default=False))
        finally:
            self.enter()


class LinesOfText:
    """Commands from lines: ``go``, ``go 36.5``, ``anew injector 3``, ``skip why | who``, …"""

    def __init__(self, source: TextIO) -> None:
        self._source = source
        self._lines: SimpleQueue[str | None] = SimpleQueue()
        threading.Thread(target=self._read, daemon=True).start()

    def commands(self) -> "list[Command]":
        """The next line, if one has come; the end of the input stops the job for now."""
        from daq.screen.job_run import Command

        try:
            line = self._lines.get_nowait()
        except Empty:
            return []
        if line is None:
            return [Command("quit")]
        command = command_from(line)
        if command is None:
            click.echo(f"{line.strip()!r} is none of go, back, anew, skip, stand, trust, quit.")
            return []
        return [command]

    def _read(self) -> None:
        for line in self._source:
            if line.strip():
                self._lines.put(line)
        self._lines.put(None)


def command_from(line: str) -> "Command | None":
    """The command that a line says; None if it says none."""
    from daq.screen.job_run import Command

    word, _, rest = line.strip().partition(" ")
    reason, _, by = (part.strip() for part in rest.partition("|"))
    match word:
        case "go":
            return Command("go", figures=_decimals(rest))
        case "back":
            return Command("back")
        case "anew":
            return Command("anew", target=rest.strip())
        case "quit":
            return Command("quit")
        case "trust":
            return Command("trust the gauge")
        case "skip":
            return Command("skip", reason, by)
        case "stand":
            return Command("let it stand", reason, by)
    return None


class PlainTasks:
    """Prints a line whenever the task or what is said of it has changed."""

    def __init__(self) -> None:
        self._said = ""

    def __call__(self, view: "JobView", _now_s: float) -> None:
        """Print ``view`` if there is news in it."""
        from daq.screen.job_view import plain_job_line

        line = plain_job_line(view)
        if line != self._said:
            self._said = line
            print(line, flush=True)


def _decimals(text: str) -> tuple[Decimal, ...]:
    """The plain numbers in ``text``; none if anything else stands there."""
    try:
        numbers = tuple(Decimal(word) for word in text.split())
    except InvalidOperation:
        return ()
    return numbers if all(number.is_finite() for number in numbers) else ()
