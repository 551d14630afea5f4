"""restpoint study share: an observed share and its exact interval."""

import re
from dataclasses import asdict

import click

from daq.cli.options import json_option, print_json


@click.command(epilog="Example: restpoint study share 13/14 --confidence 0.9")
@click.argument("share", metavar="IN/ALL")
@click.option(
    "--confidence",
    type=click.FloatRange(0, 1, min_open=True, max_open=True),
    default=0.95,
    show_default=True,
    help="Of the interval.",
)
@json_option
def command(share: str, confidence: float, as_json: bool) -> int:
    """Say how sure an observed share is: IN of ALL were found within.

    The interval is exact: it holds the true share at least as often as it says.
    """
    from daq.calibration.study import binomial_interval

    counts = re.fullmatch(r"([0-9]{1,9})/([0-9]{1,9})", share)
    if counts is None:
        raise click.UsageError(f"{share!r} is no share; write how many of how many, such as 13/14")
    seen = binomial_interval(int(counts[1]), int(counts[2]), confidence)
    if as_json:
        print_json(**asdict(seen), observed=seen.observed)
    else:
        click.echo(
            f"{seen.successes} of {seen.trials}: {100 * seen.observed:.1f} %; exact "
            f"{100 * confidence:g} % interval {100 * seen.low:.2f} % to {100 * seen.high:.2f} %"
        )
    return 0
