"""restpoint watch: the live indicator."""

from pathlib import Path
from typing import Any

import click

from daq.cli.options import adjuster_options, gauges_option, json_option, spec_options


@click.command(
    epilog='Example: restpoint watch decimal-line@/dev/ttyUSB0 --nominal "76.20 mm" '
    '--limits "± 0.02 mm" --source "sheet 4, rev. B" --thread M10x1.5'
)
@click.argument("gauge")
@gauges_option
@spec_options
@adjuster_options
@click.option(
    "--trace",
    "trace_file",
    type=click.Path(dir_okay=False, path_type=Path),
    help="Keep the raw bytes with their times in this file.",
)
@click.option(
    "--for", "for_s", type=click.FloatRange(min=0.1), help="Stop by itself after so many seconds."
)
@json_option
def command(gauge: str, **options: Any) -> int:
    """Show a gauge live: the signed deviation, which way and how far to turn, and whether it rests.

    GAUGE is a label from the gauges file, or PROFILE@PORT. Nothing is kept; see restpoint capture.
    On a terminal it fills the screen (q quits); elsewhere it prints a line for each change.
    """
    from daq.cli.bench import run_bench

    return run_bench(gauge, options, when="never", logbook=None, count=None)
