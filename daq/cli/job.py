"""restpoint job: a whole job on an engine, from its sheet.

Each subcommand is a module that is imported when it is run.
"""

import importlib

import click

SUBCOMMANDS = {
    "check": "Find every mistake on a job sheet at once, by file and line.",
    "run": "Walk through a job, and keep what was found and what was left.",
    "report": "Report on a job as HTML, PDF, CSV or JSON.",
}
"""Every subcommand with the line that the overview shows; its module is ``job_<name>``."""


class Subcommands(click.Group):
    """The subcommands by name; a subcommand's module is imported on use."""

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002
        """The subcommands in the order of a job."""
        return list(SUBCOMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:  # noqa: ARG002
        """The subcommand itself, from its module."""
        if cmd_name not in SUBCOMMANDS:
            return None
        command: click.Command = importlib.import_module(f"daq.cli.job_{cmd_name}").command
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:  # noqa: ARG002
        """The overview, without importing any subcommand."""
        with formatter.section("Commands"):
            formatter.write_dl(list(SUBCOMMANDS.items()))


@click.group(cls=Subcommands)
def command() -> None:
    """Do a whole job on an engine, from its job sheet."""
