"""What a person writes down of reference standards and gauges, and the register's records hold.

Keys in a file have no unit in their name, since the text beside them does (``step = "0.001 mm"``);
the attribute that holds it does (``step_mm``). ``model_dump(mode="json", by_alias=True)`` gives
the text form back, and ``model_validate`` reads it.
"""

from collections.abc import Iterator
from datetime import date
from decimal import Decimal
from itertools import pairwise
from typing import Annotated, Literal, Self

from pydantic import AfterValidator, Field, model_validator

from daq.calibration.fields import (
    Day,
    Expansion,
    LengthMm,
    Name,
    Number,
    SizeMm,
    Words,
    brief_mm,
)
from daq.calibration.policy import FixedInterval, Interval
from drivers.form import Form

StandardKind = Literal["block set", "bench", "flat"]
GaugeKind = Literal["indicator", "depth gauge", "probe"]
ZeroAt = Literal["fixed", "floating"]


def _coverage(k: Decimal) -> Decimal:
    if not 1 <= k <= 4:
        raise ValueError(f"a coverage factor of {k} is none; certificates mostly have 2")
    return k


class CertifiedLength(Form):
    """``[[standards.values]]``: one length of a standard's own certificate.

    ``length`` is the calibrated value, ``expanded_u`` its expanded uncertainty and ``k`` the
    coverage factor of that.
    """

    nominal_mm: LengthMm = Field(alias="nominal")
    length_mm: LengthMm = Field(alias="length")
    expanded_u_mm: SizeMm = Field(alias="expanded_u")
    k: Annotated[Number, AfterValidator(_coverage)]

    @property
    def u_mm(self) -> Decimal:
        """The standard uncertainty (k = 1)."""
        return self.expanded_u_mm / self.k

    @property
    def deviation_mm(self) -> Decimal:
        """The calibrated length minus the nominal one."""
        return self.length_mm - self.nominal_mm

    @model_validator(mode="after")
    def _is_near_its_nominal(self) -> Self:
        # A block of the poorest grade is within micrometres; more is a slip of the pen.
        if abs(self.deviation_mm) > Decimal("0.05"):
            raise ValueError(
                f"length: it is {brief_mm(abs(self.deviation_mm))} from its nominal "
                f"{brief_mm(self.nominal_mm)}; check both"
            )
        return self


class ReferenceStandard(Form):
    """``[[standards]]``: something whose lengths are known from a certificate of its own.

    A ``block set`` makes up lengths from single blocks. A ``bench`` can be set to any length
    between its first value and its last. A ``flat`` is a plane on which a gauge is zeroed.
    ``drift_per_year`` bounds how far a length may have changed in a year. ``valid_from`` and
    ``due`` are the first and the last day on which it may be used.
    """

    id: Name
    kind: StandardKind
    what: Words
    certificate: Words
    issuer: Words
    values: Annotated[tuple[CertifiedLength, ...], Field(min_length=1, max_length=300)]
    expansion: Expansion
    u_expansion: Expansion
    drift_per_year_mm: LengthMm = Field(alias="drift_per_year")
    valid_from: Day
    due: Day

    def why_unusable(self, on: date) -> str:
        """Why it may not be used on a day; empty if it may."""
        if on > self.due:
            return f"{self.id} was due on {self.due}; have it calibrated, or take another"
        if on < self.valid_from:
            return f"{self.id} has a certificate from {self.valid_from} on, and it is {on}"
        return ""

    def value(self, nominal_mm: Decimal) -> CertifiedLength | None:
        """The value on its certificate for this nominal length; None if there is none."""
        return next((each for each in self.values if each.nominal_mm == nominal_mm), None)

    @model_validator(mode="after")
    def _is_consistent(self) -> Self:
        if problems := "\n".join(self._problems()):
            raise ValueError(problems)
        return self

    def _problems(self) -> Iterator[str]:
        if not self.valid_from < self.due:
            yield f"due: {self.due} is not after {self.valid_from}, the first day; check both"
        nominals = [each.nominal_mm for each in self.values]
        for place, nominal_mm in enumerate(nominals):
            at = f"values.{place + 1}.nominal"
            if nominal_mm in nominals[:place]:
                yield f"{at}: {brief_mm(nominal_mm)} stands twice; take one out"
            elif self.kind == "block set" and nominal_mm == 0:
                yield f"{at}: a block of no length is none; a plane is a standard of kind flat"
            elif self.kind == "flat" and nominal_mm != 0:
                yield f"{at}: a flat is where a gauge is zeroed; write nominal = " + '"0 mm"'
        if self.kind == "flat" and len(nominals) > 1:
            yield "values: a flat has one value; make a standard of its own for another"
        if self.kind == "bench":
            if len(nominals) < 2:
                yield "values: a bench needs its first value and its last at least"
            if any(one > other for one, other in pairwise(nominals)):
                yield "values: the values of a bench go from the shortest to the longest"


class PermissibleErrors(Form):
    """``[gauges.limits]``: how far a gauge may err; all of them above zero.

    ``over_range`` is for the error over the full range, with the zero ``fixed`` where it was set
    or ``floating`` to where it suits best. ``over_partial`` is for the error within any piece of
    the range of length ``partial``. ``hysteresis`` is for the difference between the two
    directions at one point, ``repeatability`` for the range of repeated readings.
    """

    source: Words
    over_range_mm: SizeMm = Field(alias="over_range")
    zero: ZeroAt = "floating"
    over_partial_mm: SizeMm | None = Field(None, alias="over_partial")
    partial_mm: SizeMm | None = Field(None, alias="partial")
    hysteresis_mm: SizeMm | None = Field(None, alias="hysteresis")
    repeatability_mm: SizeMm | None = Field(None, alias="repeatability")

    def named(self) -> Iterator[tuple[str, Decimal]]:
        """Every limit there is: its key in the file, and the limit in millimetres."""
        for key in ("over_range", "over_partial", "hysteresis", "repeatability"):
            limit_mm: Decimal | None = getattr(self, f"{key}_mm")
            if limit_mm is not None:
                yield key, limit_mm

    @model_validator(mode="after")
    def _is_consistent(self) -> Self:
        if problems := "\n".join(self._problems()):
            raise ValueError(problems)
        return self

    def _problems(self) -> Iterator[str]:
        if self.partial_mm is None and self.over_partial_mm is not None:
            yield 'partial: is missing; say over which length: partial = "1 mm"'
        if self.over_partial_mm is None:
            if self.partial_mm is not None:
                yield 'over_partial: is missing; add the limit: over_partial = "…"'
        elif self.zero == "floating" and self.over_partial_mm > self.over_range_mm:
            yield (
                f"over_partial: {brief_mm(self.over_partial_mm)} is more than over the full range "
                f"({brief_mm(self.over_range_mm)}), so it could never be exceeded; check both"
            )


class GaugeIdentity(Form):
    """``[[gauges]]``: a gauge that is calibrated, known by its label and its adapter's identity.

    ``expansion`` is of its scale. ``interval`` says when it is due again.
    """

    label: Name
    identity: Name | None = None
    kind: GaugeKind
    range_mm: SizeMm = Field(alias="range")
    step_mm: SizeMm = Field(alias="step")
    profile: Name
    expansion: Expansion = Decimal("11.5")
    u_expansion: Expansion = Decimal(2)
    limits: PermissibleErrors
    interval: Interval = FixedInterval(kind="fixed", months=12)

    @model_validator(mode="after")
    def _is_consistent(self) -> Self:
        if problems := "\n".join(self._problems()):
            raise ValueError(problems)
        return self

    def _problems(self) -> Iterator[str]:
        if self.step_mm * 10 > self.range_mm:
            yield (
                f"step: {brief_mm(self.step_mm)} is too coarse for a range of "
                f"{brief_mm(self.range_mm)}; check both"
            )
        for key, limit_mm in self.limits.named():
            if limit_mm < self.step_mm:
                yield (
                    f"limits.{key}: {brief_mm(limit_mm)} is less than the display step "
                    f"({brief_mm(self.step_mm)}), and no reading could show it kept"
                )
        partial_mm = self.limits.partial_mm
        if partial_mm is not None and partial_mm >= self.range_mm:
            yield (
                f"limits.partial: {brief_mm(partial_mm)} is no part of a range of "
                f"{brief_mm(self.range_mm)}; write a shorter one"
            )
