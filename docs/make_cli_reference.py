"""Writes the commands' own help into ``docs/cli.md``, between the marks. Run by ``make docs``."""

import sys
from collections.abc import Iterator
from pathlib import Path

import click

from daq.cli import COMMANDS, restpoint

PAGE = Path(__file__).parent / "cli.md"
BEGIN, END = "<!-- help begins -->", "<!-- help ends -->"


def sections(command: click.Command, name: str, parent: click.Context | None) -> Iterator[str]:
    """A section for ``command`` and one for each of its subcommands."""
    context = click.Context(command, info_name=name, parent=parent, terminal_width=96)
    path = context.command_path
    yield f"## {path}\n\n```text\n{command.get_help(context).rstrip()}\n```\n"
    if isinstance(command, click.Group):
        for child in command.list_commands(context):
            found = command.get_command(context, child)
            assert found is not None
            yield from sections(found, child, context)


def reference() -> str:
    """All sections, in the order of the overview."""
    top = click.Context(restpoint, info_name="restpoint")
    parts: list[str] = []
    for name in COMMANDS:
        command = restpoint.get_command(top, name)
        assert command is not None
        parts += sections(command, name, top)
    return "\n".join(parts)


def page_with(text: str, page: str) -> str:
    """``page`` with what lies between the marks replaced by ``text``."""
    before, _, rest = page.partition(BEGIN)
    _, _, after = rest.partition(END)
    return f"{before}{BEGIN}\n\n{text}\n{END}{after}"


if __name__ == "__main__":
    PAGE.write_text(page_with(reference(), PAGE.read_text("utf-8")), "utf-8")
    print(f"{PAGE.name} written", file=sys.stderr)
