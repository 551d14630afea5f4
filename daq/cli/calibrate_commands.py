"""How a person takes part in a calibration: a screen and keys, or lines of text."""

import sys
from contextlib import ExitStack
from dataclasses import replace
from datetime import date
from decimal import Decimal, InvalidOperation
from typing import TYPE_CHECKING, TextIO

import click

from daq.cli.taking_part import Lines, Part, PlainLines, Terminal, is_at_terminal

if TYPE_CHECKING:
    from daq.calibration.guided import Ending
    from daq.screen.calibration_run import Asked, Command
    from daq.screen.calibration_view import CalibrationView

CalibrationPart = Part["CalibrationView", "Command", "Asked"]

WORDS = (
    "go, temp °C, back, anew WHY, insist WHY | NAME, adjusted WHAT, unadjusted, end, trust, quit"
)
"""What may stand on a line."""


def take_part(stack: ExitStack, operator: str, *, ends_with_input: bool = True) -> CalibrationPart:
    """How views are shown, where commands come from, and who is told of each task.

    Args:
        stack: closes the screen and gives the keyboard back.
        operator: who answers, if nobody else is named.
        ends_with_input: whether the end of the lines, where there is no terminal, stops the run.
    """
    if is_at_terminal():
        person = AtTerminal(operator)
        stack.callback(person.leave)
        person.enter()
        return Part(person.show, person.commands, person.told)
    lines = LinesOfText(sys.stdin, ends=ends_with_input)
    return Part(plain_tasks(), lines.commands, lines.told)


def plain_tasks() -> "PlainLines[CalibrationView]":
    """Prints a line whenever the task or what is said of it has changed."""
    from daq.screen.calibration_rows import plain_calibration_line

    return PlainLines(plain_calibration_line)


class AtTerminal(Terminal["CalibrationView"]):
    """The screen of a calibration; temperatures, reasons and names are typed on a line."""

    def __init__(self, operator: str) -> None:
        from daq.screen.calibration_rows import calibration_rows

        super().__init__(calibration_rows, operator)
        self._asked: Asked | None = None

    def told(self, asked: "Asked") -> None:
        """Remember what is asked; beep, for somebody who looks elsewhere."""
        self._asked = asked
        sys.stdout.write("\a")

    def commands(self) -> "list[Command]":
        """What was pressed since the last call."""
        found = [self._command(key) for key in self.pressed()]
        return [each for each in found if each is not None]

    def _command(self, key: str) -> "Command | None":
        from daq.screen.calibration_run import Command

        kind = self._asked.task.kind if self._asked is not None else "point"
        match key:
            case "capture" if kind == "conditions":
                typed = self.ask("Temperature of gauge and standard, °C")
                number = number_of(typed)
                return Command(kind="go") if number is None else _temperature(number)
            case "capture" if kind == "end":
                return self._end()
            case "capture":
                return Command(kind="go")
            case "confirm":
                return Command(kind="trust the gauge")
            case "back" | "quit":
                return Command(kind=key)
            case "no" if kind == "adjusted or not":
                return Command(kind="not adjusted")
            case "skip" if kind in ("conditions", "point", "return"):
                why = self.ask("Why is the run begun anew? (empty: it is not)")
                return Command(kind="anew", text=why) if why else None
            case "anew" if kind in ("adjusted or not", "end"):
                done = self.ask("What was adjusted? (empty: nothing)")
                return Command(kind="adjusted", text=done) if done else None
            case "let it stand" if kind == "point":
                return self._insist()
        return None

    def _insist(self) -> "Command | None":
        from daq.screen.calibration_run import Command

        why = self.ask("Why is it taken all the same? (empty: it is not)")
        if not why:
            return None
        by = self.ask("Who answers for it?", self.operator)
        return Command(kind="insist", text=why, by=by)

    def _end(self) -> "Command":
        from daq.screen.calibration_run import Command

        assert self._asked is not None
        proposed = self._asked.ending
        assert proposed is not None
        try:
            return Command(kind="go", ending=self.between(lambda: _asked_of(proposed)))
        except InvalidOperation:
            return Command(kind="go")


def _asked_of(proposed: "Ending") -> "Ending":
    """What a person says at the end, line by line; Enter takes what is proposed."""
    number = click.prompt("Number of the certificate", default=proposed.certificate)
    ending = replace(proposed, certificate=number)
    if proposed.due is not None:
        click.echo(proposed.due_words)
        due = click.prompt("Due next on", default=str(proposed.due), value_proc=date.fromisoformat)
        if due != proposed.due:
            ending = replace(ending, due=due, due_words="The day was set by hand.")
    ends = click.prompt(
        "It may be used over its whole range (Enter), or from … to … mm, as 0 10",
        default="",
        show_default=False,
    )
    limits = [number_of(each) for each in ends.split()]
    if len(limits) == 2 and None not in limits:
        ending = replace(ending, from_mm=limits[0], to_mm=limits[1])
    by = click.prompt(
        "Who answers for the certificate? (Enter: nobody yet)", default="", show_default=False
    )
    remarks = click.prompt("Remarks (Enter: none)", default="", show_default=False)
    return replace(ending, authorised_by=by.strip(), remarks=remarks.strip())


class LinesOfText:
    """Commands from lines: ``temp 20.1``, ``go``, ``insist why | who``, ``adjusted what``, …"""

    def __init__(self, source: TextIO, *, ends: bool = True) -> None:
        self._lines = Lines(source)
        self._ends = ends
        self._ending: Ending | None = None

    def told(self, asked: "Asked") -> None:
        """Remember what is proposed for the end."""
        self._ending = asked.ending

    def commands(self) -> "list[Command]":
        """The next line, if one has come; the end of the input may stop the run for now."""
        from daq.screen.calibration_run import Command

        line = self._lines.next()
        if line is None and self._ends:
            return [Command(kind="quit")]
        if not line:
            return []
        command = command_from(line, self._ending)
        if command is None:
            click.echo(f"{line.strip()!r} is none of {WORDS}.")
            return []
        return [command]


def command_from(line: str, proposed: "Ending | None" = None) -> "Command | None":
    """The command that a line says; None if it says none.

    Args:
        line: the line.
        proposed: what is proposed for the end, where that has come.
    """
    from daq.screen.calibration_run import Command

    word, _, rest = line.strip().partition(" ")
    text, *more = (part.strip() for part in rest.split("|"))
    match word:
        case "go":
            return Command(kind="go")
        case "temp":
            number = number_of(text)
            return None if number is None else _temperature(number)
        case "back":
            return Command(kind="back", text=text)
        case "anew":
            return Command(kind="anew", text=text)
        case "insist":
            return Command(kind="insist", text=text, by=more[0] if more else "")
        case "adjusted":
            return Command(kind="adjusted", text=text)
        case "unadjusted":
            return Command(kind="not adjusted", text=text)
        case "trust":
            return Command(kind="trust the gauge")
        case "quit":
            return Command(kind="quit")
        case "end" if proposed is not None:
            by, remarks = [*more, "", ""][:2]
            said = replace(proposed, authorised_by=by, remarks=remarks)
            return Command(kind="go", ending=replace(said, certificate=text) if text else said)
    return None


def number_of(text: str) -> Decimal | None:
    """The plain number in ``text``; None if there is none."""
    try:
        number = Decimal(text.strip().removesuffix("°C").strip())
    except InvalidOperation:
        return None
    return number if number.is_finite() else None


def _temperature(number: Decimal) -> "Command":
    from daq.screen.calibration_run import Command

    return Command(kind="go", temperature_c=number)
