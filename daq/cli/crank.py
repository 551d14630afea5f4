"""restpoint crank: where to bar the crank to, in which order, and what to set there."""

import difflib
from pathlib import Path
from typing import TYPE_CHECKING

import click

from daq.cli.options import json_option, print_json

if TYPE_CHECKING:
    from daq.jobs import Engine, Kind, Plan, Position

KINDS: "dict[str, tuple[Kind, ...]]" = {
    "valves": ("intake", "exhaust"),
    "intake": ("intake",),
    "exhaust": ("exhaust",),
    "injectors": ("injector",),
}
"""By word of the command line: what is to be set."""


@click.command(epilog='Example: restpoint crank engine.toml --from "cylinder 3 at firing TDC"')
@click.argument("sheet", type=click.Path(dir_okay=False, path_type=Path))
@click.option(
    "--kinds",
    "wanted",
    metavar="LIST",
    default="valves",
    show_default=True,
    help="What is to be set, with commas between: valves, intake, exhaust, injectors.",
)
@click.option(
    "--from",
    "stands",
    metavar="POSITION",
    help='Where the crank stands now: "cylinder 3 at firing TDC", "cylinder 3 30° before firing '
    'TDC".',
)
@click.option(
    "--own-tdc", is_flag=True, help="Set each cylinder at its own firing TDC, whatever the engine."
)
@json_option
def command(sheet: Path, wanted: str, stands: str | None, own_tdc: bool, as_json: bool) -> int:
    """Print the crank plan of an engine: the fewest degrees of barring, in running direction.

    SHEET is a job sheet, or a file that holds an engine only; docs/crank.md says how to write an
    engine down, and how the plan is made.
    """
    from daq.jobs import Method, plan
    from daq.jobs.sheet import engine_in

    kinds = _kinds(wanted)
    engine = engine_in(sheet)
    start = None if stands is None else _position(stands, engine)
    made = plan(engine, kinds, start=start, method=Method.OWN_TDC if own_tdc else None)
    if as_json:
        _print_facts(made)
    else:
        _print_words(made)
    return 0


def _kinds(wanted: str) -> "list[Kind]":
    """What the words name.

    Raises:
        click.UsageError: one of them names nothing.
    """
    words = [word.strip() for word in wanted.split(",")]
    for word in words:
        if word not in KINDS:
            near = difflib.get_close_matches(word, KINDS, n=1)
            known = f"did you mean {near[0]}?" if near else f"write some of: {', '.join(KINDS)}"
            raise click.UsageError(f"--kinds: there is no {word!r}; {known}")
    return [kind for word in words for kind in KINDS[word]]


def _position(words: str, engine: "Engine") -> "Position":
    """Where the crank stands.

    Raises:
        click.UsageError: the words name no position of this engine.
    """
    from daq.jobs import EngineError
    from daq.jobs.sheet import crank_position

    try:
        return crank_position(words, engine)
    except EngineError as error:
        raise click.UsageError(f"--from: {error}") from error


def _print_facts(made: "Plan") -> None:
    for step in made.steps:
        print_json(
            position=str(step.position),
            crank_deg=float(step.position.crank_deg),
            bar_deg=None if step.bar_deg is None else float(step.bar_deg),
            words=step.words,
            sets=[str(item) for item in step.items],
            tell=step.tell,
        )
    print_json(
        method=made.method,
        running_direction=made.running_direction,
        total_deg=float(made.total_deg),
        notes=list(made.notes),
        cautions=list(made.cautions),
    )


def _print_words(made: "Plan") -> None:
    from daq.jobs import degrees_words

    count = len(made.steps)
    click.echo(
        f"{count} {'position' if count == 1 else 'positions'}, {degrees_words(made.total_deg)} of "
        f"barring, by {made.method}."
    )
    click.echo(f"The engine runs {made.running_direction}.\n")
    click.echo("Before barring")
    for caution in made.cautions:
        click.echo(f"  {caution}")
    for number, step in enumerate(made.steps, 1):
        click.echo(f"\n{number:>2}  {step.words}")
        click.echo(f"    set: {step.sets}")
        if step.tell:
            click.echo(f"    to tell: {step.tell}")
    if made.notes:
        click.echo("\nNotes")
        for note in made.notes:
            click.echo(f"  {note}")
