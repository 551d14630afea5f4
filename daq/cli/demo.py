"""restpoint demo: a whole job on simulated gauges, from bytes to a report on a verified logbook."""

import importlib.util
import tempfile
import time
from contextlib import ExitStack
from pathlib import Path
from typing import TYPE_CHECKING

import click

from daq.cli.options import print_json, program

if TYPE_CHECKING:
    from daq.cli.demo_job import Watching
    from daq.cli.demo_outcome import Outcome
    from daq.logbook.proof import Report

SPEED = 30.0
"""Seconds of the job in one second of real time, unless somebody watches it live."""

MOST_S = 3000.0
"""Seconds of the job's time after which nobody waits for its end any longer."""


@click.command(epilog="Example: restpoint demo --live")
@click.option("--live", is_flag=True, help="On the live screen, at real speed.")
@click.option("--one-gauge", is_flag=True, help="Four lengths with one gauge at a time; no job.")
@click.option("--calibration", is_flag=True, help="The calibration of a gauge instead of a job.")
@click.option(
    "--speed",
    type=click.FloatRange(min=0.5, max=40),
    help=f"How many times faster than real a job runs.  [default: {SPEED:g}, live 1]",
)
@click.option(
    "--logbook",
    "logbook_file",
    type=click.Path(dir_okay=False, path_type=Path),
    help="Where it is kept; the report goes beside it. Without it, demo.logbook in the temporary "
    "folder.",
)
@click.option("--seed", default=1, show_default=True, help="Of the simulated engine and hand.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON, one object a line.")
def command(
    live: bool,
    one_gauge: bool,
    calibration: bool,
    speed: float | None,
    logbook_file: Path | None,
    seed: int,
    as_json: bool,
) -> int:
    """Run a whole job on a simulated engine: no hardware needed.

    Gauges are put on real pseudo-terminals (on Windows on TCP). A simulated fitter works through a
    job sheet: measures, adjusts, locks, makes mistakes, and has them caught. All is kept in a
    logbook, which is verified at the end, and a report is made from it. All figures are invented.

    The exit status is 0 if everything was left as was to be expected, every mistake was caught and
    the logbook is intact.
    """
    path = logbook_file or Path(tempfile.mkdtemp(prefix="restpoint-")) / "demo.logbook"
    if one_gauge:
        from daq.cli import demo_one_gauge

        return demo_one_gauge.run(path, live, seed, as_json)
    if calibration:
        from daq.cli import demo_calibration

        return demo_calibration.run(path, live, speed or (1.0 if live else SPEED), seed, as_json)
    if _html_of(path).exists():
        raise click.UsageError(f"{_html_of(path)} is there already. Give another --logbook.")
    return _run_job(path, live, speed or (1.0 if live else SPEED), seed, as_json)


def _run_job(path: Path, live: bool, speed: float, seed: int, as_json: bool) -> int:
    from daq.cli.demo_job import run_story
    from daq.cli.demo_story import demo_story
    from daq.logbook import verify

    with ExitStack() as stack:
        watching = _watching(stack, live, speed, as_json)
        outcome = run_story(path, demo_story(), watching, seed=seed, speed=speed)
    checked = verify(path)
    files = _report(path, outcome) if outcome.job.ended and checked.intact else []
    if as_json:
        print_json(
            captured=len(outcome.kept.captures),
            caught=outcome.caught(),
            problems=outcome.problems(),
            records=checked.records,
            intact=checked.intact,
            logbook=str(path),
            report=[str(each) for each in files],
        )
    else:
        _say_goodbye(outcome, path, checked, files)
    is_caught = all(outcome.caught().values())
    return 0 if checked.intact and is_caught and not outcome.problems() else 3


def _watching(stack: ExitStack, live: bool, speed: float, as_json: bool) -> "Watching":
    """What is seen of the job: the live screen, or each step as it is done."""
    from daq.cli.demo_job import Watching
    from daq.cli.demo_outcome import step_facts, step_words

    if live and not as_json:
        return _watching_live(stack)
    if not as_json:
        click.echo(
            "A simulated fitter sets up an invented engine, "
            f"{speed:g} times as fast as real. Deviations from nominal:"
        )
    end_s = time.monotonic() + MOST_S / speed
    return Watching(
        tell=(lambda step: print_json(**step_facts(step)))
        if as_json
        else (lambda step: print(step_words(step), flush=True)),
        stop=lambda: time.monotonic() > end_s,
    )


def _watching_live(stack: ExitStack) -> "Watching":
    """The job's own screen and keys; plain lines where there is no terminal."""

    from daq.cli.demo_job import Watching
    from daq.cli.job_commands import AtTerminal, plain_tasks
    from daq.cli.taking_part import is_at_terminal

    if not is_at_terminal():
        return Watching(show=plain_tasks())
    person = AtTerminal("demo")
    stack.callback(person.leave)
    person.enter()
    # Neither a bell for each task nor single keys but q: the fitter works, the person looks on.
    return Watching(
        show=lambda view, _: person.show(view, time.monotonic()),
        commands=lambda: [each for each in person.commands() if each.kind == "quit"],
    )


def _report(path: Path, outcome: "Outcome") -> list[Path]:
    """Make the report beside the logbook; the files."""
    from daq.logbook import Logbook
    from daq.report import facts_of, report_of
    from daq.report.files import write_new
    from daq.report.html import html_of
    from daq.report.pdf import pdf_of

    with Logbook.read(path) as book:
        facts = facts_of(book.entries(), book.id, outcome.kept.begun.uid)
    zone = facts.begun.at.astimezone().tzinfo
    assert zone is not None  # astimezone gives one
    report = report_of(facts.standing, facts, zone)
    contents = {_html_of(path): html_of(report).encode()}
    if importlib.util.find_spec("typst") is not None:  # it comes with restpoint[pdf]
        contents[path.with_suffix(".pdf")] = pdf_of(report)
    write_new(contents)
    return [*contents]


def _html_of(path: Path) -> Path:
    """Where the report of a logbook goes."""
    return path.with_suffix(".html")


def _say_what_came_of_it(outcome: "Outcome") -> None:
    targets = outcome.targets
    excused = sum(each.exception is not None for each in targets)
    off_mm = max((abs(off) for off in outcome.off_truth_mm().values()), default=0.0)
    click.echo(
        f"{sum(each.passes for each in targets)} of {len(targets)} left within their limits, "
        f"{excused} skipped or overruled with a reason; {len(outcome.kept.captures)} values "
        "captured."
    )
    click.echo(f"Nothing that was left is further than {off_mm:.4f} mm from the truth.")
    click.echo("Caught on the way:")
    for what, count in outcome.caught().items():
        click.echo(f"  {count:2} {what}")


def _say_goodbye(outcome: "Outcome", path: Path, checked: "Report", files: list[Path]) -> None:
    click.echo("")
    if outcome.job.ended is not None:
        _say_what_came_of_it(outcome)
    for problem in outcome.problems():
        click.echo(f"NOT as expected: {problem}")
    state = "intact" if checked.intact else "NOT intact"
    last_hash = (checked.last_hash or "")[:16]
    click.echo(f"The logbook {path} is {state}: {checked.records} records, last hash {last_hash}…")
    for file in files:
        click.echo(f"The report: {file}")
    click.echo("Look at it:")
    for line in (
        f"log show {path}",
        f"log verify {path}",
        f"job report {path} --csv FOLDER",
        "demo --live              (slowly, on a terminal)",
        "demo --one-gauge --live  (four lengths, one gauge at a time)",
    ):
        click.echo(f"  {program()} {line}")
