"""restpoint bench: the work at the bench, on a page that tablets and other screens can open.

Each subcommand is a module that is imported when it is run.
"""

import importlib

import click

SUBCOMMANDS = {
    "live": "Show gauges live and keep settled values, as capture does.",
    "job": "Walk through a job, as job run does.",
    "calibrate": "Walk through a calibration, as calibrate does.",
}
"""Every subcommand with the line that the overview shows; its module is ``bench_<name>``."""


class Subcommands(click.Group):
    """The subcommands by name; a subcommand's module is imported on use."""

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002
        """The subcommands, the simplest first."""
        return list(SUBCOMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:  # noqa: ARG002
        """The subcommand itself, from its module."""
        if cmd_name not in SUBCOMMANDS:
            return None
        command: click.Command = importlib.import_module(f"daq.cli.bench_{cmd_name}").command
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:  # noqa: ARG002
        """The overview, without importing any subcommand."""
        with formatter.section("Commands"):
            formatter.write_dl(list(SUBCOMMANDS.items()))


@click.group(cls=Subcommands)
def command() -> None:
    """Work at the bench, with a page beside the terminal that tablets and other screens can open.

    The page shows what the terminal shows, and whoever has its address may press capture there. It
    is served to this machine alone unless --listen says otherwise.
    """
