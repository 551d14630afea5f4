"""What is no mistake on a sheet and yet worth a word before the job."""

from collections.abc import Iterator
from decimal import Decimal

from daq.jobs.crank import plan
from daq.jobs.sheet.sheet import PlannedStep, Sheet
from daq.jobs.sheet.targets import KINDS_OF

FEW_STEPS = 10
"""Limits nearer together than so many display steps are worth a word. Common practice."""


def remarks_on(sheet: Sheet) -> tuple[str, ...]:
    """Remarks on a sound sheet, each once: what is unused or tight, what a plan relies on."""
    return tuple(dict.fromkeys((*_unused(sheet), *_tight(sheet), *_plan_notes(sheet))))


def _unused(sheet: Sheet) -> Iterator[str]:
    roles = {step.gauge for step in sheet.steps}
    for role in sheet.gauges:
        if role.role not in roles:
            yield f'No step uses the gauge "{role.role}".'
    cited = {
        step.source_for(variant.name).partition(",")[0].strip()
        for step in sheet.steps
        for variant in sheet.variants
    }
    for source in sheet.sources:
        if source.id not in cited:
            yield f'No step has a figure from the source "{source.id}".'


def _tight(sheet: Sheet) -> Iterator[str]:
    for variant in sheet.variants:
        for planned in sheet.for_variant(variant.name):
            width_mm = planned.spec.width_mm
            if width_mm is not None and planned.step.recipe != "dead centre":
                steps = width_mm / planned.role.resolution.mm
                if steps < FEW_STEPS:
                    yield _few(planned, steps)


def _few(planned: PlannedStep, steps: Decimal) -> str:
    return (
        f'"{planned.name}": the limits are only {steps.normalize():.3g} display steps of the gauge '
        f'"{planned.role.role}" apart; a finer one is safer.'
    )


def _plan_notes(sheet: Sheet) -> Iterator[str]:
    for step in sheet.steps:
        if step.crank.manner == "plan":
            made = plan(sheet.engine, KINDS_OF[step.for_each])
            yield from (f'"{step.name}": {note}' for note in made.notes)
