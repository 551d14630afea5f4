"""restpoint find: which serial adapters are plugged in."""

import click

from daq.cli.options import json_option, print_json


@click.command(epilog="Example: restpoint find")
@json_option
def command(as_json: bool) -> None:
    """List the serial adapters that are plugged in, by the identity that does not change.

    A port's name is given in the order of plugging in; the identity is the adapter's own. Put it
    into the gauges file. No port is opened.
    """
    from drivers.discovery import adapters

    found = adapters()
    for adapter in found:
        if as_json:
            print_json(
                port=adapter.port,
                identity=adapter.identity,
                description=adapter.description,
                follows_socket=adapter.follows_socket,
            )
            continue
        click.echo(
            f"{adapter.port:<16} {adapter.identity or 'no USB identity':<28} {adapter.description}"
        )
        if adapter.follows_socket:
            click.echo("    no serial number of its own: known by the socket it is plugged into")
    if not found and not as_json:
        click.echo(
            "No serial adapter is plugged in. Plug the gauge in and try again, "
            "or try without hardware: restpoint simulate steady"
        )
