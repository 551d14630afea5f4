"""restpoint watch: the live indicator."""

from typing import Any

import click

from daq.cli.options import (
    bench_options,
    json_option,
)
from daq.cli.register_status import register_option


@click.command(
    epilog='Example: restpoint watch decimal-line@/dev/ttyUSB0 --nominal "76.20 mm" '
    '--limits "± 0.02 mm" --source "sheet 4, rev. B" --thread M10x1.5'
)
@click.argument("gauge")
@bench_options
@register_option
@json_option
def command(gauge: str, **options: Any) -> int:
    """Show a gauge live: the signed deviation, which way and how far to turn, and whether it rests.

    GAUGE is a label from the gauges file, or PROFILE@PORT. Nothing is kept; see restpoint capture.
    On a terminal it fills the screen (q quits); elsewhere it prints a line for each change.
    """
    from daq.cli.at_bench import run_bench

    return run_bench([gauge], options, when="never", logbook=None, count=None)
