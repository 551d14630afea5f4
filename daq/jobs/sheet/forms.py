"""The small tables of a job sheet: heading, sources, variants, gauges, figures, limits across."""

from decimal import Decimal
from typing import Annotated, Literal

from pydantic import Field

from daq.jobs.names import Degrees
from daq.jobs.sheet.lengths import Deviations, Name, Ratio, Rule, Signed, Size, Words
from daq.spec import SimpleAcceptance
from drivers.form import Form

Angle = Annotated[Degrees, Field(gt=2, le=90)]
"""How far from a dead centre, in degrees; nearer the piston hardly moves."""

SourceId = Annotated[str, Field(pattern=r"^[A-Za-z0-9][A-Za-z0-9 _-]{0,30}$")]
"""What a source is called on the sheet; no comma, as the page follows one."""


class Heading(Form):
    """``[sheet]``: what the sheet is.

    ``rule`` is the decision rule that every result of the job is judged by. ``cautions`` are shown
    before the job begins, besides the usual ones.
    """

    title: Name
    revision: Name
    prepared_by: Name | None = None
    rule: Rule = SimpleAcceptance()
    cautions: tuple[Words, ...] = ()


class Source(Form):
    """``[[sources]]``: a document that figures are from. ``id`` is what steps call it."""

    id: SourceId
    document: Words
    revision: Name

    def __str__(self) -> str:
        return f"{self.document}, revision {self.revision}"


class Variant(Form):
    """``[[variants]]``: one rating or speed that the figures are for.

    ``plate`` is what the engine's plate must say, to be held against it before the job.
    """

    name: Name
    plate: Words


class Role(Form):
    """``[[gauges]]``: what a gauge must be able to do to serve in a role.

    ``resolution`` is the coarsest display step that will do, ``range`` the least travel (indicator,
    probe) or depth (depth gauge), ``u`` the largest standard uncertainty (k = 1) of one settled
    reading on the engine, mounting and mastering included. ``correct`` says that results are
    corrected by the gauge's calibration.
    """

    role: Name
    kind: Literal["indicator", "depth gauge", "probe"]
    resolution: Size
    range: Size
    u: Size
    correct: Annotated[bool, Field(strict=True)] = False

    @property
    def is_comparator(self) -> bool:
        """Whether it compares with a master over its travel, rather than measures from zero."""
        return self.kind != "depth gauge"


class Figures(Form):
    """A nominal and limits for one variant; what is left out is the step's own."""

    nominal: Signed | None = None
    limits: Deviations | None = None
    source: Words | None = None


class Across(Form):
    """``[steps.across]``: limits on several results of one step together.

    ``spread`` is from the largest to the smallest result over all targets, ``neighbour_step`` the
    largest difference between neighbours, ``within`` the range over the points of one target.
    """

    spread: Size | None = None
    neighbour_step: Size | None = None
    within: Size | None = None


class Mounting(Form):
    """``[steps.mounting]``: how far from square the gauge has to stand, and how well that is known.

    ``tilt`` between the plunger and the direction measured, ``u_tilt`` its standard uncertainty,
    both in degrees. Results are corrected by its cosine.
    """

    tilt: Annotated[Degrees, Field(ge=0, le=30)]
    u_tilt: Annotated[Degrees, Field(ge=0, le=10)]


class Expansion(Form):
    """``[steps.expansion]``: how far part and gauge grow, so that a length is stated at 20 °C.

    ``part`` and ``gauge`` (or the setting master, which then carries the scale) are coefficients in
    micrometres for a metre and a kelvin, 11.5 for usual steel; ``u`` the standard uncertainty of
    each, ``u_temperature`` of each temperature, in kelvin. The fitter is asked for both
    temperatures.
    """

    part: Annotated[Ratio, Field(le=100)]
    gauge: Annotated[Ratio, Field(le=100)]
    u: Annotated[Ratio, Field(le=20)]
    u_temperature: Annotated[Ratio, Field(le=20)]


class CrankGear(Form):
    """``[steps.crank_gear]``: what a dead centre is found and checked with.

    ``stroke`` of the piston, ``rod`` length between centres, ``offset`` of the piston pin's line
    from the crank's axis, ``rim`` diameter of the flywheel where its scale lies. ``u_angle`` is the
    standard uncertainty of an angle read there, and ``angles`` are how far from the mark heights
    are taken, furthest first, both in degrees of crank angle.
    """

    stroke: Size
    rod: Size
    offset: Signed | None = None
    rim: Size
    u_angle: Annotated[Degrees, Field(gt=0, le=5)]
    angles: Annotated[tuple[Angle, ...], Field(min_length=1, max_length=8)] = (
        Decimal(40),
        Decimal(30),
    )
