"""Rules over figures: complete for every variant, and within what the gauge can do."""

from collections.abc import Iterator
from math import sqrt

from daq.jobs.sheet.decidable import why_undecidable, why_undecidable_across
from daq.jobs.sheet.forms import Role
from daq.jobs.sheet.lengths import Length
from daq.jobs.sheet.problem import Path, Problem, Problems
from daq.jobs.sheet.sheet import SheetFile
from daq.jobs.sheet.step import Step
from daq.jobs.sheet.travel import out_of_range
from daq.spec import DecisionRule, Spec

EXAMPLES = {"nominal": '"76.20 mm"', "limits": '"± 0.05 mm"'}
"""By figure that may differ by variant: how it is written."""


def figure_problems(sheet: SheetFile) -> Problems:
    """What is wrong with the figures of a sheet, whole or drafted."""
    variants = [variant.name for variant in sheet.variants or () if variant.name is not None]
    roles: dict[str, Role] = {}
    for number, role in enumerate(sheet.gauges or ()):
        wrong = list(_role_problems(("gauges", number), role))
        yield from wrong
        if not wrong and None not in (role.kind, role.resolution, role.range, role.u):
            roles[role.role] = role
    rule = sheet.sheet.rule if sheet.sheet is not None else None
    for number, step in enumerate(sheet.steps or ()):
        at: Path = ("steps", number)
        yield from _missing_figures(at, step, variants)
        yield from _missing_limit(at, step)
        if step.gauge in roles:
            yield from _master_problems(at, step, roles[step.gauge])
            yield from _gauge_problems(at, step, roles[step.gauge], rule, variants)


def _role_problems(at: Path, role: Role) -> Problems:
    if role.resolution is None:
        return
    step_mm = role.resolution.mm
    # The step over √12, a little less: a figure that was rounded to two digits will do.
    if role.u is not None and role.u.mm < step_mm * 28 / 100:
        least = float(step_mm) / sqrt(12)
        yield (
            (*at, "u"),
            f"{role.u} is less than the display step of {role.resolution} alone gives "
            f"({least:.2g} mm, the step over √12); write what a reading on the engine has",
        )
    if role.range is not None and role.range.mm < 10 * step_mm:
        yield (
            (*at, "range"),
            f"{role.range} is under ten display steps of {role.resolution}; check both units",
        )


def _missing_figures(at: Path, step: Step, variants: list[str]) -> Problems:
    """Figures that the step has neither for all variants nor for each, or has twice."""
    # Under a variant's name that is not known may be any of them: that slip is told once.
    if step.by_variant is None or not set(step.by_variant) <= set(variants):
        return
    for key, example in EXAMPLES.items():
        given = [name for name, each in step.by_variant.items() if key in each.model_fields_set]
        if key in step.model_fields_set:
            if given:
                yield (
                    (*at, key),
                    "it stands here for every variant, and for some on their own too; take one "
                    "of the two out",
                )
        elif not given:
            yield (
                (*at, key),
                f"is missing; add {key} = {example}, or one for each variant in "
                '[steps.by_variant."…"]',
            )
        else:
            for name in variants:
                if name not in given:
                    yield (
                        (*at, "by_variant", name, key),
                        f"is missing; every variant needs it: add {key} = {example}",
                    )


def _missing_limit(at: Path, step: Step) -> Problems:
    given = step.model_fields_set
    if "master_limit" in given and "master" not in given:
        yield (*at, "master_limit"), 'there is no master in this step; add master = "75.000 mm"'
    elif "master" in given and "master_limit" not in given:
        yield (
            (*at, "master_limit"),
            "is missing; say how far the closing check on the master may have moved: "
            'master_limit = "0.005 mm"',
        )


def _master_problems(at: Path, step: Step, role: Role) -> Problems:
    direct = step.recipe in ("length", "points")
    if direct and "master" not in step.model_fields_set and role.is_comparator:
        yield (
            (*at, "master"),
            f"is missing; the gauge is of the kind {role.kind} and only compares: add master, the "
            'length of the setting master, or "0 mm" for a flat or a reference position',
        )
    for key in ("master_limit", "lock_shift"):
        limit: Length | None = getattr(step, key)
        if limit is not None and limit.mm < role.resolution.mm:
            yield (
                (*at, key),
                f'{limit} is less than a display step of the gauge "{role.role}" '
                f"({role.resolution}); nobody could see it",
            )


def _gauge_problems(
    at: Path, step: Step, role: Role, rule: DecisionRule | None, variants: list[str]
) -> Problems:
    """What the gauge cannot do; a figure for several variants is told once."""
    if step.recipe is None:
        return
    said: set[Problem] = set()
    for variant, spec, written in _specs(step, variants):
        found: list[tuple[str, str]] = []
        if beyond := out_of_range(step, spec, role):
            found.append(beyond)
        if rule and (why := _why_tight(step, spec, role, rule)):
            found.append(("limits", _tighter(written, role, why)))
        for key, words in found:
            own = getattr(step.by_variant.get(variant), key, None)
            problem = ((*at, *(("by_variant", variant) if own else ()), key), words)
            if problem not in said:
                said.add(problem)
                yield problem
    if step.across is None or rule is None:
        return
    for key in ("spread", "neighbour_step", "within"):
        limit: Length | None = getattr(step.across, key)
        if limit is not None and (why := why_undecidable_across(limit.mm, role, rule)):
            yield (*at, "across", key), _tighter(str(limit), role, why)


def _why_tight(step: Step, spec: Spec, role: Role, rule: DecisionRule) -> str:
    if step.recipe == "dead centre":
        return ""  # its limits lie on the rim, and the gauge stands on the piston
    return why_undecidable(spec, role, step.recipe, rule)


def _tighter(written: str, role: Role, why: str) -> str:
    return (
        f'{written} is tighter than the gauge "{role.role}" can decide: {why}; ask for a finer '
        "gauge, or check the limits"
    )


def _specs(step: Step, variants: list[str]) -> Iterator[tuple[str, Spec, str]]:
    """By variant with sound figures: its specification, and its limits as they are written."""
    for variant in variants if step.by_variant is not None else ():
        nominal, limits = step.nominal_for(variant), step.limits_for(variant)
        if nominal is not None and limits is not None:
            spec = Spec(
                name="any",
                nominal_mm=nominal.mm,
                lower_mm=limits.lower_mm,
                upper_mm=limits.upper_mm,
                unit=step.unit_for(variant),
                source="any",
            )
            yield variant, spec, str(limits)
