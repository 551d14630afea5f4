"""A gauge's own errors, from its calibration."""

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from daq.jobs.recipes.corrections import Input
from daq.jobs.recipes.points import RecipeError, Settled, mm, require_figure


@dataclass(frozen=True, slots=True)
class TablePoint:
    """Error of indication at one length of a gauge's calibration, with its standard uncertainty.

    error_mm: indicated less true, from the calibration's own zero.
    """

    length_mm: float
    error_mm: float
    u_mm: float


@dataclass(frozen=True, slots=True)
class GaugeTable:
    """A gauge's calibration: its error at some lengths, straight lines between, nothing outside.

    Args:
        points: at rising lengths, two or more.
        source: the certificate, with its date.
        zero_mm: the value that the gauge shows, on the job, where the calibration had its zero.
        mastered_mm: the value at which it was mastered on the job: there its error is nought.
            None if it still stands on the calibration's zero.

    Raises:
        RecipeError: fewer than two points, lengths that do not rise, or a figure that is none.

    Source: correction = -error of indication (JCGM 200:2012, 2.53); linear interpolation is common
    practice.
    """

    points: tuple[TablePoint, ...]
    source: str
    zero_mm: float = 0.0
    mastered_mm: float | None = None

    def __post_init__(self) -> None:
        for point in self.points:
            require_figure("a length of the calibration", point.length_mm)
            require_figure("an error of the calibration", point.error_mm)
            require_figure("an uncertainty of the calibration", point.u_mm, least=0)
        rising = all(a.length_mm < b.length_mm for a, b in pairwise(self.points))
        if len(self.points) < 2 or not rising:
            raise RecipeError("a gauge's calibration needs two points or more, at rising lengths")

    @property
    def name(self) -> str:
        """In a word or two."""
        return "gauge calibration"

    @property
    def why(self) -> str:
        """What it was made with, in words."""
        return f"errors of indication from {self.source}, {len(self.points)} points"

    def correct(self, value_mm: float) -> float:
        """The value that the gauge should have read.

        Raises:
            RecipeError: it is outside the calibration; `refuses` tells beforehand.
        """
        at_master = 0.0 if self.mastered_mm is None else self.error_mm(self.mastered_mm)
        return value_mm - (self.error_mm(value_mm) - at_master)

    def error_mm(self, value_mm: float) -> float:
        """Error of indication at a value, from the calibration's zero.

        Raises:
            RecipeError: the value is outside the calibration.
        """
        at = value_mm - self.zero_mm
        if self._outside([value_mm]):
            raise RecipeError(f"{mm(value_mm)} is outside the gauge's calibration")
        lengths = [point.length_mm for point in self.points]
        after = min(bisect_right(lengths, at), len(lengths) - 1)
        a, b = self.points[after - 1], self.points[after]
        share = (at - a.length_mm) / (b.length_mm - a.length_mm)
        return a.error_mm + share * (b.error_mm - a.error_mm)

    def inputs(self) -> Sequence[Input]:
        """Every point's error; the correction falls where the error rises."""
        return [
            Input(
                "gauge calibration",
                point.u_mm,
                "mm",
                replace(
                    self,
                    points=(
                        *self.points[:i],
                        replace(point, error_mm=point.error_mm + point.u_mm),
                        *self.points[i + 1 :],
                    ),
                ).correct,
            )
            for i, point in enumerate(self.points)
        ]

    def refuses(self, points: Sequence[Settled], /) -> str:
        """Which value is outside the calibration, or empty."""
        values = [point.value_mm for point in points]
        if self.mastered_mm is not None:
            values.append(self.mastered_mm)
        outside = self._outside(values)
        if not outside:
            return ""
        first, last = (end.length_mm + self.zero_mm for end in (self.points[0], self.points[-1]))
        return f"{mm(outside[0])} is outside its range of {mm(first)} to {mm(last)}"

    def _outside(self, values_mm: Sequence[float]) -> list[float]:
        first, last = self.points[0].length_mm, self.points[-1].length_mm
        return [value for value in values_mm if not first <= value - self.zero_mm <= last]
