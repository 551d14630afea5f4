"""The command line. Each command is a module that parses, calls, prints and gives an exit status.

Exit status: 0 done; 1 done, and the answer is no; 2 asked wrongly; 3 could not.

A command's module is imported when the command is run, so that ``restpoint --help`` does not wait
for libraries that it does not use.
"""

import importlib
import signal
import sys
from collections.abc import Sequence
from contextlib import suppress

import click

from drivers.errors import RestpointError

DONE, ANSWER_IS_NO, ASKED_WRONGLY, COULD_NOT = 0, 1, 2, 3

COMMANDS = {
    "find": "List the serial adapters that are plugged in.",
    "sniff": "Listen to an unknown gauge, and say what it could be.",
    "doctor": "Look for what stands in the way of gauges, and say the fix.",
    "watch": "Show a gauge live: how far off, which way to turn.",
    "read": "Print one settled value with its uncertainty.",
    "capture": "Show a gauge live and keep settled values in a logbook.",
    "bench": "Work at the bench with a page for tablets: live, job, calibrate.",
    "replay": "Run a recorded trace through the same road.",
    "simulate": "Put simulated gauges on pseudo-terminals or TCP.",
    "log": "Show, verify, vouch for, copy or export a logbook.",
    "job": "Do a whole job on an engine, from its job sheet.",
    "register": "Enter and show standards and gauges; plans to calibrate by.",
    "calibrate": "Walk through the calibration of a gauge.",
    "certificate": "Make the certificate of a calibration: HTML, PDF, CSV, JSON, DCC.",
    "crank": "Print where to bar the crank to, and what to set there.",
    "study": "Study how far measured values can be trusted: from a file, or at the gauge.",
    "budget": "Work out an uncertainty budget from its file.",
    "line": "Fit a line through points, with its uncertainty.",
    "judge": "Decide on a value by a rule, and say what that risks.",
    "audit": "Audit calibration logs: which are real, complete, plausible, unedited.",
    "impact": "Show what a gauge that was out of limits touched.",
    "profile": "List, show or check gauge profiles.",
    "demo": "Run the whole road on simulated gauges, no hardware needed.",
}
"""Every command with the line that the overview shows."""


class Commands(click.Group):
    """The commands by name; a command's module is imported on use."""

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002
        """The commands in the order of a first day."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:  # noqa: ARG002
        """The command itself, from its module."""
        if cmd_name not in COMMANDS:
            return None
        command: click.Command = importlib.import_module(f"daq.cli.{cmd_name}").command
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """The command that was typed; a near miss gets a suggestion."""
        if args and args[0] not in COMMANDS and not args[0].startswith("-"):
            import difflib

            near = difflib.get_close_matches(args[0], COMMANDS, n=1)
            hint = f" Did you mean {near[0]!r}?" if near else ""
            ctx.fail(f"There is no command {args[0]!r}.{hint}")
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:  # noqa: ARG002
        """The overview, without importing any command."""
        with formatter.section("Commands"):
            formatter.write_dl(list(COMMANDS.items()))


@click.group(cls=Commands, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="restpoint", message="%(prog)s %(version)s")
def restpoint() -> None:
    """Adjust until zero: live deviation, settled values, a logbook that loses nothing.

    Try it without hardware: restpoint demo
    """


def _end_tidily_when_told_to() -> None:
    """A program that is ended or whose terminal closes gives the terminal and the ports back."""

    def stop(_number: int, _frame: object) -> None:
        raise KeyboardInterrupt

    for name in ("SIGTERM", "SIGHUP"):
        if hasattr(signal, name):  # there is no SIGHUP on Windows
            with suppress(ValueError):  # nor any handler outside the main thread
                signal.signal(getattr(signal, name), stop)


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command.

    Returns:
        The exit status: 0 done, 1 done and the answer is no, 2 asked wrongly, 3 could not.
    """
    _end_tidily_when_told_to()
    try:
        status = restpoint.main(
            list(argv) if argv is not None else None, prog_name="restpoint", standalone_mode=False
        )
    except click.ClickException as error:
        error.show()
        return ASKED_WRONGLY
    except click.Abort:
        return COULD_NOT
    except KeyboardInterrupt:
        return COULD_NOT
    except RestpointError as error:
        print(f"restpoint: {error}", file=sys.stderr)
        return COULD_NOT
    except BrokenPipeError:
        # The reader of our output has gone (restpoint … | head): nothing more to say to it.
        sys.stderr.close()
        return COULD_NOT
    return status if isinstance(status, int) else DONE
