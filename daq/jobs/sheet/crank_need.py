"""Where the crank must stand for a step, as a sheet writes it."""

import re
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator

from daq.jobs.engine import Engine, EngineError
from daq.jobs.phase import Position

Manner = Literal["any", "plan", "turn", "own", "cylinder"]
"""Which of the ways it is; see ``CrankNeed``."""

_FIXED: dict[str, Manner] = {
    "any": "any",
    "where the plan allows": "plan",
    "barred through a turn": "turn",
}
_PLACE = re.compile(
    r"(?:own|cylinder (?P<cylinder>[A-Za-z0-9]{1,4})(?: at)?) "
    r"(?:(?P<deg>[0-9]{1,3}(?:\.[0-9]{1,3})?) ?(?:°|deg|degrees)? ?(?P<side>before|after) )?"
    r"(?P<centre>firing|overlap) TDC",
    re.IGNORECASE,
)
HINT = (
    'write "any", "where the plan allows", "barred through a turn", "own firing TDC" or a '
    'place such as "cylinder 1 at firing TDC"'
)


@dataclass(frozen=True, slots=True)
class CrankNeed:
    """Where the crank must stand for each target of a step.

    ``manner`` is ``any`` (it does not matter), ``plan`` (where the crank plan allows it to be set),
    ``turn`` (it is barred through a whole turn), ``own`` (at a dead centre of the target's
    own cylinder) or ``cylinder`` (at a dead centre of the ``cylinder`` named). ``after_deg`` is
    how far past that dead centre in running direction; below zero is before it.
    """

    manner: Manner
    text: str
    cylinder: str | None = None
    overlap: bool = False
    after_deg: Fraction = Fraction(0)

    def __str__(self) -> str:
        return self.text

    def position(self, engine: Engine, own_cylinder: str | None = None) -> Position | None:
        """The one position that is needed; None where there is none, or the plan has to say.

        Args:
            engine: whose crank it is.
            own_cylinder: the target's own cylinder, where the need is for its dead centre.

        Raises:
            EngineError: there is no such cylinder, or a two-stroke is asked for its overlap.
        """
        name = own_cylinder if self.manner == "own" else self.cylinder
        if name is None or self.manner not in ("own", "cylinder"):
            return None
        return engine.position(name, overlap=self.overlap, after_deg=self.after_deg)


def crank_position(text: str, engine: Engine) -> Position:
    """The position of an engine's crank that ``text`` names: ``cylinder 3 at firing TDC``.

    Raises:
        EngineError: it names none, or none of this engine.
    """
    try:
        position = _need(text).position(engine)
    except ValueError:
        position = None
    if position is None:
        raise EngineError(
            f'"{text}" is no place of the crank; write "cylinder 3 at firing TDC" or '
            '"cylinder 3 30° before firing TDC"'
        )
    return position


def _need(given: Any) -> CrankNeed:
    if isinstance(given, CrankNeed):
        return given
    if not isinstance(given, str):
        raise ValueError(f"{given!r} is no position of the crank; {HINT}")
    words = " ".join(given.split())
    if words in _FIXED:
        return CrankNeed(_FIXED[words], words)
    match = _PLACE.fullmatch(words)
    if match is None or (match["deg"] and Decimal(match["deg"]) >= 360):
        raise ValueError(f"{given!r} is no position of the crank; {HINT}")
    after = Fraction(match["deg"] or 0) * (-1 if (match["side"] or "").lower() == "before" else 1)
    return CrankNeed(
        manner="cylinder" if match["cylinder"] else "own",
        text=words,
        cylinder=match["cylinder"],
        overlap=match["centre"].lower() == "overlap",
        after_deg=after,
    )


Crank = Annotated[CrankNeed, BeforeValidator(_need)]
"""A position of the crank in words; see ``HINT``."""
