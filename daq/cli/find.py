"""restpoint find: which serial adapters are plugged in, and which of them is the gauge in hand."""

import click

from daq.cli.options import json_option, print_json


@click.command(epilog="Example: restpoint find --moved decimal-line")
@click.argument("ports", nargs=-1)
@click.option(
    "--moved",
    metavar="PROFILE",
    help="Say at which port a plunger is moved; the gauges are of this profile.",
)
@click.option(
    "--for",
    "within_s",
    type=click.FloatRange(1, 600),
    default=60.0,
    show_default=True,
    help="With --moved: give up after so many seconds.",
)
@json_option
def command(ports: tuple[str, ...], moved: str | None, within_s: float, as_json: bool) -> int:
    """List the serial adapters that are plugged in, by the identity that does not change.

    A port's name is given in the order of plugging in; the identity is the adapter's own. Put it
    into the gauges file. No port is opened.

    Of adapters that look alike, --moved finds the one you mean: it reads the gauges at PORTS, or at
    all adapters, and names the one whose plunger is moved, if it is the only one.
    """
    from drivers.discovery import adapters

    found = adapters()
    if moved is not None:
        chosen = ports or tuple(each.port for each in found if each.identity)
        return _say_moved(moved, chosen, within_s, as_json)
    if ports:
        raise click.UsageError("PORTS are for --moved; without it all adapters are listed.")
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
    return 0


def _say_moved(profile_name: str, ports: tuple[str, ...], within_s: float, as_json: bool) -> int:
    from daq.measure.gauges import Gauge
    from daq.measure.moving import find_moved
    from daq.measure.station import Station
    from drivers.profiles import load_profile

    if not ports:
        raise click.UsageError("No adapter is plugged in. Plug the gauges in and try again.")
    profile = load_profile(profile_name)
    with Station([Gauge(port, profile, port) for port in ports]) as station:
        click.echo(f"Move the plunger of the one you mean ({len(ports)} are read).", err=True)
        port, why = find_moved(station, ports, station.clock() + within_s)
        if port is None:
            click.echo(why, err=True)
            return 1
        identity = station.identity(port)
    if as_json:
        print_json(port=port, identity=identity)
    else:
        click.echo(f"{port}  {identity or 'no USB identity'}")
    return 0
