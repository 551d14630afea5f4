"""restpoint read: one settled value for scripts."""

from pathlib import Path
from typing import Any

import click

from daq.cli.options import (
    gauge_from,
    gauges_option,
    json_option,
    print_json,
    spec_options,
    wanted_from,
)
from daq.cli.register_status import register_option


@click.command(epilog="Example: restpoint read decimal-line@/dev/ttyUSB0 --within 10")
@click.argument("gauge")
@gauges_option
@spec_options
@click.option(
    "--within",
    "within_s",
    type=click.FloatRange(0.1, 3600),
    default=10.0,
    show_default=True,
    help="Seconds to wait for rest.",
)
@register_option
@json_option
def command(
    gauge: str,
    gauges_file: Path | None,
    within_s: float,
    register_file: Path | None,
    as_json: bool,
    **options: Any,
) -> int:
    """Print one settled value with its standard uncertainty (k = 1).

    GAUGE is a label from the gauges file, or PROFILE@PORT. The exit status is 0, or 1 if there is
    a specification and the verdict is not "in", or 3 if no value came that can be trusted. How the
    gauge stands by its calibration is said beside the value, if it is not simply in date.
    """
    from daq.cli.register_status import asking, facts_of
    from daq.measure.errors import NoValueError
    from daq.measure.gauges import identity_now
    from daq.measure.reading import read_once

    wanted = wanted_from(options)
    named = gauge_from(gauge, gauges_file)
    ask = asking(named.label, register_file)
    captured = read_once(named, wanted.spec, wanted.rule, within_s)
    status = ask(identity_now(named))
    if status is not None and (why := status.why_not_at(captured.rest.value_mm)):
        raise NoValueError(f"{named.label}: {why}.")
    rest = captured.rest
    verdict = rest.verdict
    if as_json:
        print_json(
            gauge=named.label,
            value_mm=rest.value_mm,
            u_mm=rest.u_mm,
            n=rest.n,
            since_s=rest.since_s,
            until_s=rest.until_s,
            rest_seen=captured.rest_seen,
            deviation_mm=None if verdict is None else float(verdict.deviation_mm),
            outcome=None if verdict is None else verdict.outcome.value,
            calibration=facts_of(status),
        )
    else:
        line = f"{rest.value_mm:.6f} mm  u = {rest.u_mm:.6f} mm  n = {rest.n}"
        if not captured.rest_seen:
            line += "  (one reading; whether the part was at rest is not known)"
        if verdict is not None:
            line += f"  deviation {float(verdict.deviation_mm):+.6f} mm: {verdict.outcome.value}"
        click.echo(line)
    if status is not None and status.standing != "in date":
        click.echo(status.words, err=True)
    return 1 if verdict is not None and verdict.outcome.value != "in" else 0
