"""How a person takes part in a job: a screen and keys, or lines of text."""

import sys
from contextlib import ExitStack
from decimal import Decimal, InvalidOperation
from typing import TYPE_CHECKING, TextIO

import click

from daq.cli.taking_part import Lines, Part, PlainLines, Terminal, is_at_terminal

if TYPE_CHECKING:
    from daq.jobs.task import Task
    from daq.screen.job_run import Command
    from daq.screen.job_view import JobView

JobPart = Part["JobView", "Command", "Task"]


def take_part(stack: ExitStack, operator: str, *, ends_with_input: bool = True) -> JobPart:
    """How views are shown, where commands come from, and who is told of each task.

    Args:
        stack: closes the screen and gives the keyboard back.
        operator: who answers, if nobody else is named.
        ends_with_input: whether the end of the lines, where there is no terminal, stops the job.
    """
    if is_at_terminal():
        person = AtTerminal(operator)
        stack.callback(person.leave)
        person.enter()
        return Part(person.show, person.commands, person.told)
    return Part(plain_tasks(), LinesOfText(sys.stdin, ends=ends_with_input).commands)


def plain_tasks() -> "PlainLines[JobView]":
    """Prints a line whenever the task or what is said of it has changed."""
    from daq.screen.job_view import plain_job_line

    return PlainLines(plain_job_line)


class AtTerminal(Terminal["JobView"]):
    """The screen of a job; reasons, names and angles are typed on a line."""

    def __init__(self, operator: str) -> None:
        from daq.screen.job_view import job_rows

        super().__init__(job_rows, operator)
        self._asks = ""

    def told(self, task: "Task") -> None:
        """Remember what the task asks for; beep, for somebody who looks elsewhere."""
        self._asks = task.asks
        sys.stdout.write("\a")

    def commands(self) -> "list[Command]":
        """What was pressed since the last call."""
        from daq.screen.job_run import Command

        found: list[Command] = []
        for key in self.pressed():
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
        reason = self.ask(f"Why {what}? (empty: do not)")
        by = self.ask("Who answers for it?", self.operator) if reason else self.operator
        return reason, by

    def _figures(self) -> tuple[Decimal, ...]:
        what = "Angle on the engine's scale, degrees"
        if self._asks == "temperatures":
            what = "Temperatures in °C, part then gauge (as 31 22.5)"
        return _decimals(self.ask(what))


class LinesOfText:
    """Commands from lines: ``go``, ``go 36.5``, ``anew injector 3``, ``skip why | who``, …"""

    def __init__(self, source: TextIO, *, ends: bool = True) -> None:
        self._lines = Lines(source)
        self._ends = ends

    def commands(self) -> "list[Command]":
        """The next line, if one has come; the end of the input may stop the job for now."""
        from daq.screen.job_run import Command

        line = self._lines.next()
        if line is None and self._ends:
            return [Command("quit")]
        if not line:
            return []
        command = command_from(line)
        if command is None:
            click.echo(f"{line.strip()!r} is none of go, back, anew, skip, stand, trust, quit.")
            return []
        return [command]


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


def _decimals(text: str) -> tuple[Decimal, ...]:
    """The plain numbers in ``text``; none if anything else stands there."""
    try:
        numbers = tuple(Decimal(word) for word in text.split())
    except InvalidOperation:
        return ()
    return numbers if all(number.is_finite() for number in numbers) else ()
