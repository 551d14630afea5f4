"""restpoint bench live: the live indicator with its page, keeping settled values."""

from contextlib import ExitStack
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import click

from daq.cli.bench_page import Page, page_options
from daq.cli.capture import capture_options, require_somebody
from daq.cli.options import json_option
from daq.cli.taking_part import Part

if TYPE_CHECKING:
    from daq.screen.choosing import Choosing


@click.command(
    epilog="Example: restpoint bench live decimal-line@/dev/ttyUSB0 --logbook engine.logbook "
    '--nominal "76.20 mm" --limits "± 0.02 mm" --source "sheet 4, rev. B"'
)
@click.argument("gauges", metavar="GAUGE...", nargs=-1, required=True)
@capture_options
@page_options
@json_option
def command(
    gauges: tuple[str, ...],
    logbook_file: Path,
    when: Literal["settled", "in limits", "key"],
    count: int | None,
    operator: str,
    **options: Any,
) -> int:
    """Show gauges live, on the terminal and on a page, and keep settled values in a logbook.

    GAUGE is a label from the gauges file, or PROFILE@PORT. Of several gauges one is shown and
    captured with; n on the terminal, or the list on the page, shows another. All else is as in
    restpoint capture.

    docs/bench-page.md says how to reach the page from a tablet, and who may do what.
    """
    from daq.cli.at_bench import run_bench
    from daq.logbook import Logbook

    require_somebody(options.get("although"), operator)
    page = Page(options)

    def beside(stack: ExitStack, choosing: "Choosing") -> "Part[Any, Any, Any]":
        from daq.page.parts import LivePart

        return page.beside(stack, logbook_file, lambda hub: LivePart(hub, choosing))

    with Logbook.open(logbook_file) as logbook:
        return run_bench(
            gauges,
            options,
            when=when,
            logbook=logbook,
            count=count,
            operator=operator,
            beside=beside,
            seen=page.told_of_trouble,
        )
