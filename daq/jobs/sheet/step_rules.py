"""Rules within one step: what goes with what, and what the engine has."""

from daq.jobs.engine import Engine
from daq.jobs.sheet.problem import Path, Problems
from daq.jobs.sheet.sheet import SheetFile
from daq.jobs.sheet.step import ForEach, Recipe, Step
from daq.jobs.sheet.targets import KINDS_OF, neighbours, targets_of

KEYS_OF: dict[str, tuple[Recipe, ...]] = {
    "points": ("points",),
    "angles": ("run-out",),
    "face_radius": ("run-out",),
    "past_bottom": ("deflection",),
    "open_reads": ("deflection",),
    "closing_limit": ("run-out", "deflection"),
    "ratio": ("play",),
    "u_ratio": ("play",),
    "crank_gear": ("dead centre",),
    "mounting": ("length", "points", "play", "run-out", "deflection"),
    "expansion": ("length",),
    "repeats": ("length", "play"),
    "adjuster": ("length", "play"),
}
"""By key that does not go with every recipe: those that it goes with."""

TURNED: tuple[Recipe, ...] = ("run-out", "deflection")
"""Recipes that are measured while the crank is barred through the points."""

DONE_ON: dict[Recipe, tuple[ForEach, ...]] = {
    "run-out": ("engine", "bank", "cylinder", "place"),
    "deflection": ("cylinder", "place"),
    "dead centre": ("cylinder",),
}
"""By recipe that does not go with everything: what it is done on."""

_OWN_CYLINDER: tuple[ForEach, ...] = ("cylinder", *KINDS_OF)


def step_problems(sheet: SheetFile) -> Problems:
    """What is wrong within each step of a sheet, whole or drafted."""
    engine = sheet.engine if sheet.engine is not None and countable(sheet.engine) else None
    for number, step in enumerate(sheet.steps or ()):
        at: Path = ("steps", number)
        yield from _recipe_problems(at, step)
        yield from _point_problems(at, step)
        yield from _place_problems(at, step)
        yield from _adjuster_problems(at, step)
        yield from _crank_problems(at, step)
        if engine is not None:
            yield from _engine_problems(at, step, engine)
        yield from _across_problems(at, step, engine)


def countable(engine: Engine) -> bool:
    """Whether enough of a drafted engine is sound to count what it has."""
    facts = (engine.stroke, engine.cylinders, engine.banks, *engine.counts.values())
    return all(fact is not None for fact in facts)


def _recipe_problems(at: Path, step: Step) -> Problems:
    if step.recipe is None:
        return
    if not _goes_together(step):
        yield (
            (*at, "recipe"),
            f'"{step.recipe}" is not done on {_each(step.for_each)}; it goes with '
            f"for_each = {' or '.join(DONE_ON[step.recipe])}",
        )
        return  # with another recipe, other keys would go
    for key, recipes in KEYS_OF.items():
        if key in step.model_fields_set and step.recipe not in recipes:
            yield (
                (*at, key),
                f"it goes with recipe = {' or '.join(recipes)}, not with {step.recipe}; take it "
                "out",
            )
    yield from _gear_problems(at, step)


def _gear_problems(at: Path, step: Step) -> Problems:
    gear = step.crank_gear
    if step.recipe == "dead centre" and "crank_gear" not in step.model_fields_set:
        yield (
            (*at, "crank_gear"),
            "is missing; a dead centre is found with it: add [steps.crank_gear] with stroke, rod, "
            "rim and u_angle",
        )
    if gear is None or gear.rod is None or gear.stroke is None:
        return
    if 2 * gear.rod.mm <= gear.stroke.mm:
        yield (
            (*at, "crank_gear", "rod"),
            f"a rod of {gear.rod} cannot turn with a stroke of {gear.stroke}; check both",
        )


def _goes_together(step: Step) -> bool:
    """Whether the recipe is done on such things; a recipe that is not is told once."""
    allowed = DONE_ON.get(step.recipe)
    return allowed is None or step.for_each is None or step.for_each in allowed


def _each(for_each: ForEach) -> str:
    return "the engine" if for_each == "engine" else f"each {for_each}"


def _point_problems(at: Path, step: Step) -> Problems:
    if step.recipe == "points" and step.points is not None and len(step.points) < 2:
        yield (
            (*at, "points"),
            "it takes at least two; list them in the order in which they are measured: "
            'points = ["front", "rear"]',
        )
    if step.recipe == "play" and step.repeats == 1:
        yield (*at, "repeats"), "one visit to each stop shows nothing; write 2 or more"
    for place, point in enumerate(step.points or ()):
        if point in step.points[:place]:
            yield (*at, "points", place), f'"{point}" stands twice; give each point its own name'


def _place_problems(at: Path, step: Step) -> Problems:
    if step.for_each is None or step.places is None:
        return
    if step.for_each == "place" and not step.places:
        yield (*at, "places"), 'is missing; list them: places = ["drive end", "free end"]'
    elif step.for_each != "place" and step.places:
        yield (
            (*at, "places"),
            f"they are not used for {_each(step.for_each)}; take them out, or write "
            'for_each = "place"',
        )
    for number, place in enumerate(step.places):
        if place in step.places[:number]:
            yield (*at, "places", number), f'"{place}" stands twice; give each place its own name'


def _adjuster_problems(at: Path, step: Step) -> Problems:
    has_adjuster = "adjuster" in step.model_fields_set
    if step.lock and not has_adjuster:
        yield (
            (*at, "lock"),
            "there is nothing to lock; add [steps.adjuster] with its thread, or take lock out",
        )
    if step.lock_shift is not None and step.lock is False:
        yield (*at, "lock_shift"), "nothing is locked in this step; add lock = true"


def _crank_problems(at: Path, step: Step) -> Problems:
    if step.crank is None or step.for_each is None:
        return
    here, manner, of = (*at, "crank"), step.crank.manner, step.for_each
    if step.recipe == "dead centre":
        if manner != "own" or step.crank.after_deg:
            yield here, 'it is found around the cylinder\'s own TDC; write "own firing TDC"'
    elif step.recipe in TURNED:
        if manner != "turn":
            yield here, f'a {step.recipe} is measured over a turn; write "barred through a turn"'
    elif manner == "turn" and step.recipe is not None:
        yield here, f'a {step.recipe} is not measured over a turn; write "any" or a position'
    elif manner == "plan" and of not in KINDS_OF:
        yield here, f"the crank plan is for valves and injectors, not for {_each(of)}; {_other(of)}"
    elif manner == "own" and of not in _OWN_CYLINDER:
        whose = "the engine" if of == "engine" else f"a {of}"
        yield here, f"{whose} has no cylinder of its own; {_other(of)}"
    elif step.recipe == "play" and of in ("intake valve", "exhaust valve", "valve"):
        yield from _clearance_problems(here, step)


def _other(for_each: ForEach) -> str:
    own = '"own firing TDC"' if for_each in _OWN_CYLINDER else '"cylinder 1 at firing TDC"'
    return f'write {own} or "any"'


def _clearance_problems(here: Path, step: Step) -> Problems:
    if step.crank.manner in ("any", "cylinder"):
        yield (
            here,
            "a clearance is there only while the valve's cam lets it be; write "
            '"where the plan allows" or "own firing TDC"',
        )
    elif step.crank.overlap:
        yield (
            here,
            "around overlap TDC the valves are open and there is no clearance; write "
            '"where the plan allows" or "own firing TDC"',
        )


def _engine_problems(at: Path, step: Step, engine: Engine) -> Problems:
    kinds = KINDS_OF.get(step.for_each, ())
    if kinds and not any(engine.counts[kind] for kind in kinds):
        yield (
            (*at, "for_each"),
            f"this engine has no {step.for_each}s; take the step out, or correct [engine]",
        )
    if step.for_each == "bank" and not engine.banks:
        yield (
            (*at, "for_each"),
            'this engine lists no banks; add [[engine.banks]], or write for_each = "engine"',
        )
    if step.crank is None:
        return
    if step.crank.overlap and engine.stroke == "two":
        yield (
            (*at, "crank"),
            'a two-stroke fires at every TDC and has no overlap TDC; write "own firing TDC"',
        )
    if step.crank.cylinder is not None and step.crank.cylinder not in engine.names:
        yield (
            (*at, "crank"),
            f"there is no cylinder {step.crank.cylinder}; there are: {' '.join(engine.names)}",
        )


def _across_problems(at: Path, step: Step, engine: Engine | None) -> Problems:
    across = step.across
    if across is None:
        return
    here = (*at, "across")
    if not across.model_fields_set:
        yield here, "it names no limit; add spread, neighbour_step or within"
    if "within" in across.model_fields_set and step.recipe not in ("points", None):
        yield (
            (*here, "within"),
            'it is the range over the points of one target; it needs recipe = "points"',
        )
    if engine is None or step.for_each is None or step.places is None:
        return
    targets = targets_of(step.for_each, engine, step.places)
    for key in ("spread", "neighbour_step"):
        if key in across.model_fields_set and len(targets) == 1:
            yield (
                (*here, key),
                f"there is only one to measure ({targets[0]}), so nothing to compare; take it out",
            )
    several = "neighbour_step" in across.model_fields_set and len(targets) > 1
    if several and not neighbours(targets):
        yield (
            (*here, "neighbour_step"),
            f"{step.for_each}s do not stand in one row, so there are no neighbours; use spread",
        )
