"""restpoint job check: is a job sheet sound?"""

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import click

from daq.cli.options import json_option, print_json

if TYPE_CHECKING:
    from daq.jobs.sheet import PlannedStep, Sheet


@click.command(epilog="Example: restpoint job check engine.toml")
@click.argument("sheet", type=click.Path(dir_okay=False, path_type=Path))
@json_option
def command(sheet: Path, as_json: bool) -> int:
    """Find every mistake on a job sheet at once, by file and line.

    SHEET is a TOML file; docs/job-sheets.md says how to write one. A sound sheet is summed up: its
    variants, its steps in the order of doing, the gauges they need. The exit status is 0 if it is
    sound and 1 if it is not.
    """
    from daq.jobs.sheet import NoSheetError, SheetError, load_sheet

    try:
        sound = load_sheet(sheet)
    except NoSheetError:
        raise
    except SheetError as error:
        for problem in error.problems:
            if as_json:
                print_json(problem=problem)
            else:
                click.echo(problem, err=True)
        return 1
    if as_json:
        _print_facts(sound)
    else:
        _print_words(sound)
    return 0


def _print_facts(sheet: "Sheet") -> None:
    from daq.jobs.sheet import remarks_on

    planned = sheet.for_variant(sheet.variants[0].name)
    print_json(
        title=sheet.title,
        revision=sheet.revision,
        fingerprint=sheet.fingerprint,
        rule=str(sheet.rule),
        variants={variant.name: variant.plate for variant in sheet.variants},
        gauges={
            role.role: {
                "kind": role.kind,
                "resolution_mm": str(role.resolution.mm),
                "range_mm": str(role.range.mm),
                "u_mm": str(role.u.mm),
                "correct": role.correct,
            }
            for role in sheet.gauges
        },
        steps=[
            {"name": each.name, "targets": [target.name for target in each.targets]}
            for each in planned
        ],
        remarks=list(remarks_on(sheet)),
    )


def _print_words(sheet: "Sheet") -> None:
    from daq.jobs.sheet import remarks_on

    planned = sheet.for_variant(sheet.variants[0].name)
    lengths = sum(len(each.targets) for each in planned)
    used = {each.role.role: each.role for each in planned}
    click.echo(
        f"{sheet.name} is sound: {_count(len(planned), 'step')}, {_count(lengths, 'length')} to "
        f"measure or set on this engine, gauges needed: {', '.join(used)}."
    )
    click.echo(f"{sheet.title}, revision {sheet.revision}. Decision rule: {sheet.rule}.")
    click.echo("\nThe engine's plate must say, for")
    for variant in sheet.variants:
        click.echo(f"  {variant.name}: {variant.plate}")
    click.echo("\nSteps, in the order of doing")
    for number, each in enumerate(planned, 1):
        for line in _step_lines(each, sheet):
            click.echo(f"  {number:>2}  {line}" if line[0] != " " else f"    {line}")
    click.echo("\nGauges")
    for role in used.values():
        click.echo(
            f"  {role.role}: {role.kind}, display step {role.resolution} or finer, "
            f"{'range' if role.is_comparator else 'depth'} {role.range} or more, u {role.u} or less"
            f"{', corrected by its calibration' if role.correct else ''}"
        )
    remarks = remarks_on(sheet)
    if remarks:
        click.echo("\nRemarks")
        for remark in remarks:
            click.echo(f"  {remark}")


def _step_lines(planned: "PlannedStep", sheet: "Sheet") -> Iterator[str]:
    """A step in one line, and a line for each variant where its figures differ."""
    step, count = planned.step, len(planned.targets)
    on = planned.targets[0].words if count == 1 else f"{count} {step.for_each}s"
    names = [variant.name for variant in sheet.variants]
    figures = [f"{step.nominal_for(name)} {step.limits_for(name)}" for name in names]
    own = f", {figures[0]}" if not step.by_variant else ""
    yield f"{planned.name}: {on}{own}; gauge {planned.role.role}; crank {step.crank}"
    if step.by_variant:
        yield from (f"  {name}: {each}" for name, each in zip(names, figures, strict=True))


def _count(number: int, thing: str) -> str:
    return f"{number} {thing}{'' if number == 1 else 's'}"
