"""Run-out over a turn: full indicator movement, eccentricity or tilt, and form."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from daq.jobs.recipes.fitting import NoFitError
from daq.jobs.recipes.harmonic import FirstHarmonic, first_harmonic, peak_to_valley
from daq.jobs.recipes.points import (
    Component,
    Part,
    RecipeError,
    Refusal,
    Result,
    Settled,
    Wanted,
    mm,
    require_figure,
    uids,
)

LEAST_ANGLES = 8
"""Fewer places on a turn tell too little of the highest and the lowest. Common practice."""

WIDEST_GAP_DEG = 60.0
"""No part of the turn wider than this may go unseen. Common practice."""

SAME_PLACE_DEG = 0.5
"""Two angles within this are the same place."""

CLOSES = 3.0
"""The closing value must repeat the first within this many u of their difference."""

MOVED = 0.1
"""A closing difference that is beyond that and above this share of the movement is refused.

Common practice, no source.
"""


@dataclass(frozen=True, slots=True)
class RunOut:
    """Full indicator movement over a turn: highest less lowest value.

    From settled values at eight angles or more, or from the samples of a continuous sweep, each
    sample a `Settled` of one reading with the sweep's uid. The turn must be closed: the value at
    360° has to repeat the one at 0°, else the gauge or the part has moved.

    Args:
        angles: how many places on the turn are asked for, equally spaced, 8 or more.
        start_deg: the first of them.
        face_radius_mm: for the run-out of a face: the radius that the gauge sits at. The parts then
            give a tilt; without it they give an eccentricity.
        u_angle_deg: how well each place is met, a standard uncertainty; 2° suits barring by hand to
            a mark (common practice), 0 a sweep with an encoder.
        closing_limit_mm: a closing difference up to this is doubted, never refused.
        common: components that do not cancel in a difference.
        what: is measured, in words.

    Raises:
        RecipeError: angles below 8, or another figure that is none.

    Source: eccentricity and tilt from the first harmonic, `first_harmonic`; how noise is treated,
    `peak_to_valley`; the closing check is common practice.
    """

    angles: int = LEAST_ANGLES
    start_deg: float = 0.0
    face_radius_mm: float | None = None
    u_angle_deg: float = 2.0
    closing_limit_mm: float = 0.0
    common: tuple[Component, ...] = ()
    what: str = "run-out"

    def __post_init__(self) -> None:
        if self.angles < LEAST_ANGLES:
            raise RecipeError(f"{self.angles} places on a turn are too few; take {LEAST_ANGLES}")
        require_figure("the first angle", self.start_deg)
        require_figure("the uncertainty of the angles", self.u_angle_deg, least=0)
        require_figure("the closing limit", self.closing_limit_mm, least=0)
        if self.face_radius_mm is not None:
            require_figure("the radius on the face", self.face_radius_mm, least=1.0)

    def wants(self, points: Sequence[Settled]) -> Wanted | None:
        """The next angle of the turn, the first one again at the end, or None."""
        step, of = 360.0 / self.angles, self.angles + 1
        placed = [(point.angle_deg, 0.0, 0.0) for point in points if point.angle_deg is not None]
        for number in range(self.angles):
            angle = self.start_deg + number * step
            # An eighth of a step off, the widest gap is still narrow enough.
            if not any(abs(each - angle) < step / 8 for each, _, _ in placed):
                words = f"turn on to {angle:g}° and let it rest ({number + 1} of {of})"
                return Wanted(words, number + 1, of, angle_deg=angle)
        if _split(placed)[1]:
            return None
        angle = placed[0][0] + 360.0
        words = f"turn on to {angle:g}°, the first place again: it must repeat"
        return Wanted(words, of, of, angle_deg=angle)

    def result(self, points: Sequence[Settled]) -> Result | Refusal:
        """The movement; a refusal if the turn is not whole, or does not close."""
        turn = _Turn.of(points, self.u_angle_deg)
        refused = turn.refused or self._not_closed(turn)
        if refused is not None:
            return Refusal(
                f"{self.what}: {refused[0]}", refused[1], missing=refused[2], of=uids(points)
            )
        try:
            harmonic = first_harmonic(turn.angles, turn.values, turn.u, self.u_angle_deg)
        except NoFitError as error:
            why, do = f"{self.what}: {error}", "Take eight angles spread over the turn"
            return Refusal(why, do, missing=True, of=uids(points))
        moved, u_moved, upward = peak_to_valley(turn.values, turn.u)
        hidden = 2 * harmonic.half_swing * (1 - math.cos(math.radians(turn.widest_gap / 2)))
        doubt = self._closing_doubt(turn)
        components = (
            Component("highest and lowest value", u_moved),
            Component("noise picks the extremes", upward / math.sqrt(3)),
            Component("between the angles", hidden / math.sqrt(3)),
            *([Component("closing", abs(turn.closing) / math.sqrt(3))] if doubt else []),
            *self.common,
        )
        return Result(
            self.what,
            moved,
            "mm",
            components,
            uids(points),
            parts=self._parts(turn, harmonic),
            remarks=tuple(self._remarks(harmonic, upward, moved)),
            doubts=(doubt,) if doubt else (),
        )

    def _not_closed(self, turn: "_Turn") -> tuple[str, str, bool] | None:
        moved = max(turn.values) - min(turn.values)
        if not turn.misses or abs(turn.closing) <= max(MOVED * moved, self.closing_limit_mm):
            return None
        why = (
            f"the turn does not close: the first place now reads {mm(turn.closing, sign=True)} "
            f"from before, of a movement of {mm(moved)}"
        )
        return why, "The gauge or the part has moved; clamp it and take the turn again", False

    def _closing_doubt(self, turn: "_Turn") -> str:
        if not turn.misses:
            return ""
        return (
            f"the turn closes only to {mm(turn.closing, sign=True)}, more than the readings' own "
            "uncertainty; the stand may have crept. The uncertainty holds it"
        )

    def _parts(self, turn: "_Turn", harmonic: FirstHarmonic) -> tuple[Part, ...]:
        half, u_half = harmonic.half_swing, harmonic.u_half_swing
        parts = [Part("eccentricity", half, "mm", u_half)]
        if self.face_radius_mm is not None:
            per_m = 1000.0 / self.face_radius_mm
            parts = [Part("tilt", half * per_m, "mm/m", u_half * per_m)]
        if harmonic.u_high_deg is not None:
            parts.append(Part("high spot", harmonic.high_deg, "deg", harmonic.u_high_deg))
        form, u_form, upward = peak_to_valley(harmonic.residuals, turn.u)
        u_form = math.hypot(u_form, upward / math.sqrt(3))
        parts.append(Part("form, peak to valley", form, "mm", u_form))
        parts.append(Part("closing difference", turn.closing, "mm", turn.u_closing))
        return tuple(parts)

    def _remarks(self, harmonic: FirstHarmonic, upward: float, moved: float) -> list[str]:
        said = []
        if harmonic.u_high_deg is None:
            said.append("no high spot can be told: the first harmonic is lost in the uncertainty")
        if upward > 0.05 * moved:
            said.append(
                f"noise may have made the movement up to {mm(upward)} too large; "
                "that is not taken off"
            )
        if self.face_radius_mm is not None:
            said.append("holds only if the shaft was kept against the same thrust face throughout")
        return said


@dataclass(frozen=True, slots=True)
class _Turn:
    """The places of a turn, those seen again merged with the first time; or why it is none.

    closing: mean of second less first value; u_closing: of it; misses: whether it is too large.
    """

    angles: tuple[float, ...] = ()
    values: tuple[float, ...] = ()
    u: tuple[float, ...] = ()
    widest_gap: float = 360.0
    closing: float = 0.0
    u_closing: float = 0.0
    misses: bool = False
    refused: tuple[str, str, bool] | None = None

    @classmethod
    def of(cls, points: Sequence[Settled], u_angle_deg: float) -> "_Turn":
        """The turn that the points make."""
        if any(point.angle_deg is None for point in points):
            return cls(refused=("a value has no angle", "Say where each was taken", False))
        placed = [(point.angle_deg or 0.0, point.value_mm, point.u_mm) for point in points]
        first, again = _split(placed)
        gap = _widest_gap([angle for angle, _, _ in first])
        places = {round(angle / SAME_PLACE_DEG) for angle, _, _ in first}
        if len(places) < LEAST_ANGLES or gap > WIDEST_GAP_DEG:
            why = f"{len(places)} places are there, the widest gap between them {gap:.0f}°"
            do = (
                f"Take {LEAST_ANGLES} places or more, none further than {WIDEST_GAP_DEG:.0f}° apart"
            )
            return cls(refused=(why, do, True))
        if not again:
            angle = placed[0][0] + math.copysign(360.0, placed[-1][0] - placed[0][0])
            why, do = "the turn is not closed", f"Turn on to {angle:g}°, the first place again"
            return cls(refused=(why, do, True))
        return cls._closed(first, again, gap, u_angle_deg)

    @classmethod
    def _closed(
        cls,
        first: list["_Placed"],
        again: list[tuple[int, "_Placed"]],
        gap: float,
        u_angle_deg: float,
    ) -> "_Turn":
        differences = [late[1] - first[i][1] for i, late in again]
        closing = math.fsum(differences) / len(again)
        swing = max(value for _, value, _ in first) - min(value for _, value, _ in first)
        # An angle missed by a little moves the value by up to half the swing times the angle.
        u_place = swing / 2 * math.radians(u_angle_deg)
        u_both = [math.hypot(late[2], first[i][2], math.sqrt(2) * u_place) for i, late in again]
        u_closing = math.hypot(*u_both) / len(again)
        apart = math.fsum(_apart(first[i][0], late[0]) for i, late in again) / len(again)
        slack = swing / 2 * math.radians(apart)
        merged = list(first)
        for i, (_, value, u) in again:
            angle, before, u_before = merged[i]
            merged[i] = (angle, (before + value) / 2, math.hypot(u_before, u) / 2)
        angles, values, u_values = zip(*merged, strict=True)
        misses = abs(closing) > CLOSES * u_closing + slack
        return cls(angles, values, u_values, gap, closing, u_closing, misses)


_Placed = tuple[float, float, float]
"""Angle in degrees, value and u in mm."""


def _split(placed: list[_Placed]) -> tuple[list[_Placed], list[tuple[int, _Placed]]]:
    """The places as seen first, and those seen again a turn later with the place they repeat."""
    first: list[_Placed] = []
    again: list[tuple[int, _Placed]] = []
    for each in placed:
        turned = abs(each[0] - placed[0][0])
        repeats = [
            (_apart(angle, each[0]), i)
            for i, (angle, _, _) in enumerate(first if turned >= 360 - SAME_PLACE_DEG else [])
            if abs(angle - each[0]) > 180 and _apart(angle, each[0]) <= SAME_PLACE_DEG
        ]
        if repeats:
            again.append((min(repeats)[1], each))
        else:
            first.append(each)
    return first, again


def _apart(a_deg: float, b_deg: float) -> float:
    """How far two angles are apart on the circle, degrees."""
    return abs((a_deg - b_deg + 180) % 360 - 180)


def _widest_gap(angles_deg: list[float]) -> float:
    """The widest part of the turn with no place in it, degrees; a whole turn for none."""
    places = sorted({angle % 360 for angle in angles_deg})
    if not places:
        return 360.0
    return max(b - a for a, b in pairwise([*places, places[0] + 360]))
