"""Valve timing as the trade gives it, and the arcs of crank angle that it means.

The phase of a cylinder is the crank angle in degrees since its own firing top dead centre, in
running direction. A four-stroke cylinder passes bottom dead centre at 180, overlap top dead centre
at 360 and bottom dead centre again at 540; a two-stroke cylinder passes bottom dead centre at 180.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, ValidationInfo

from daq.jobs.names import Degrees, Kind
from drivers.form import Form

Stroke = Literal["four", "two"]

CYCLE_DEG: dict[Stroke, int] = {"four": 720, "two": 360}
"""Degrees of crank angle from one firing of a cylinder to its next."""

EXAMPLES = {
    "ivo": "15 before TDC",
    "ivc": "40 after BDC",
    "evo": "50 before BDC",
    "evc": "15 after TDC",
}
"""By name of an event: how a sheet writes it."""

_WORDS = re.compile(
    r"(?P<deg>[0-9]{1,3}(?:\.[0-9]{1,3})?) ?(?:°|deg|degrees)? ?"
    r"(?P<side>before|after|b|a) ?(?P<centre>tdc|bdc)",
    re.IGNORECASE,
)

_FOUR_STROKE: dict[str, tuple[str, int]] = {
    "ivo": ("TDC", 360),
    "ivc": ("BDC", 540),
    "evo": ("BDC", 180),
    "evc": ("TDC", 360),
}
"""By name of an event: the dead centre it is counted from in a four-stroke, and its phase."""

_EVENTS: dict[Kind, tuple[str, str]] = {"intake": ("ivo", "ivc"), "exhaust": ("evo", "evc")}


@dataclass(frozen=True, slots=True)
class Arc:
    """Where a valve is off its base circle, both ends included, in degrees of phase."""

    opens_deg: Fraction
    closes_deg: Fraction

    def clearance_deg(self, phase_deg: Fraction, cycle_deg: int) -> Fraction:
        """How far the phase is from the arc, whichever end is nearer.

        Returns:
            Degrees, above zero where the valve is closed; zero or less where it is open.
        """
        past = (phase_deg - self.opens_deg) % cycle_deg
        length = self.closes_deg - self.opens_deg
        if past <= length:
            return -min(past, length - past)
        return min(past - length, cycle_deg - past)


MIDDLE: dict[Stroke, dict[Kind, Arc]] = {
    "four": {
        "intake": Arc(Fraction(400), Fraction(480)),
        "exhaust": Arc(Fraction(200), Fraction(330)),
    },
    "two": {
        "intake": Arc(Fraction(160), Fraction(200)),
        "exhaust": Arc(Fraction(160), Fraction(200)),
    },
}
"""Where a valve of any ordinary engine is open, whatever its timing: the middle of its stroke."""


def _event(given: Any, info: ValidationInfo) -> str:
    """An event in one way of writing: ``15 before TDC``."""
    example = EXAMPLES[str(info.field_name)]
    if not isinstance(given, str):
        raise ValueError(f'{given} has no dead centre; write it in quotes: "{example}"')
    match = _WORDS.fullmatch(given.strip())
    if match is None:
        raise ValueError(f'"{given}" is no time of a valve; write it as "{example}"')
    if Decimal(match["deg"]) > 120:
        raise ValueError(f'"{given}" is more than 120° from its dead centre; write "{example}"')
    side = "before" if match["side"].lower() in ("b", "before") else "after"
    return f"{match['deg']} {side} {match['centre'].upper()}"


Event = Annotated[str, BeforeValidator(_event)]
"""When a valve opens or closes, such as ``15 before TDC`` (``15 BTDC`` is taken too)."""


class ValveTiming(Form):
    """When the valves open and close, in degrees of crank angle from a dead centre.

    ``ivo`` and ``ivc``: intake opens and closes; ``evo`` and ``evc``: exhaust. They mean the whole
    time off the base circle, ramps and all. Timing is often given at some lift instead, which is
    shorter; ``keep_clear`` is how many degrees a plan made from the timing stays away from it.
    """

    ivo: Event | None = None
    ivc: Event | None = None
    evo: Event | None = None
    evc: Event | None = None
    keep_clear: Annotated[Degrees, Field(ge=0, le=50)] = Decimal(20)

    def problems(self, stroke: Stroke, counts: dict[Kind, int]) -> Iterator[str]:
        """What is wrong with the timing for such an engine: ``field: what; what would be right``.

        Args:
            stroke: of the engine.
            counts: valves of each kind on a cylinder.
        """
        for kind, events in _EVENTS.items():
            given = [name for name in events if getattr(self, name) is not None]
            if given and not counts[kind]:
                yield f"{given[0]}: this engine has no {kind} valves; take it out"
            elif counts[kind]:
                missing = [name for name in events if name not in given]
                yield from (f'{m}: is missing; add {m} = "{EXAMPLES[m]}"' for m in missing)
                if not missing:
                    yield from self._problems_of(kind, stroke)

    def _problems_of(self, kind: Kind, stroke: Stroke) -> Iterator[str]:
        opens, closes = _EVENTS[kind]
        if stroke == "four":
            wrong = [
                n for n in (opens, closes) if not getattr(self, n).endswith(_FOUR_STROKE[n][0])
            ]
            if wrong:
                yield from (
                    f'{n}: "{getattr(self, n)}": a four-stroke counts it from '
                    f'{_FOUR_STROKE[n][0]}; write it as "{EXAMPLES[n]}"'
                    for n in wrong
                )
                return
        arc = self._arc(kind, stroke)
        least = 90 if stroke == "four" else 60
        if arc.closes_deg - arc.opens_deg < least:
            yield f"{closes}: the {kind} is open for less than {least}°; check before and after"
        elif stroke == "two" and (arc.opens_deg < 50 or arc.closes_deg > 310):
            yield f"{opens}: the {kind} is open near TDC; check before and after"

    def _wrong_centres(self, events: tuple[str, str]) -> Iterator[str]:
        for name in events:
            given, centre = getattr(self, name), _FOUR_STROKE[name][0]
            if not given.endswith(centre):
                yield (
                    f'{name}: "{given}": a four-stroke counts it from {centre}; '
                    f'write it as "{EXAMPLES[name]}"'
                )

    def arc(self, kind: Kind, stroke: Stroke) -> Arc | None:
        """Where valves of a kind are open; None if the timing does not say."""
        return None if getattr(self, _EVENTS[kind][0]) is None else self._arc(kind, stroke)

    def _arc(self, kind: Kind, stroke: Stroke) -> Arc:
        opens, closes = _EVENTS[kind]
        return Arc(self._phase(opens, stroke), self._phase(closes, stroke))

    def _phase(self, name: str, stroke: Stroke) -> Fraction:
        """The phase of an event in degrees."""
        deg, side, centre = str(getattr(self, name)).split()
        signed = Fraction(deg) * (-1 if side == "before" else 1)
        if stroke == "four":
            return _FOUR_STROKE[name][1] + signed
        return (signed if centre == "TDC" else 180 + signed) % 360
