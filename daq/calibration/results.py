"""What the points of a run come to: the characteristics of a gauge, each with its points.

Definitions, in words of our own, after ISO 463, ISO 13102, ISO 13385-2 and ASME B89.1.10M. With the
error e = indicated − reference, from one zero for all points:

- fixed-zero error: the largest |e| over the range, the zero staying where it was set
- span error: the largest e minus the smallest, over the range and both directions; wherever the
  zero is put, errors differ by no more
- one-way span: the same on the way up only
- partial-range error: the largest span, within one direction, in any piece of the range of a length
- hysteresis: the largest difference between down and up at one point
- repeatability: the range of repeated readings of one point from one side, at the worst point

All arithmetic is in exact decimals. Uncertainties are another matter: `daq.calibration.budget`.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from decimal import Context, Decimal
from typing import Literal

from daq.calibration.errors import CalibrationError
from daq.calibration.fields import brief_mm
from daq.calibration.plan import Direction
from daq.calibration.points import Point, Run

What = Literal[
    "fixed-zero error",
    "span error",
    "one-way span",
    "partial-range error",
    "hysteresis",
    "repeatability",
]

_FINE = Context(prec=28)
_FINEST_MM = Decimal("0.000000001")


@dataclass(frozen=True, slots=True)
class Characteristic:
    """One characteristic: how large, in millimetres and never below zero, and what made it so.

    ``points`` are the points that it is the difference of, or all repeats of the worst point.
    ``words`` say where it was found.
    """

    what: What
    value_mm: Decimal
    points: tuple[Point, ...]
    words: str


@dataclass(frozen=True, slots=True)
class Repeatability:
    """Repeated readings of one point from one side; ``s_mm`` is None if there is only one."""

    nominal_mm: Decimal
    direction: Direction
    points: tuple[Point, ...]
    mean_mm: Decimal
    range_mm: Decimal
    s_mm: Decimal | None


@dataclass(frozen=True, slots=True)
class Results:
    """Everything that the points of one run say; None where they say nothing of it."""

    run: Run
    points: tuple[Point, ...]
    fixed_zero: Characteristic
    span: Characteristic
    one_way_span: Characteristic
    partial: Characteristic | None
    hysteresis: Characteristic | None
    repeatability: Characteristic | None
    repeats: tuple[Repeatability, ...]

    @property
    def characteristics(self) -> tuple[Characteristic, ...]:
        """All that there are."""
        every = (
            self.fixed_zero,
            self.span,
            self.one_way_span,
            self.partial,
            self.hysteresis,
            self.repeatability,
        )
        return tuple(each for each in every if each is not None)


def results_of(
    points: Iterable[Point], partial_mm: Decimal | None = None, run: Run = "as found"
) -> Results:
    """What the points of one run come to.

    Args:
        points: in any order; those of the other run are left out.
        partial_mm: the length of the piece for the partial-range error; None for none.
        run: as found or as left.

    Raises:
        CalibrationError: there is no point on the way up, or a point was taken twice.
    """
    own = tuple(each for each in points if each.run == run)
    up, down = _series(own, "up"), _series(own, "down")
    if not up:
        raise CalibrationError(f"There is no point on the way up {run}, so there is no result yet.")
    repeats = _repeats(own)
    return Results(
        run=run,
        points=own,
        fixed_zero=_fixed_zero([*up, *down]),
        span=_span("span error", [*up, *down]),
        one_way_span=_span("one-way span", up),
        partial=_partial([up, down], partial_mm) if partial_mm is not None else None,
        hysteresis=_hysteresis(up, down),
        repeatability=_worst_repeat(repeats),
        repeats=repeats,
    )


def _series(points: Sequence[Point], series: Direction) -> list[Point]:
    """The points of one way, by their nominal."""
    found: dict[Decimal, Point] = {}
    for each in points:
        if each.series != series:
            continue
        if each.nominal_mm in found:
            raise CalibrationError(
                f"{brief_mm(each.nominal_mm)} was taken twice on the way {series}; take one back."
            )
        found[each.nominal_mm] = each
    return [found[nominal_mm] for nominal_mm in sorted(found)]


def _fixed_zero(points: Sequence[Point]) -> Characteristic:
    worst = max(points, key=lambda each: abs(each.error_mm))
    return Characteristic(
        "fixed-zero error", abs(worst.error_mm), (worst,), f"{_signed(worst)} at {_place(worst)}"
    )


def _span(what: What, points: Sequence[Point]) -> Characteristic:
    low = min(points, key=lambda each: each.error_mm)
    high = max(points, key=lambda each: each.error_mm)
    words = f"from {_signed(low)} at {_place(low)} to {_signed(high)} at {_place(high)}"
    return Characteristic(what, high.error_mm - low.error_mm, (low, high), words)


def _partial(ways: Sequence[Sequence[Point]], length_mm: Decimal) -> Characteristic | None:
    """The worst piece; None if no two points lie in one piece."""
    if length_mm <= 0:
        raise CalibrationError(f"A piece of {brief_mm(length_mm)} is none; it must be above zero.")
    pieces = [piece for way in ways for piece in _pieces(way, length_mm) if len(piece) > 1]
    if not pieces:
        return None
    spans = [_span("partial-range error", piece) for piece in pieces]
    worst = max(spans, key=lambda each: each.value_mm)
    return Characteristic(
        worst.what,
        worst.value_mm,
        worst.points,
        f"{worst.words}, within {brief_mm(length_mm)}",
    )


def _pieces(way: Sequence[Point], length_mm: Decimal) -> Iterator[list[Point]]:
    """The points in every piece that begins at a point. No other piece has more of them."""
    for place, first in enumerate(way):
        yield [each for each in way[place:] if each.nominal_mm - first.nominal_mm <= length_mm]


def _hysteresis(up: Sequence[Point], down: Sequence[Point]) -> Characteristic | None:
    """The worst point that was measured from both sides; None if none was."""
    back = {each.nominal_mm: each for each in down}
    both = [(each, back[each.nominal_mm]) for each in up if each.nominal_mm in back]
    if not both:
        return None
    there, back_again = max(both, key=lambda pair: abs(pair[1].error_mm - pair[0].error_mm))
    return Characteristic(
        "hysteresis",
        abs(back_again.error_mm - there.error_mm),
        (there, back_again),
        f"{_signed(there)} up and {_signed(back_again)} down at {brief_mm(there.nominal_mm)}",
    )


def _repeats(points: Sequence[Point]) -> tuple[Repeatability, ...]:
    groups: dict[tuple[Decimal, Direction], list[Point]] = {}
    for each in points:
        if each.series == "repeat":
            groups.setdefault((each.nominal_mm, each.direction), []).append(each)
    return tuple(
        _repeat(nominal_mm, direction, tuple(group))
        for (nominal_mm, direction), group in groups.items()
    )


def _repeat(nominal_mm: Decimal, direction: Direction, points: tuple[Point, ...]) -> Repeatability:
    # Errors, not readings: it may not be the same stack, or the same certificate, every time.
    errors = [each.error_mm for each in points]
    readings = [each.reading_mm for each in points]
    mean_error_mm = sum(errors, Decimal(0)) / len(errors)
    s_mm = None
    if len(points) > 1:
        squares = sum(((each - mean_error_mm) ** 2 for each in errors), Decimal(0))
        s_mm = _FINE.sqrt(squares / (len(errors) - 1)).quantize(_FINEST_MM)
    return Repeatability(
        nominal_mm=nominal_mm,
        direction=direction,
        points=points,
        mean_mm=(sum(readings, Decimal(0)) / len(readings)).quantize(_FINEST_MM),
        range_mm=max(errors) - min(errors),
        s_mm=s_mm,
    )


def _worst_repeat(repeats: Sequence[Repeatability]) -> Characteristic | None:
    several = [each for each in repeats if len(each.points) > 1]
    if not several:
        return None
    worst = max(several, key=lambda each: each.range_mm)
    words = (
        f"{len(worst.points)} readings at {brief_mm(worst.nominal_mm)} {worst.direction} within "
        f"{brief_mm(worst.range_mm)}, s = {worst.s_mm:.6f} mm"
    )
    return Characteristic("repeatability", worst.range_mm, worst.points, words)


def _signed(point: Point) -> str:
    text = brief_mm(abs(point.error_mm))
    return text if point.error_mm == 0 else f"{'+' if point.error_mm > 0 else '-'}{text}"


def _place(point: Point) -> str:
    return f"{brief_mm(point.nominal_mm)} {point.direction}"
