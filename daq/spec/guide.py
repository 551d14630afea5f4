"""Which way to turn the adjuster, and how far, in words a hand can follow."""

import re
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache
from typing import Annotated, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, ValidationError, field_validator

from daq.spec.errors import SpecError
from daq.spec.exact import ExactDecimal
from daq.spec.limits import Spec
from daq.spec.units import LengthUnit, exact_mm, shown_in

MM_PER_INCH = Fraction(127, 5)

# Parts of a turn that a hand on a screwdriver can judge.
_SIXTEENTHS = (0, 1, 2, 3, 4, 6, 8, 10, 12, 14, 16)
_PARTS = (*(Fraction(part, 16) for part in _SIXTEENTHS), Fraction(1, 3), Fraction(2, 3))
_HAIR = Fraction(1, 24)
"""Up to 15 degrees is called a hair: less than the nearest part a hand can judge."""

_MANY_TURNS = 20

_METRIC = re.compile(
    r"M(?P<size>[0-9]+(?:\.[0-9]+)?) ?[xX×] ?(?P<pitch>[0-9]+(?:\.[0-9]+)?|\.[0-9]+)"
)
_UNIFIED = re.compile(
    r"(?:#(?P<number>[0-9]{1,2})|(?:(?P<whole>[0-9]) )?(?P<top>[0-9]{1,2})/(?P<bottom>[0-9]{1,2})"
    r"|(?P<inches>[0-9]))-(?P<tpi>[0-9]{1,2}(?:\.5)?)(?: UN(?:C|F|EF|S)?)?"
)
_PITCH = re.compile(r"pitch (?P<pitch>[0-9]+(?:\.[0-9]+)?|\.[0-9]+) mm")
_TPI = re.compile(r"(?P<tpi>[0-9]{1,2}(?:\.5)?) tpi")
_THREAD_HINT = "write it as M10x1.5, 1/4-28 UNF, #10-32 UNF, 'pitch 0.75 mm' or '40 tpi'"


@lru_cache(maxsize=64)
def pitch_mm(thread: str) -> Fraction:
    """The pitch of a single-start thread in millimetres, exactly.

    Args:
        thread: metric with its pitch (``"M10x1.5"``), unified with its threads per inch
            (``"1/4-28 UNF"``, ``"#10-32 UNF"``), or plain: ``"pitch 0.75 mm"``, ``"40 tpi"``.

    Raises:
        SpecError: it is none of these. ``"M10"`` alone is refused: a fine thread would be
            adjusted wrongly.

    Source: a pitch is 25.4 mm over the threads per inch. Designations after ISO 261 and ASME B1.1.
    """
    squeezed = " ".join(thread.split())
    if match := _METRIC.fullmatch(squeezed):
        size, pitch = Fraction(match["size"]), Fraction(match["pitch"])
        # No standard thread is coarser than a quarter of its size but the very smallest; M10x15
        # is a lost point.
        if not 0 < pitch <= size / 3:
            raise SpecError(f"{thread!r}: that pitch does not go with that size; {_THREAD_HINT}")
    elif match := _UNIFIED.fullmatch(squeezed):
        if match["bottom"] and int(match["bottom"]) not in (2, 4, 8, 16):
            raise SpecError(f"{thread!r}: there is no such size in inches; {_THREAD_HINT}")
        pitch = _pitch_of_tpi(match["tpi"], thread)
    elif match := _PITCH.fullmatch(squeezed):
        pitch = Fraction(match["pitch"])
    elif match := _TPI.fullmatch(squeezed):
        pitch = _pitch_of_tpi(match["tpi"], thread)
    else:
        raise SpecError(f"{thread!r} is not a thread with its pitch; {_THREAD_HINT}")
    if not Fraction(1, 20) <= pitch <= 10:
        raise SpecError(f"{thread!r}: no adjuster has a pitch of {float(pitch):g} mm")
    return pitch


class Adjuster(BaseModel):
    """The screw that is turned to set a length, and what it does to the reading.

    ``thread`` is as ``pitch_mm`` reads it. ``lever_ratio`` is how far the gauge moves when the
    screw moves by 1, as through a rocker. ``clockwise`` says what turning clockwise, as seen
    from the hand, does to the reading. ``clicks_per_turn`` is for a screw with detents.

    Raises:
        pydantic.ValidationError: on construction, if a figure makes no sense.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    thread: str
    clockwise: Literal["raises", "lowers"]
    lever_ratio: Annotated[ExactDecimal, Field(gt=0, le=1000)] = Decimal(1)
    clicks_per_turn: Annotated[int, Field(ge=1, le=1000, strict=True)] | None = None

    @field_validator("thread")
    @classmethod
    def _has_a_pitch(cls, thread: str) -> str:
        try:
            pitch_mm(thread)
        except SpecError as error:
            raise ValueError(str(error)) from error
        return thread

    @property
    def pitch_mm(self) -> Fraction:
        """How far the screw itself moves in a turn, in millimetres, exactly."""
        return pitch_mm(self.thread)

    @property
    def mm_per_turn(self) -> Fraction:
        """How far the reading moves in a turn, in millimetres, exactly."""
        return self.pitch_mm * Fraction(self.lever_ratio)

    @classmethod
    def of(cls, **facts: object) -> Self:
        """An adjuster from its fields.

        Raises:
            SpecError: with every mistake there is, one a line.
        """
        try:
            return cls.model_validate(facts)
        except ValidationError as error:
            raise SpecError(
                *(
                    f"{'.'.join(str(part) for part in one['loc'])}: "
                    f"{one['msg'].removeprefix('Value error, ')}"
                    for one in error.errors()
                )
            ) from error


@dataclass(frozen=True, slots=True)
class Guidance:
    """What the hand should do next."""

    reading_must: Literal["rise", "fall", "stay"]
    """What has to happen to the reading."""

    direction: Literal["clockwise", "anticlockwise", "none"]
    """Which way to turn; none without an adjuster, or when it is to be left."""

    turns: Fraction
    """How many turns, exactly, never negative."""

    degrees: float
    """The same as an angle."""

    clicks: float | None
    """The same in detent clicks, not rounded; None for a screw without."""

    amount: str
    """The turn in the parts that a hand can judge: ``"1/8"``, ``"2 3/8"``, ``"hair"``; or empty."""

    words: str
    """All of it in words: ``"clockwise 1/8 turn (45°), about 3 clicks"``."""


def guide(
    deviation_mm: Decimal | float,
    adjuster: Adjuster | None = None,
    *,
    dead_band_mm: Decimal = Decimal(0),
    unit: LengthUnit = "mm",
    step_mm: Decimal = Decimal("0.001"),
) -> Guidance:
    """How to bring a deviation to zero.

    Args:
        deviation_mm: value minus what it should be, millimetres; positive is too high.
        adjuster: the screw; without one the words say only how far the reading must move.
        dead_band_mm: within this, 0 or more, it is left alone; see ``dead_band_mm``.
        unit: what words without an adjuster are in.
        step_mm: the step those words are rounded to, millimetres.

    Returns:
        The turn with its exact size. Words round it to a part of a turn that a hand can judge,
        and give the angle to the degree.

    Raises:
        SpecError: the deviation is not a finite length, or the dead band is below zero.
    """
    exact = exact_mm(deviation_mm)
    if not (dead_band_mm.is_finite() and dead_band_mm >= 0):
        raise SpecError(f"a dead band of {dead_band_mm} mm is none; it must be 0 or more")
    if abs(exact) <= dead_band_mm:
        return Guidance("stay", "none", Fraction(0), 0.0, None, "", "leave it")
    must: Literal["rise", "fall"] = "fall" if exact > 0 else "rise"
    if adjuster is None:
        words = _move_words(must, abs(exact), unit, step_mm)
        return Guidance(must, "none", Fraction(0), 0.0, None, "", words)
    turns = Fraction(abs(exact)) / adjuster.mm_per_turn
    clockwise = (adjuster.clockwise == "raises") == (must == "rise")
    direction: Literal["clockwise", "anticlockwise"] = "clockwise" if clockwise else "anticlockwise"
    per_turn = adjuster.clicks_per_turn
    clicks = None if per_turn is None else turns * per_turn
    words = _turn_words(direction, turns)
    if clicks is not None:
        words += f", {_click_words(clicks)}"
    if turns > _MANY_TURNS:
        words += "; that is far: check the gauge's unit, and that this is the right screw"
    degrees = float(turns * 360)
    amount = "hair" if turns < _HAIR else _mixed(_judged(turns))
    in_clicks = None if clicks is None else float(clicks)
    return Guidance(must, direction, turns, degrees, in_clicks, amount, words)


def dead_band_mm(spec: Spec, step_mm: Decimal, share: Decimal = Decimal("0.1")) -> Decimal:
    """How near to the aim is near enough to leave it, in millimetres.

    The larger of half a display step, which nobody can see, and ``share`` of the room between the
    aim and the nearer limit, which is not worth loosening a lock nut for. Never more than the room.

    Args:
        spec: the limits.
        step_mm: the gauge's display step, millimetres.
        share: of the room to the nearer limit, 0 to 1.
    """
    ends = (spec.lower_mm, spec.upper_mm)
    room_mm = min(abs(end - spec.aim_mm) for end in ends if end is not None)
    return min(max(step_mm / 2, share * room_mm), room_mm)


def _pitch_of_tpi(tpi: str, thread: str) -> Fraction:
    if Fraction(tpi) == 0:
        raise SpecError(f"{thread!r} has no threads; {_THREAD_HINT}")
    return MM_PER_INCH / Fraction(tpi)


def _move_words(must: str, size_mm: Decimal, unit: LengthUnit, step_mm: Decimal) -> str:
    verb = "raise" if must == "rise" else "lower"
    shown = shown_in(size_mm, unit, step_mm, sign=False)
    if not any(digit in shown for digit in "123456789"):
        return f"{verb} a hair"
    return f"{verb} {shown}"


def _turn_words(direction: str, turns: Fraction) -> str:
    degrees = round(turns * 360)
    angle = f"{degrees}°" if degrees else "under 1°"
    if turns < _HAIR:
        return f"a hair {direction} ({angle})"
    judged = _judged(turns)
    about = "about " if abs(judged - turns) * 360 > Fraction(3, 2) else ""
    return f"{direction} {about}{_mixed(judged)} {'turn' if judged <= 1 else 'turns'} ({angle})"


def _judged(turns: Fraction) -> Fraction:
    """The nearest turn that a hand can judge."""
    whole, rest = divmod(turns, 1)
    return whole + min(_PARTS, key=lambda candidate: (abs(candidate - rest), candidate))


def _mixed(turns: Fraction) -> str:
    whole, rest = divmod(turns, 1)
    if rest == 0:
        return str(whole)
    return f"{whole} {rest}" if whole else str(rest)


def _click_words(clicks: Fraction) -> str:
    nearest = round(clicks)
    if nearest == 0:
        return "less than half a click"
    return f"about {nearest} {'click' if nearest == 1 else 'clicks'}"
