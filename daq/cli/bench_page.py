"""The page beside the terminal: its options, how it is opened, and how people are told of it."""

import sys
import time
from collections.abc import Callable
from contextlib import ExitStack
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from daq.cli.taking_part import Part, is_at_terminal, with_notice

if TYPE_CHECKING:
    from daq.page.hub import Hub
    from daq.page.parts import PagePart
    from daq.page.server import PageServer, Served

F = TypeVar("F", bound=Callable[..., Any])
View = TypeVar("View")
Command = TypeVar("Command")
Told = TypeVar("Told")

_FILE = click.Path(exists=True, dir_okay=False, path_type=Path)

PAGE_OPTIONS = ("listen", "hosts", "viewers", "tls_cert", "tls_key")


def page_options(function: F) -> F:
    """Where the page is served, and to whom."""
    for option in reversed(
        (
            click.option(
                "--listen",
                metavar="HOST[:PORT]",
                default="127.0.0.1:8420",
                show_default=True,
                help="Where the page is served; an address of this machine lets others in.",
            ),
            click.option(
                "--host",
                "hosts",
                metavar="NAME",
                multiple=True,
                help="A name that the page answers under besides; may be given again.",
            ),
            click.option("--viewers", is_flag=True, help="Make a second token, to look on only."),
            click.option("--tls-cert", type=_FILE, help="The certificate (PEM), to serve by TLS."),
            click.option("--tls-key", type=_FILE, help="Its private key (PEM)."),
        )
    ):
        function = option(function)
    return function


class Page:
    """The page of one work, opened beside its terminal.

    Args:
        options: those of ``page_options``; they are taken out, the work knows nothing of them.

    Raises:
        click.UsageError: the options contradict each other, or the extra is not installed.
        PageError: an option cannot be used as it is.
    """

    def __init__(self, options: dict[str, Any]) -> None:
        self._served = _served({name: options.pop(name) for name in PAGE_OPTIONS})

    def beside(
        self,
        stack: ExitStack,
        logbook_file: Path,
        make: "Callable[[Hub], PagePart[Any, Any]]",
    ) -> "Part[Any, Any, Any]":
        """Open the page and say where it is.

        Args:
            stack: closes the page.
            logbook_file: the logbook that its pages read.
            make: makes what takes part, given the hub.

        Raises:
            PageError: it cannot be served there.
        """
        from daq.page.hub import Hub
        from daq.page.server import PageServer
        from daq.page.sources import sources_of

        hub = Hub()
        self._part = make(hub)
        sources = sources_of(logbook_file, self._part.engine)
        self._server = stack.enter_context(PageServer(hub, self._served, sources))
        stack.callback(self._say_trouble)
        announce(self._server)
        _await_somebody(hub)
        return Part(self._part.show, self._part.commands, self._part.told, self._part.due)

    @property
    def trouble(self) -> str:
        """What is wrong with the page; empty while all is well."""
        return self._part.trouble or self._server.trouble

    def told_of_trouble(self, part: "Part[View, Command, Told]") -> "Part[View, Command, Told]":
        """Whoever sits at the terminal, told there when the page is not served any more."""
        return with_notice(part, lambda: self.trouble)

    def _say_trouble(self) -> None:
        if self.trouble:
            click.echo(f"restpoint: {self.trouble}", err=True)


def _served(options: dict[str, Any]) -> "Served":
    try:
        from daq.page.door import Tokens, checked_certificate, listen_from
        from daq.page.server import Served
    except ImportError as error:
        raise click.UsageError(
            "The bench page needs the extra bench, and it is not installed. Install "
            "restpoint[bench], or work without the page: restpoint capture, job run, calibrate."
        ) from error
    cert, key = options["tls_cert"], options["tls_key"]
    if (cert is None) != (key is None):
        raise click.UsageError("Give --tls-cert and --tls-key, both or none.")
    if cert is not None:
        for note in checked_certificate(cert, key).notes:
            click.echo(note, err=True)
    return Served(
        listen=listen_from(options["listen"]),
        tokens=Tokens.made(viewers=options["viewers"]),
        hosts=options["hosts"],
        certificate=None if cert is None else (cert, key),
    )


def announce(server: "PageServer") -> None:
    """Say where the page is, to whoever started it; the output itself stays free of it."""
    click.echo("The bench page; whoever has this address may capture:", err=True)
    for address in server.ways_in():
        click.echo(f"  {address}", err=True)
    if server.ways_to_look():
        click.echo("To look on only:", err=True)
    for address in server.ways_to_look():
        click.echo(f"  {address}", err=True)
    if server.listen.is_loopback:
        return
    if not server.is_encrypted:
        click.echo(
            "It is not encrypted: who can listen in this network can take the address over. "
            "--tls-cert and --tls-key change that.",
            err=True,
        )
    if sys.stderr.isatty():
        for line in _code(server.ways_in()[0]):
            click.echo(line, err=True)


def _code(address: str) -> list[str]:
    """The address as a square code, black on white."""
    from daq.page.door import can_print_halves, code_lines

    lines = code_lines(address, halves=can_print_halves(sys.stderr.encoding))
    return [click.style(line, fg="black", bg="bright_white") for line in lines]


def _await_somebody(hub: "Hub") -> None:
    """Leave the address on the terminal until a screen has come, or a key is pressed."""
    if not is_at_terminal():
        return
    from daq.screen.keys import Keys

    with Keys() as keys:
        click.echo("Open it, or press the space bar to begin without.", err=True)
        while not hub.screens:
            pressed = keys.pressed(time.monotonic())
            if "quit" in pressed:
                raise click.Abort
            if pressed:
                return
            time.sleep(0.05)
