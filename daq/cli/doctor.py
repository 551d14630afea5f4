"""restpoint doctor: what on this machine stands in the way of gauges, and the exact fix."""

import getpass
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from daq.cli.options import json_option, print_json

if TYPE_CHECKING:
    from daq.doctor.finding import Finding
    from daq.doctor.port_facts import PortFacts


@click.command(epilog="Example: restpoint doctor --logbook engine.logbook")
@click.argument("ports", nargs=-1)
@click.option(
    "--logbook",
    type=click.Path(dir_okay=False, path_type=Path),
    help="A logbook: its disk and its newest record are looked at. Else: this folder's disk.",
)
@click.option("--rules", is_flag=True, help="Print udev rules for the adapters, nothing else.")
@json_option
def command(ports: tuple[str, ...], logbook: Path | None, rules: bool, as_json: bool) -> int:
    """Look at ports, services, disk, clock, screen and sound, and say what to do.

    PORTS are device files; without any, all serial adapters that are plugged in. Nothing is opened
    and nothing is changed. The exit status is 1 if something stands in the way.
    """
    facts = _facts(ports)
    if rules:
        from daq.doctor.ports import rules_for

        click.echo(rules_for(facts), nl=False)
        return 0 if any(each.vendor for each in facts) else 1
    findings = [*_of_ports(facts), *_of_machine(logbook)]
    for each in findings:
        if as_json:
            print_json(about=each.about, state=each.state, says=each.says, fix=list(each.fix))
        else:
            click.echo(f"{each.state:<6}{each.about:<14} {each.says}")
            for step in each.fix:
                click.echo(f"{'':<20} → {step}")
    return 1 if any(each.state == "fault" for each in findings) else 0


def _facts(ports: tuple[str, ...]) -> "list[PortFacts]":
    from daq.doctor.port_facts import PortFacts, port_facts
    from drivers.discovery import adapters

    plugged = {each.port: each.identity for each in adapters()}
    asked = {port: plugged.get(port, "") for port in ports} or {
        port: identity for port, identity in plugged.items() if identity
    }
    if sys.platform.startswith("linux"):
        user = getpass.getuser()
        return [port_facts(port, identity, user=user) for port, identity in asked.items()]
    return [PortFacts(port, identity) for port, identity in asked.items()]


def _of_ports(facts: "list[PortFacts]") -> "list[Finding]":
    from daq.doctor.port_facts import driverless, grabbers
    from daq.doctor.ports import judge_absence, judge_port, judge_services

    found = [finding for each in facts for finding in judge_port(each)]
    if not facts:
        found += judge_absence(driverless())
    return [*found, *judge_services(grabbers(), facts)]


def _of_machine(logbook: Path | None) -> "list[Finding]":
    from daq.doctor import machine_facts as of
    from daq.doctor.machine import (
        judge_clock,
        judge_disk,
        judge_packages,
        judge_screen,
        judge_sound,
    )

    newest = of.newest_record_at(logbook) if logbook is not None and logbook.exists() else None
    folder = Path.cwd() if logbook is None else logbook.absolute().parent
    return [
        judge_disk(of.disk_facts(folder)),
        judge_clock(of.now(), of.is_synchronised(), newest),
        judge_screen(of.screen_facts()),
        judge_sound(of.sound_cards()),
        *judge_packages(of.shadowing()),
    ]
