"""An uncertainty budget from a TOML file: read whole, or refused with every mistake at its line.

Figures are plain numbers; ``unit`` is a name to print. Which unit goes with which is for the
writer: the model's result is in the budget's unit.
"""

import dataclasses
import math
from typing import Annotated, Any, Literal, Self

from pydantic import Field, field_validator, model_validator

from daq.calibration import inputs as of
from daq.calibration.budget import Budget, Term, linear, of_model
from daq.calibration.errors import CalibrationError
from daq.calibration.expression import Expression, expression_from
from daq.calibration.fields import Name, Words
from daq.calibration.inputs import Input
from daq.calibration.toml_file import Problems, form_from
from drivers.form import Form

Figure = Annotated[float, Field(allow_inf_nan=False)]
Size = Annotated[float, Field(ge=0, allow_inf_nan=False)]
Above = Annotated[float, Field(gt=0, allow_inf_nan=False)]
Share = Annotated[float, Field(gt=0, lt=1, allow_inf_nan=False)]

_HOW = ("standard", "expanded", "limits", "step", "readings", "sd")
_COMPANIONS = {
    "k": ("expanded",),
    "level": ("expanded",),
    "distribution": ("limits",),
    "n": ("sd",),
    "dof": ("standard", "expanded", "sd"),
    "unreliability": ("standard", "expanded", "limits", "sd"),
    "estimate": ("standard", "expanded", "limits", "sd"),
}


class BudgetInput(Form):
    """One input: its estimate, and one of six ways to say how sure it is."""

    name: Name
    estimate: Figure = 0.0
    unit: Annotated[str, Field(max_length=20)] = ""
    source: Words | None = None
    sensitivity: Figure | None = None
    standard: Size | None = None
    expanded: Size | None = None
    limits: Size | None = None
    step: Above | None = None
    readings: Annotated[tuple[Figure, ...], Field(min_length=2, max_length=10_000)] | None = None
    sd: Size | None = None
    k: Above | None = None
    level: Share | None = None
    distribution: Literal["rectangular", "triangular", "arcsine"] | None = None
    n: Annotated[int, Field(strict=True, ge=1, le=10_000)] | None = None
    dof: Above | None = None
    unreliability: Annotated[float, Field(gt=0, le=1)] | None = None

    @property
    def how(self) -> str:
        """Which of the six ways."""
        return next(name for name in _HOW if getattr(self, name) is not None)

    @model_validator(mode="after")
    def _one_way(self) -> Self:
        ways = [name for name in _HOW if getattr(self, name) is not None]
        if len(ways) != 1:
            said = " and ".join(ways) if ways else "nothing of its uncertainty"
            raise ValueError(f"it has {said}; write one of {', '.join(_HOW)}")
        for name in self.model_fields_set & _COMPANIONS.keys():
            if ways[0] not in _COMPANIONS[name]:
                raise ValueError(f"{name}: it does not go with {ways[0]}; leave it out")
        if self.expanded is not None and (self.k is None) == (self.level is None):
            raise ValueError("expanded: it needs k or level, one of them, as the certificate says")
        if self.sd is not None and (self.n is None or (self.dof or self.unreliability) is None):
            raise ValueError("sd: it needs n, the readings in the mean, and dof, those behind sd")
        if self.dof is not None and self.unreliability is not None:
            raise ValueError("dof: unreliability says the same another way; leave one out")
        return self

    def made(self) -> Input:
        """The input itself.

        Raises:
            CalibrationError: it makes no sense.
        """
        made = self._by_its_way()
        if self.source is None:
            return made
        return dataclasses.replace(made, basis=f"{made.basis}; {self.source}")

    def _by_its_way(self) -> Input:
        dof = self.dof if self.dof is not None else math.inf
        if self.unreliability is not None:
            dof = of.dof_from_unreliability(self.unreliability)
        name, estimate, unit = self.name, self.estimate, self.unit
        if self.standard is not None:
            return of.standard(name, estimate, self.standard, dof=dof, unit=unit)
        if self.expanded is not None and self.k is not None:
            return of.from_expanded(name, estimate, self.expanded, k=self.k, dof=dof, unit=unit)
        if self.expanded is not None and self.level is not None:
            level = self.level
            return of.from_level(name, estimate, self.expanded, level=level, dof=dof, unit=unit)
        if self.limits is not None:
            shape, doubt = self.distribution or "rectangular", self.unreliability
            return of.from_limits(
                name, estimate, self.limits, shape, unreliability=doubt, unit=unit
            )
        if self.step is not None:
            return of.from_step(name, self.step, unit=unit)
        if self.readings is not None:
            return of.from_readings(name, self.readings, unit=unit)
        assert self.sd is not None  # one of the six is there
        assert self.n is not None
        return of.from_pooled(name, estimate, self.sd, n=self.n, dof=dof, unit=unit)


class Together(Form):
    """Two inputs that are correlated."""

    between: tuple[Name, Name]
    r: Annotated[float, Field(ge=-1, le=1)]


class BudgetHeading(Form):
    """What is measured, and the model: arithmetic, or none for a sum of sensitivity times input."""

    measurand: Name
    unit: Annotated[str, Field(max_length=20)] = ""
    model: Annotated[str, Field(min_length=1)] | None = None
    estimate: Figure | None = None
    level: Share = 0.95
    second_order: bool = False

    @field_validator("model", mode="after")
    @classmethod
    def _is_arithmetic(cls, text: str | None) -> str | None:
        if text is not None:
            try:
                expression_from(text)
            except CalibrationError as error:
                raise ValueError(str(error)) from error
        return text

    @model_validator(mode="after")
    def _model_gives_it(self) -> Self:
        if self.model is not None and self.estimate is not None:
            raise ValueError("estimate: the model gives it; leave one of them out")
        if self.model is None and self.second_order:
            raise ValueError("second_order: a sum has no terms of higher order; give a model")
        return self

    @property
    def expression(self) -> Expression | None:
        """The model, None for a sum."""
        return None if self.model is None else expression_from(self.model)


class BudgetFile(Form):
    """A budget as the file has it."""

    budget: BudgetHeading
    inputs: Annotated[tuple[BudgetInput, ...], Field(min_length=1, max_length=200)]
    correlations: Annotated[tuple[Together, ...], Field(max_length=1000)] = ()


def budget_from_bytes(raw: bytes, name: str) -> tuple[Budget, float]:
    """The budget in a file's bytes, and the level of confidence that it asks for.

    Args:
        raw: the file's content; UTF-8.
        name: the file's name, for the messages.

    Raises:
        CalibrationError: with every mistake at once, each as ``file:line: field: what is wrong;
            what would be right``; or the figures are sound one by one and make no budget together.
    """
    file = form_from(raw, name, BudgetFile, _problems_between, CalibrationError)
    heading = file.budget
    correlations = {each.between: each.r for each in file.correlations}
    facts: dict[str, Any] = {"unit": heading.unit, "correlations": correlations}
    made = [each.made() for each in file.inputs]
    given = {e.name: e.sensitivity for e in file.inputs if e.sensitivity is not None}
    expression = heading.expression
    try:
        if expression is None:
            terms = [Term(each, given.get(each.name, 1.0)) for each in made]
            estimate = heading.estimate
            return linear(heading.measurand, terms, estimate=estimate, **facts), heading.level
        budget = of_model(
            heading.measurand,
            expression,
            made,
            sensitivities=given,
            with_second_order=heading.second_order,
            **facts,
        )
    except CalibrationError as error:
        raise CalibrationError(*(f"{name}: {problem}" for problem in error.problems)) from error
    return budget, heading.level


def _problems_between(file: BudgetFile) -> Problems:
    names = [each.name if each is not None else None for each in file.inputs]
    for place, each in enumerate(names):
        if each is not None and each in names[:place]:
            yield ("inputs", place, "name"), f'"{each}" stands twice; give each a name of its own'
    for place, given in enumerate(file.inputs):
        if given is None:
            continue
        try:
            given.made()
        except CalibrationError as error:
            yield ("inputs", place), str(error)
    expression = file.budget.expression if file.budget is not None else None
    # Where an input is not sound its name is not known, and no name can be called missing.
    if expression is not None and None not in names:
        known = ", ".join(str(each) for each in names)
        for used in expression.names:
            if used not in names:
                yield ("budget", "model"), f"'{used}' is no input; the inputs are {known}"
        for place, each in enumerate(names):
            if each is not None and each not in expression.names:
                yield ("inputs", place, "name"), f'the model does not use "{each}"; take it out'
    for place, pair in enumerate(file.correlations):
        if pair is not None and None not in names:
            for end, each in enumerate(pair.between):
                if each not in names:
                    yield ("correlations", place, "between", end), f'"{each}" is no input'
