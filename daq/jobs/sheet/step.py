"""``[[steps]]``: one thing to measure or set, on everything of its kind."""

from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field

from daq.jobs.names import Degrees
from daq.jobs.sheet.crank_need import Crank
from daq.jobs.sheet.forms import Across, CrankGear, Expansion, Figures, Mounting
from daq.jobs.sheet.lengths import (
    Deviations,
    Length,
    Limits,
    Name,
    Plain,
    Ratio,
    Signed,
    Size,
    TemperatureRange,
    Words,
)
from daq.spec import Adjuster, LengthUnit
from drivers.form import Form

ForEach = Literal[
    "engine",
    "cylinder",
    "intake valve",
    "exhaust valve",
    "valve",
    "injector",
    "bank",
    "place",
]
"""What a step is done on, one after the other."""

Recipe = Literal["length", "play", "run-out", "points", "deflection", "dead centre"]
"""How a result is made from settled readings."""


def _with_plain_ratio(given: Any) -> Any:
    """An adjuster's table in which the lever ratio may be a plain number: it has no unit."""
    if isinstance(given, dict) and isinstance(given.get("lever_ratio"), float):
        return {**given, "lever_ratio": repr(given["lever_ratio"])}
    return given


Screw = Annotated[Adjuster, BeforeValidator(_with_plain_ratio)]
"""``[steps.adjuster]``; see ``daq.spec.Adjuster``."""


class Step(Form):
    """One step of a sheet, as it is written; its figures may differ by variant.

    ``name`` is what other steps call it, ``what`` what the fitter reads. ``places`` are what a
    step ``for_each = "place"`` is done on. ``points`` are measured on each target, in order.

    ``angles`` is how many places a run-out is read at, ``face_radius`` where the gauge sits on a
    face. ``past_bottom`` is how far past bottom, in degrees, a deflection is read, and whether its
    gauge ``open_reads`` higher or lower. ``closing_limit`` is how far a turn may miss to close.
    ``ratio`` is the play wanted over the play read, ``u_ratio`` its standard uncertainty.

    ``mounting`` and ``expansion`` are what results are corrected by.

    ``unit`` is what results are shown in; None is the nominal's own. ``source`` begins with the
    id of one of the sheet's sources. ``after`` names the steps that must be done before.

    ``gauge`` is a role. ``master`` is the length of the setting master, ``master_limit`` how far
    its closing check may have moved. ``repeats`` is how often a result is measured (a play: how
    many visits to each stop), ``exercise`` how many times the part is worked before it is checked
    again. ``lock`` says that the adjuster is locked and the locked setting measured; ``lock_shift``
    is how far locking may move it before it is set anew. ``seal`` says how and what to seal.
    """

    name: Name
    what: Words
    for_each: ForEach
    places: Annotated[tuple[Name, ...], Field(max_length=64)] = ()
    recipe: Recipe
    points: Annotated[tuple[Name, ...], Field(max_length=64)] = ()
    angles: Annotated[int, Field(strict=True, ge=8, le=72)] | None = None
    face_radius: Size | None = None
    past_bottom: Annotated[Degrees, Field(ge=5, le=60)] | None = None
    open_reads: Literal["higher", "lower"] | None = None
    closing_limit: Size | None = None
    ratio: Annotated[Ratio, Field(gt=0, le=1000)] | None = None
    u_ratio: Annotated[Ratio, Field(le=100)] | None = None
    crank_gear: CrankGear | None = None
    mounting: Mounting | None = None
    expansion: Expansion | None = None
    nominal: Signed | None = None
    limits: Deviations | None = None
    by_variant: Annotated[dict[str, Figures], Field(default_factory=dict)]
    unit: LengthUnit | None = None
    source: Words
    condition: Words | None = None
    temperature: TemperatureRange | None = None
    after: Annotated[tuple[Name, ...], Field(max_length=64)] = ()
    crank: Crank
    gauge: Name
    master: Plain | None = None
    master_limit: Size | None = None
    repeats: Annotated[int, Field(strict=True, ge=1, le=50)] | None = None
    exercise: Annotated[int, Field(strict=True, ge=0, le=20)] = 0
    lock: Annotated[bool, Field(strict=True)] = False
    lock_shift: Size | None = None
    adjuster: Screw | None = None
    across: Across | None = None
    cautions: tuple[Words, ...] = ()
    seal: Words | None = None

    @property
    def times(self) -> int:
        """How often a result is measured: ``repeats``, or what is usual for the recipe."""
        return self.repeats or (3 if self.recipe == "play" else 1)

    def nominal_for(self, variant: str) -> Length | None:
        """The nominal for a variant; None only on a sheet that is refused."""
        own = self.by_variant.get(variant)
        return (own and own.nominal) or self.nominal

    def limits_for(self, variant: str) -> Limits | None:
        """The limits for a variant; None only on a sheet that is refused."""
        own = self.by_variant.get(variant)
        return (own and own.limits) or self.limits

    def source_for(self, variant: str) -> str:
        """Where a variant's figures are from: a source's id, and the place in it."""
        own = self.by_variant.get(variant)
        return (own and own.source) or self.source

    def unit_for(self, variant: str) -> LengthUnit:
        """What a variant's results are shown in."""
        nominal = self.nominal_for(variant)
        return self.unit or (nominal.unit if nominal else "mm")
