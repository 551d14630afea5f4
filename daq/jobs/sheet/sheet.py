"""A job sheet: what a workshop writes once per type of engine from its own service literature."""

import difflib
from dataclasses import dataclass
from typing import Annotated

from pydantic import Field

from daq.jobs.engine import Engine
from daq.jobs.sheet.errors import SheetError
from daq.jobs.sheet.forms import Heading, Role, Source, Variant
from daq.jobs.sheet.order import in_order
from daq.jobs.sheet.step import Step
from daq.jobs.sheet.targets import Target, targets_of
from daq.spec import DecisionRule, Spec
from drivers.form import Form


class SheetFile(Form):
    """A job sheet as the file has it: each table on its own, not yet held against the others."""

    sheet: Heading
    sources: Annotated[tuple[Source, ...], Field(min_length=1, max_length=64)]
    engine: Engine
    variants: Annotated[tuple[Variant, ...], Field(min_length=1, max_length=64)]
    gauges: Annotated[tuple[Role, ...], Field(min_length=1, max_length=64)]
    steps: Annotated[tuple[Step, ...], Field(min_length=1, max_length=200)]


@dataclass(frozen=True, slots=True)
class PlannedStep:
    """A step with the figures of the chosen variant and everything that it is done on.

    ``spec`` is what each result is held against, its source written out; ``role`` what the gauge
    must be able to do; ``targets`` come in the order of the cylinders, not of the crank.
    """

    step: Step
    spec: Spec
    role: Role
    targets: tuple[Target, ...]

    @property
    def name(self) -> str:
        """What other steps call it."""
        return self.step.name


@dataclass(frozen=True, slots=True)
class Sheet:
    """A job sheet that is sound: every figure has its unit and source, every name is known.

    ``name`` is the file's name; ``fingerprint`` the SHA-256 of its bytes, in hex, so that a record
    can say which sheet it was; ``text`` is the whole file, for the same end. ``steps`` stand as
    written; ``for_variant`` orders them.
    """

    name: str
    fingerprint: str
    heading: Heading
    sources: tuple[Source, ...]
    engine: Engine
    variants: tuple[Variant, ...]
    gauges: tuple[Role, ...]
    steps: tuple[Step, ...]
    text: str

    @property
    def title(self) -> str:
        """What the sheet is called."""
        return self.heading.title

    @property
    def revision(self) -> str:
        """The sheet's own revision."""
        return self.heading.revision

    @property
    def rule(self) -> DecisionRule:
        """The decision rule that every result is judged by."""
        return self.heading.rule

    def variant(self, name: str) -> Variant:
        """The variant of this name.

        Raises:
            SheetError: there is none; with the names that there are.
        """
        for variant in self.variants:
            if variant.name == name:
                return variant
        names = [variant.name for variant in self.variants]
        near = difflib.get_close_matches(name, names, n=1)
        hint = f"did you mean {near[0]!r}?" if near else f"there are: {'; '.join(names)}"
        raise SheetError(f"{self.name} has no variant {name!r}; {hint}")

    def role(self, name: str) -> Role:
        """What a gauge in this role must be able to do.

        Raises:
            SheetError: there is no such role.
        """
        for role in self.gauges:
            if role.role == name:
                return role
        known = ", ".join(role.role for role in self.gauges)
        raise SheetError(f"{self.name} has no gauge in the role {name!r}; there are: {known}")

    def for_variant(self, name: str) -> tuple[PlannedStep, ...]:
        """Every step with the figures of a variant, in an order that keeps every ``after``.

        Steps that wait for nothing come as they are written.

        Raises:
            SheetError: there is no such variant.
        """
        variant = self.variant(name)
        order = in_order({step.name: step.after for step in self.steps})
        by_name = {step.name: step for step in self.steps}
        return tuple(self._planned(by_name[each], variant.name) for each in order)

    def _planned(self, step: Step, variant: str) -> PlannedStep:
        return PlannedStep(
            step=step,
            spec=self._spec(step, variant),
            role=self.role(step.gauge),
            targets=targets_of(step.for_each, self.engine, step.places),
        )

    def _spec(self, step: Step, variant: str) -> Spec:
        nominal, limits = step.nominal_for(variant), step.limits_for(variant)
        assert nominal is not None  # a sheet without one is refused when it is read
        assert limits is not None
        words = [step.condition, str(step.temperature) if step.temperature else None]
        return Spec(
            name=step.what,
            nominal_mm=nominal.mm,
            lower_mm=limits.lower_mm,
            upper_mm=limits.upper_mm,
            unit=step.unit_for(variant),
            source=self._source_words(step.source_for(variant)),
            condition=", ".join(word for word in words if word),
        )

    def _source_words(self, source: str) -> str:
        """A step's source with the document written out: ``Manual, revision 3, p. 112``."""
        name, comma, place = source.partition(",")
        document = next(each for each in self.sources if each.id == name.strip())
        return f"{document}{comma}{place}"
