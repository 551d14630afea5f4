"""Decision rules: what is done with the uncertainty when a value is held against its limits.

A rule turns a standard uncertainty into two guards: how far inside the limits a value must lie to
be accepted, and how far outside to be rejected. Between the two, it is too close to call.
"""

import re
from dataclasses import dataclass
from decimal import ROUND_CEILING, Context, Decimal
from statistics import NormalDist
from typing import Annotated, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, model_validator

from daq.spec.errors import SpecError
from daq.spec.exact import ExactDecimal
from daq.spec.probability import guard_factor

# A guard worked out from a probability is rounded up, so that it never falls short of it.
_UPWARDS = Context(prec=12, rounding=ROUND_CEILING)


@dataclass(frozen=True, slots=True)
class Guards:
    """The guards a rule sets for one uncertainty and one pair of limits, in millimetres."""

    accept_mm: Decimal | None
    """How far inside a limit a value must lie to be accepted; None if no value can be."""

    reject_mm: Decimal
    """How far outside a limit a value must lie, more than this, to be called low or high."""

    why_none: str = ""
    """Why no value can be accepted, or empty."""


class _Rule(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class SimpleAcceptance(_Rule):
    """In if within the limits, with no guard band: the risk near a limit is shared.

    ``ratio`` bounds that risk: the limits must be at least ``ratio`` times as far apart as the
    width of the uncertainty interval, 2U with U = k·u. If they are not, nothing is accepted, and
    only a value outside a limit by more than U is rejected.

    Source: JCGM 106:2012, 8.2; ASME B89.7.3.1-2001 (simple acceptance with an N:1 rule).
    """

    rule: Literal["simple"] = "simple"
    ratio: Annotated[ExactDecimal, Field(ge=1, le=100)] | None = None
    k: Annotated[ExactDecimal, Field(ge=1, le=5)] = Decimal(2)

    @model_validator(mode="after")
    def _k_serves_the_ratio(self) -> Self:
        if self.ratio is None and self.k != 2:
            raise ValueError("k has no meaning in simple acceptance without a ratio; leave it out")
        return self

    @property
    def needs_u(self) -> bool:
        """Whether the rule can say nothing without an uncertainty."""
        return self.ratio is not None

    def guards(self, u_mm: Decimal, width_mm: Decimal | None) -> Guards:
        """The guards for standard uncertainty ``u_mm`` and limits ``width_mm`` apart.

        Raises:
            SpecError: there is a ratio to hold, but a limit on one side only.
        """
        if self.ratio is None:
            return Guards(Decimal(0), Decimal(0))
        if width_mm is None:
            raise SpecError(
                f"a {self.ratio}:1 rule needs limits on both sides; "
                "use a guard band where there is only one"
            )
        expanded_mm = self.k * u_mm
        if width_mm >= self.ratio * 2 * expanded_mm:
            return Guards(Decimal(0), Decimal(0))
        largest_mm = width_mm / (2 * self.ratio)
        why = (
            f"for a {self.ratio}:1 rule between limits {width_mm:f} mm apart, U may be at most "
            f"{largest_mm:.4g} mm and is {expanded_mm:.4g} mm (k = {self.k})"
        )
        return Guards(None, expanded_mm, why)

    def __str__(self) -> str:
        return "simple" if self.ratio is None else f"simple {self.ratio:f}:1{_k_text(self.k)}"

    def in_words(self) -> str:
        """The rule as a sentence for a report."""
        if self.ratio is None:
            return "Simple acceptance: in if on or within the limits, without a guard band."
        return (
            f"Simple acceptance where the limits are at least {self.ratio:f} times as far apart as "
            f"the uncertainty interval 2U is wide (U = {self.k:f}·u)."
        )


class GuardBand(_Rule):
    """In if inside the limits by at least w = r·U; low or high if outside by more than w.

    U = k·u. The factor ``r`` is agreed beforehand; 1 is the usual one, 0 is simple acceptance.

    Source: JCGM 106:2012, 8.3 (guard bands); ILAC-G8:09/2019 (choices of r).
    """

    rule: Literal["guarded"] = "guarded"
    r: Annotated[ExactDecimal, Field(ge=0, le=10)] = Decimal(1)
    k: Annotated[ExactDecimal, Field(ge=1, le=5)] = Decimal(2)

    @property
    def needs_u(self) -> bool:
        """Whether the rule can say nothing without an uncertainty: always."""
        return True

    def guards(self, u_mm: Decimal, width_mm: Decimal | None) -> Guards:
        """The guards for standard uncertainty ``u_mm`` and limits ``width_mm`` apart."""
        guard_mm = self.r * self.k * u_mm
        if width_mm is None or 2 * guard_mm <= width_mm:
            return Guards(guard_mm, guard_mm)
        why = (
            f"two guard bands of {guard_mm:.4g} mm leave nothing between limits "
            f"{width_mm:f} mm apart"
        )
        return Guards(None, guard_mm, why)

    def __str__(self) -> str:
        return f"guarded {self.r:f}U{_k_text(self.k)}"

    def in_words(self) -> str:
        """The rule as a sentence for a report."""
        return (
            f"Guarded acceptance: in if inside the limits by at least {self.r:f}·U, low or high if "
            f"outside by more than that (U = {self.k:f}·u)."
        )


class ConformanceProbability(_Rule):
    """In if the length is within the limits with at least the probability ``p``.

    Low or high if it is beyond that limit with more than the probability ``p``. Where the limits
    are narrow both of them count, and the guard grows; below a width of about 3.92 u no value at
    all can be accepted at 95 %.

    Source: JCGM 106:2012, 8.3 with 7.3 and 7.4; ISO 14253-1:2017, whose default is 95 %.
    """

    rule: Literal["probability"] = "probability"
    p: ExactDecimal = Decimal("0.95")

    @model_validator(mode="after")
    def _between_half_and_one(self) -> Self:
        if not Decimal("0.5") < self.p <= Decimal("0.999999"):
            raise ValueError(
                f"a conformance probability must lie above 50 % and be at most 99.9999 %, "
                f"not {self.p * 100:f} %"
            )
        return self

    @property
    def needs_u(self) -> bool:
        """Whether the rule can say nothing without an uncertainty: always."""
        return True

    def guards(self, u_mm: Decimal, width_mm: Decimal | None) -> Guards:
        """The guards for standard uncertainty ``u_mm`` and limits ``width_mm`` apart."""
        if u_mm == 0:
            return Guards(Decimal(0), Decimal(0))
        p = float(self.p)
        reject = guard_factor(p)
        assert reject is not None  # with one limit there is always room
        reject_mm = _UPWARDS.multiply(Decimal(reject), u_mm)
        if width_mm is None:
            return Guards(reject_mm, reject_mm)
        width_over_u = float(width_mm / u_mm)
        accept = guard_factor(p, width_over_u)
        if accept is None:
            needed = 2 * NormalDist().inv_cdf((1 + p) / 2)
            why = (
                f"the limits are only {width_over_u:.2f} standard uncertainties "
                f"apart, and {_percent(self.p)} % needs {needed:.2f}"
            )
            return Guards(None, reject_mm, why)
        return Guards(_UPWARDS.multiply(Decimal(accept), u_mm), reject_mm)

    def __str__(self) -> str:
        return f"guarded {_percent(self.p)}%"

    def in_words(self) -> str:
        """The rule as a sentence for a report."""
        return (
            f"Guarded acceptance: in if within the limits with a probability of at least "
            f"{_percent(self.p)} %, low or high if beyond one with more than that."
        )


DecisionRule = Annotated[
    SimpleAcceptance | GuardBand | ConformanceProbability, Field(discriminator="rule")
]
"""Any of the rules. As a model field it is told apart by its ``rule``."""

ISO_14253_1 = ConformanceProbability(p=Decimal("0.95"))
"""The default of ISO 14253-1:2017: proved with at least 95 %."""

_SIMPLE = re.compile(r"simple(?: (?P<ratio>[0-9.]+):1)?(?: k=(?P<k>[0-9.]+))?")
_GUARDED = re.compile(r"guarded (?P<r>[0-9.]+) ?U(?: k=(?P<k>[0-9.]+))?")
_PROBABLE = re.compile(r"guarded (?P<percent>[0-9.]+) ?%")


def rule_from(text: str) -> DecisionRule:
    """The decision rule that ``text`` names; ``str(rule)`` gives the text back.

    Args:
        text: ``"simple"``, ``"simple 4:1"``, ``"guarded 1U"`` or ``"guarded 95%"``. U is taken at
            k = 2 unless ``k=`` follows: ``"guarded 1U k=3"``.

    Raises:
        SpecError: it names none, or its figures make no sense.
    """
    squeezed = " ".join(text.split())
    try:
        if match := _SIMPLE.fullmatch(squeezed):
            facts = {name: figure for name, figure in match.groupdict().items() if figure}
            if "k" not in facts or "ratio" in facts:
                return SimpleAcceptance.model_validate(facts)
        if match := _GUARDED.fullmatch(squeezed):
            facts = {name: figure for name, figure in match.groupdict().items() if figure}
            return GuardBand.model_validate(facts)
        if match := _PROBABLE.fullmatch(squeezed):
            return ConformanceProbability(p=Decimal(match["percent"]).scaleb(-2))
    except (ValueError, ArithmeticError) as error:
        raise SpecError(f"{text!r} is no decision rule: its figure makes no sense") from error
    raise SpecError(
        f"{text!r} is no decision rule; write simple, 'simple 4:1', 'guarded 1U' or 'guarded 95%'"
    )


def _percent(p: Decimal) -> str:
    percent = f"{p * 100:f}"
    return percent.rstrip("0").rstrip(".") if "." in percent else percent


def _k_text(k: Decimal) -> str:
    return "" if k == 2 else f" k={k:f}"
