"""restpoint study: how far measured values can be trusted, from a file or from guided captures.

Each subcommand is a module that is imported when it is run. A first word that is none of them is
the file of ``study file``: ``restpoint study trials.csv``.
"""

import importlib

import click

SUBCOMMANDS = {
    "file": "Study the values of a CSV file; the word file may be left out.",
    "run": "Walk through a study at the gauge, and keep every value in the logbook.",
    "log": "Study the values that a logbook holds of a guided study.",
    "share": "Say how sure an observed share is, such as 13/14.",
}
"""Every subcommand with the line that the overview shows; its module is ``study_<name>``."""


class Subcommands(click.Group):
    """The subcommands by name; a subcommand's module is imported on use."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """The words as typed, with ``file`` before them where no subcommand is named."""
        first = args[0] if args else ""
        if first and first not in SUBCOMMANDS and first not in ("-h", "--help"):
            args = ["file", *args]
        return super().parse_args(ctx, args)

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002
        """The subcommands, the one that is used without its name first."""
        return list(SUBCOMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:  # noqa: ARG002
        """The subcommand itself, from its module."""
        if cmd_name not in SUBCOMMANDS:
            return None
        command: click.Command = importlib.import_module(f"daq.cli.study_{cmd_name}").command
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:  # noqa: ARG002
        """The overview, without importing any subcommand."""
        with formatter.section("Commands"):
            formatter.write_dl(list(SUBCOMMANDS.items()))


@click.group(
    cls=Subcommands,
    epilog='Example: restpoint study trials.csv --tolerance "0.02 mm" --html r.html',
)
def command() -> None:
    """Study how far measured values can be trusted.

    restpoint study FILE.csv does what restpoint study file FILE.csv does, with all its options. A
    file whose name is one of the words below is written as ./NAME.
    """
