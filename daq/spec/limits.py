"""A specification: what a length should be, how far it may be off, and who says so."""

import re
from decimal import Decimal
from typing import Annotated, Self

from pydantic import (
    BaseModel,
    ConfigDict,
    StringConstraints,
    ValidationError,
    field_validator,
    model_validator,
)

from daq.spec.errors import SpecError
from daq.spec.exact import ExactDecimal
from daq.spec.units import EXACT, LONGEST_MM, LengthUnit, length_mm, unit_of

Words = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=500)]

LIMITS_HINT = (
    "write '+0.02 mm -0.01 mm' (upper first), '± 0.05 mm', 'max +0.05 mm' or 'min -0.05 mm', "
    "as deviations from the nominal"
)

_BOTH_WAYS = re.compile(r"(?:±|\+/-|\+-) ?(?P<size>[^+\-−±/ ].*)")
_ONE_WAY = re.compile(r"(?P<end>max|min) (?P<limit>.+)")
_PAIR = re.compile(
    r"(?P<upper>[+\-−]? ?[0-9.][^+\-−]*?) ?(?:[/;] ?| )(?P<lower>[+\-−] ?.+|0(?:\.0+)?(?: ?\D+)?)"
)
_NO_UNIT = re.compile(r"[+\-−]? ?(?:[0-9]+(?:\.[0-9]+)?|\.[0-9]+)")
_UNIT_AT_END = re.compile(r"(?<![A-Za-zµμ])[A-Za-zµμ]+$|\"$")
_ZERO = re.compile(r"0(\.0+)?")


class Spec(BaseModel):
    """One length: its nominal and its limits, exactly, in millimetres.

    ``lower_mm`` and ``upper_mm`` are deviations from nominal, signed as a drawing prints them: for
    25 +0.02/-0.01 they are -0.01 and +0.02. One of them may be None: a limit on one side only.
    ``unit`` is what the user thinks in and the screen shows. ``source`` names the document, with
    its revision, that the figures are from.

    Numbers are Decimals, ints or decimal text; floats are refused. A value on a limit is within it.

    Raises:
        pydantic.ValidationError: on construction, if it contradicts itself. ``Spec.of`` and
            ``load_spec`` raise ``SpecError`` instead.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    name: Words
    nominal_mm: ExactDecimal
    lower_mm: ExactDecimal | None
    upper_mm: ExactDecimal | None
    unit: LengthUnit = "mm"
    source: Words
    condition: Annotated[str, StringConstraints(strip_whitespace=True, max_length=500)] = ""

    @field_validator("nominal_mm", "lower_mm", "upper_mm")
    @classmethod
    def _of_this_world(cls, value: Decimal | None) -> Decimal | None:
        if value is not None and abs(value) > LONGEST_MM:
            raise ValueError(f"{value} mm is longer than 100 m; check the number and the unit")
        return value

    @model_validator(mode="after")
    def _limits_make_sense(self) -> Self:
        if self.lower_mm is None and self.upper_mm is None:
            raise ValueError("there is no limit at all; give the lower one, the upper one or both")
        if (
            self.lower_mm is not None
            and self.upper_mm is not None
            and not self.lower_mm < self.upper_mm
        ):
            raise ValueError(
                f"the lower limit ({self.lower_mm} mm) must be below the upper one "
                f"({self.upper_mm} mm); both are deviations from the nominal"
            )
        return self

    @property
    def width_mm(self) -> Decimal | None:
        """From limit to limit, in millimetres; None if there is a limit on one side only."""
        if self.lower_mm is None or self.upper_mm is None:
            return None
        return EXACT.subtract(self.upper_mm, self.lower_mm)

    @property
    def aim_mm(self) -> Decimal:
        """The deviation to adjust to: 0, or what lies safest if the nominal is itself no good.

        A drawing may print both limits on one side (25 +0.30/+0.10). Then the aim is the middle
        between them, or the limit itself if there is one only.
        """
        above = self.lower_mm is None or self.lower_mm <= 0
        below = self.upper_mm is None or self.upper_mm >= 0
        if above and below:
            return Decimal(0)
        ends = [end for end in (self.lower_mm, self.upper_mm) if end is not None]
        return EXACT.divide(sum(ends, Decimal(0)), Decimal(len(ends)))

    @classmethod
    def of(
        cls,
        name: str,
        *,
        nominal: str,
        limits: str,
        source: str,
        unit: LengthUnit | None = None,
        condition: str = "",
    ) -> Self:
        """A specification from text, as a person writes it.

        Args:
            name: what is measured.
            nominal: a length with its unit, ``"76.20 mm"``.
            limits: deviations from it, as ``limits_mm`` takes them: ``"+0.02 mm -0.01 mm"``.
            source: the document and revision the figures are from.
            unit: what to show it in; the nominal's own family (mm or in) if not given.
            condition: when it holds, such as ``"cold, 20 °C"``.

        Raises:
            SpecError: with every mistake there is, one a line: ``field: what is wrong``.
        """
        facts: dict[str, object] = {"name": name, "source": source, "condition": condition}
        if unit is not None:
            facts["unit"] = unit
        problems: list[str] = []
        try:
            facts["nominal_mm"] = length_mm(nominal, signed=True)
            facts.setdefault("unit", unit_of(nominal))
        except SpecError as error:
            problems += [f"nominal: {problem}" for problem in error.problems]
            facts["nominal_mm"] = Decimal(0)
        try:
            facts["lower_mm"], facts["upper_mm"] = limits_mm(limits)
        except SpecError as error:
            problems += [f"limits: {problem}" for problem in error.problems]
            facts["lower_mm"], facts["upper_mm"] = Decimal(-1), Decimal(1)
        try:
            spec = cls.model_validate(facts)
        except ValidationError as error:
            problems += [_in_words(dict(one)) for one in error.errors()]
        if problems:
            raise SpecError(*problems)
        return spec


def limits_mm(text: str) -> tuple[Decimal | None, Decimal | None]:
    """The lower and the upper deviation that ``text`` names, in millimetres, exactly.

    Args:
        text: ``"+0.02 mm -0.01 mm"`` with the upper one first, as a drawing prints them; one unit
            at the end serves both (``"+0.02/-0.01 mm"``). ``"± 0.05 mm"`` (or ``+/-``) for limits
            alike on both sides. ``"max +0.05 mm"`` or ``"min -0.05 mm"`` for one side only, the
            other coming back as None. A limit other than zero needs its sign.

    Raises:
        SpecError: it says none of these, a unit is missing, or the limits are swapped.
    """
    if not isinstance(text, str):
        raise SpecError(f"{text!r} has no unit; {LIMITS_HINT}")
    squeezed = " ".join(text.split())
    if match := _BOTH_WAYS.fullmatch(squeezed):
        size = length_mm(match["size"])
        if size == 0:
            raise SpecError(f"{text!r} leaves no room at all; {LIMITS_HINT}")
        return EXACT.minus(size), size
    if match := _ONE_WAY.fullmatch(squeezed):
        limit = _deviation(match["limit"], "")
        return (limit, None) if match["end"] == "min" else (None, limit)
    match = _PAIR.fullmatch(squeezed)
    if match is None:
        raise SpecError(f"{text!r} does not name limits; {LIMITS_HINT}")
    unit_at_end = _UNIT_AT_END.search(squeezed)
    shared = unit_at_end[0] if unit_at_end else ""
    upper, lower = _deviation(match["upper"], shared), _deviation(match["lower"], shared)
    if not lower < upper:
        raise SpecError(
            f"{text!r} has its limits swapped or equal: the upper one comes first, and is larger"
        )
    return lower, upper


def _deviation(text: str, shared_unit: str) -> Decimal:
    """One signed deviation; a bare number takes the unit written once for both."""
    written = text.strip()
    if shared_unit and _NO_UNIT.fullmatch(written):
        written = f"{written} {shared_unit}"
    deviation = length_mm(written, signed=True)
    if deviation != 0 and written[0] not in "+-−":
        raise SpecError(f"{written!r} has no sign; write +{written} or -{written}")
    return deviation


def _in_words(error: dict[str, object]) -> str:
    """One of pydantic's findings as ``field: what is wrong``."""
    location = error["loc"]
    assert isinstance(location, tuple)
    field = str(location[0]).removesuffix("_mm") if location else "limits"
    kind = error["type"]
    if kind == "string_too_short":
        what = (
            "it is empty; say the document and its revision" if field == "source" else "it is empty"
        )
    elif kind == "literal_error":
        what = f"{error['input']!r} is no unit to show it in; write mm or in"
    elif kind == "string_type":
        what = f"{error['input']!r} is not text; write it in quotes"
    else:
        what = str(error["msg"]).removeprefix("Value error, ")
    return f"{field}: {what}"
