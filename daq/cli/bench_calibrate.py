"""restpoint bench calibrate: walk through a calibration, on the terminal and on a page."""

from contextlib import ExitStack
from typing import TYPE_CHECKING, Any

import click

from daq.cli.bench_page import Page, page_options
from daq.cli.calibrate import calibrate_options, run_calibration
from daq.cli.taking_part import together

if TYPE_CHECKING:
    from daq.cli.calibrate_commands import CalibrationPart


@click.command(
    epilog="Example: restpoint bench calibrate DI-7 --standard blocks-1 --logbook lab.logbook "
    "--operator 'M. Lind'"
)
@calibrate_options
@page_options
def command(**asked: Any) -> int:
    """Walk through the calibration of a gauge, on the terminal and on a page.

    All is as in restpoint calibrate, and whatever a key does there a button of the page does too;
    what is said of the certificate at the end is what was proposed, unless it is typed at the
    terminal. Without a terminal the end of the standard input does not stop it; Ctrl-C does.

    docs/bench-page.md says how to reach the page from a tablet, and who may do what.
    """
    from daq.cli.calibrate_commands import take_part

    page = Page(asked)

    def everybody(stack: ExitStack, label: str) -> "CalibrationPart":
        from daq.page.calibration_state import calibration_message
        from daq.page.parts import CalibrationPart

        def make(hub: Any) -> CalibrationPart:
            return CalibrationPart(hub, label, calibration_message)

        beside = page.beside(stack, asked["logbook_file"], make)
        own = take_part(stack, asked["operator"], ends_with_input=False)
        return together(page.told_of_trouble(own), beside)

    return run_calibration(asked, everybody)
