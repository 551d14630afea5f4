"""Rules for results that are corrected by a gauge's calibration: only where its zero is known.

A calibration's errors belong to places in the gauge's own travel, counted from where it was zeroed
when it was calibrated. The foot of a depth gauge shows that place again on any flat or step. An
indicator or a probe is clamped anywhere, and nobody can say on the job where in its travel the
calibration began.
"""

from daq.jobs.sheet.forms import Role
from daq.jobs.sheet.problem import Path, Problems
from daq.jobs.sheet.sheet import SheetFile
from daq.jobs.sheet.step import Step

CORRECTED = ("length", "points")
"""Recipes whose values lie on a scale that begins at the gauge's own zero."""


def correction_problems(sheet: SheetFile) -> Problems:
    """What is wrong with ``correct = true`` on a sheet, whole or drafted."""
    corrected: set[str] = set()
    for number, role in enumerate(sheet.gauges or ()):
        if not role.correct or role.kind is None:
            continue
        if role.is_comparator:
            yield ("gauges", number, "correct"), _why_not(role)
        elif role.role is not None:
            corrected.add(role.role)
    for number, step in enumerate(sheet.steps or ()):
        if step.gauge in corrected:
            yield from _step_problems(("steps", number), step)


def _why_not(role: Role) -> str:
    return (
        f"the gauge is of the kind {role.kind} and only compares: nobody can say where in its "
        "travel the zero of its calibration lies on the job, so its errors there are not known; "
        "take it out, or use a depth gauge"
    )


def _step_problems(at: Path, step: Step) -> Problems:
    if step.recipe is not None and step.recipe not in CORRECTED:
        yield (
            (*at, "gauge"),
            f'"{step.gauge}" has correct = true, which goes with recipe = '
            f"{' or '.join(CORRECTED)}, not with {step.recipe}; give this step a role of its own "
            "without it",
        )
    elif step.recipe is not None and "master" not in step.model_fields_set:
        yield (
            (*at, "master"),
            f'is missing; "{step.gauge}" has correct = true, and only a master shows where its '
            'zero lies: add master = "0 mm" for the flat that it is zeroed on',
        )
