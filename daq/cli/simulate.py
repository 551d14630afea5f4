"""restpoint simulate: gauges that are not there, for anybody to try."""

import sys
import time
from pathlib import Path

import click

from daq.cli.options import json_option, print_json, program


@click.command(epilog="Example: restpoint simulate steady --for 60")
@click.argument("scenario", default="steady")
@click.option("--tcp", is_flag=True, help="Serve on TCP (socket://), as on Windows.")
@click.option(
    "--folder",
    type=click.Path(file_okay=False, path_type=Path),
    help="Where the ports' names lie. Without it, a temporary folder.",
)
@click.option(
    "--for", "for_s", type=click.FloatRange(min=0.1), help="Stop by itself after so many seconds."
)
@click.option("--list", "only_list", is_flag=True, help="List the scenarios there are.")
@json_option
def command(
    scenario: str,
    tcp: bool,
    folder: Path | None,
    for_s: float | None,
    only_list: bool,
    as_json: bool,
) -> None:
    """Put simulated gauges on pseudo-terminals or TCP, and print what to open.

    SCENARIO is a scenario's name or the path of a file that ends in .toml. The gauges run until
    Ctrl-C, or as long as --for says.
    """
    from simulated_devices.scenario import bench_of, load_scenario, scenario_names

    if only_list:
        for name in scenario_names():
            title = load_scenario(name).title
            if as_json:
                print_json(scenario=name, title=title)
            else:
                click.echo(f"{name:<14} {title}")
        return
    chosen = load_scenario(scenario)
    profiles = {form.name: form.profile for form in chosen.gauges}
    on_tcp = tcp or sys.platform == "win32"
    with bench_of(chosen, "tcp" if on_tcp else "pty", folder) as bench:
        if not as_json:
            click.echo(f"{chosen.title}.")
        for name, port in bench.ports.items():
            if as_json:
                print_json(gauge=name, profile=profiles[name], port=port)
            else:
                click.echo(f"  {program()} watch {profiles[name]}@{port}")
        sys.stdout.flush()
        _wait(for_s)


def _wait(for_s: float | None) -> None:
    """Until the time is over or somebody has had enough."""
    end_s = None if for_s is None else time.monotonic() + for_s
    try:
        while end_s is None or time.monotonic() < end_s:
            time.sleep(0.1)
    except KeyboardInterrupt:
        click.echo("")
