"""Every rule over the tables of a sheet, held against each other."""

from daq.jobs.crank import plan
from daq.jobs.engine import Engine, EngineError
from daq.jobs.sheet.correction_rules import correction_problems
from daq.jobs.sheet.figure_rules import figure_problems
from daq.jobs.sheet.name_rules import name_problems
from daq.jobs.sheet.problem import Problems
from daq.jobs.sheet.sheet import SheetFile
from daq.jobs.sheet.step_rules import step_problems
from daq.jobs.sheet.targets import KINDS_OF


def problems_in(sheet: SheetFile, engine: Engine | None) -> Problems:
    """What is wrong between the tables of a sheet; none if it is sound.

    Args:
        sheet: whole, or a draft in which what is not sound is None.
        engine: its engine, if that is sound as a whole.
    """
    yield from name_problems(sheet)
    yield from step_problems(sheet)
    yield from figure_problems(sheet)
    yield from correction_problems(sheet)
    if engine is not None:
        yield from _plan_problems(sheet, engine)


def _plan_problems(sheet: SheetFile, engine: Engine) -> Problems:
    """Steps that leave the crank to a plan that there is not."""
    for number, step in enumerate(sheet.steps or ()):
        kinds = [kind for kind in KINDS_OF.get(step.for_each, ()) if engine.counts[kind]]
        if step.crank is None or step.crank.manner != "plan" or not kinds:
            continue
        try:
            plan(engine, kinds)
        except EngineError as error:
            yield ("steps", number, "crank"), f"there is no plan for it: {' '.join(error.problems)}"
