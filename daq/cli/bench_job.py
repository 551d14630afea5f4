"""restpoint bench job: walk a fitter through a job sheet, on the terminal and on a page."""

from contextlib import ExitStack
from typing import TYPE_CHECKING, Any

import click

from daq.cli.bench_page import Page, page_options
from daq.cli.job_run import job_options, run_job
from daq.cli.taking_part import together

if TYPE_CHECKING:
    from daq.cli.job_commands import JobPart


@click.command(
    epilog="Example: restpoint bench job ferry.toml --logbook aux2.logbook --engine 'auxiliary 2' "
    "--variant '1500 rpm, standby' --operator 'R. Ahlers' --gauge rack=G-14 --gauge height=G-09"
)
@job_options
@page_options
def command(**asked: Any) -> int:
    """Walk through a job, step by step, on the terminal and on a page.

    All is as in restpoint job run, and whatever a key does there a button of the page does too.
    Without a terminal the end of the standard input does not stop the job; Ctrl-C does.

    docs/bench-page.md says how to reach the page from a tablet, and who may do what.
    """
    from daq.cli.job_commands import take_part

    page = Page(asked)

    def everybody(stack: ExitStack, labels: tuple[str, ...]) -> "JobPart":
        from daq.page.job_state import JobStates
        from daq.page.parts import JobPart

        def make(hub: Any) -> JobPart:
            return JobPart(hub, labels, JobStates().message)

        beside = page.beside(stack, asked["logbook_file"], make)
        own = take_part(stack, asked["operator"], ends_with_input=False)
        return together(page.told_of_trouble(own), beside)

    return run_job(asked, everybody)
