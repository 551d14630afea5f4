"""restpoint capture: the live indicator, keeping settled values in a logbook."""

from collections.abc import Callable
from pathlib import Path
from typing import Any, Literal, TypeVar

import click

from daq.cli.options import (
    bench_options,
    json_option,
)
from daq.cli.register_status import filled, register_option

F = TypeVar("F", bound=Callable[..., Any])


def capture_options(function: F) -> F:
    """What every run that captures takes."""
    for option in reversed(
        (
            click.option(
                "--logbook",
                "logbook_file",
                required=True,
                type=click.Path(dir_okay=False, path_type=Path),
                help="The logbook; it is begun if there is none.",
            ),
            click.option(
                "--when",
                type=click.Choice(["settled", "in limits", "key"]),
                default="settled",
                show_default=True,
                help="What is captured by itself: every rest, rests within the limits, or nothing.",
            ),
            click.option(
                "--count", type=click.IntRange(min=1), help="Stop after so many captures."
            ),
            click.option("--operator", default="", help="Who measures."),
            click.option(
                "--although",
                metavar="REASON",
                callback=filled,
                help="Why the gauge is used whatever the register says of it; kept with each "
                "capture.",
            ),
            register_option,
            bench_options,
        )
    ):
        function = option(function)
    return function


def require_somebody(although: str | None, operator: str) -> None:
    """Refuse a reason that nobody answers for.

    Raises:
        click.UsageError: there is a reason and no operator.
    """
    if although and not operator:
        raise click.UsageError("--although needs --operator: somebody has to answer for it.")


@click.command(
    epilog="Example: restpoint capture decimal-line@/dev/ttyUSB0 --logbook engine.logbook "
    '--nominal "76.20 mm" --limits "± 0.02 mm" --source "sheet 4, rev. B"'
)
@click.argument("gauge")
@capture_options
@json_option
def command(
    gauge: str,
    logbook_file: Path,
    when: Literal["settled", "in limits", "key"],
    count: int | None,
    operator: str,
    **options: Any,
) -> int:
    """Show a gauge live and keep settled values in a logbook.

    A value is captured when it comes to rest, by the gauge's own data key, or by the space bar or
    a foot switch that types one. It is refused, with the reason, while the part moves, when the
    reading is older than half a second, after a change of unit, and when the gauge reports a low
    battery or an error. "Captured" means: on the disk.

    Where the logbook, or --register, has a register of gauges, it says how the gauge stands. With
    one that is overdue, withdrawn, never calibrated or not in the register nothing is captured
    until somebody confirms it by the key c, or by --although; that is kept with each capture. From
    one of limited range no value outside it is taken.
    """
    from daq.cli.at_bench import run_bench
    from daq.logbook import Logbook

    require_somebody(options.get("although"), operator)
    with Logbook.open(logbook_file) as logbook:
        return run_bench(
            [gauge], options, when=when, logbook=logbook, count=count, operator=operator
        )
