"""An error curve as it grows, drawn in characters: travel to the right, error upwards.

Up, down and repeats differ by their sign and not by colour alone. The limits are lines.
"""

from collections.abc import Iterator
from decimal import Decimal

from daq.calibration.guided import ErrorCurve
from daq.screen.rows import Role, Row
from daq.spec.units import digits_in

FEWEST_ROWS = 6
"""The limits with a row beyond each, a row between them, and the axis: with fewer there is none."""

FEWEST_COLUMNS = 30

UP, DOWN, BOTH, REPEAT = "↑", "↓", "↕", "o"

_SIGNS = {
    frozenset({"up"}): UP,
    frozenset({"down"}): DOWN,
    frozenset({"up", "down"}): BOTH,
}

_Cell = tuple[str, Role]


def plot_rows(curve: ErrorCurve, width: int, height: int, step_mm: Decimal) -> list[Row]:
    """The curve in exactly ``height`` rows; empty rows where there is no room for one.

    A point within the limits never lies beyond their lines, and one beyond them never within.

    Args:
        curve: what to draw.
        width: columns.
        height: rows, 0 or more.
        step_mm: the gauge's display step; figures are written a digit finer.
    """
    if height < FEWEST_ROWS or width < FEWEST_COLUMNS:
        return [()] * height
    labels = _Labels(curve, height - 1, step_mm)
    inner = width - labels.width - 3
    cells: list[list[_Cell]] = [[(" ", "ground")] * inner for _ in range(height - 1)]
    for row, sign, role in (
        (labels.zero, "·", "faint"),
        (labels.upper, "─", "wall"),
        (labels.lower, "─", "wall"),
    ):
        if row is not None:
            cells[row] = [(sign, role)] * inner  # type: ignore[list-item]
    for (row, column), series in _places(curve, labels, inner).items():
        out = not labels.upper <= row <= labels.lower
        sign = REPEAT if series == {"repeat"} else _SIGNS[frozenset(series - {"repeat"})]
        cells[row][column] = (sign, "stop" if out else "ink")
    drawn: list[Row] = []
    for number, line in enumerate(cells):
        label = labels.at(number)
        drawn.append(((f" {label:>{labels.width}} ", "small"), *_runs(line)))
    return [*drawn, _axis(curve, labels.width, inner)]


class _Labels:
    """Which error each row stands for, and what is written beside it."""

    def __init__(self, curve: ErrorCurve, rows: int, step_mm: Decimal) -> None:
        self._step_mm = step_mm / 10
        every = [error for _, error in (*curve.up, *curve.down, *curve.repeat)]
        low_mm = min([curve.lower_mm, Decimal(0), *every])
        high_mm = max([curve.upper_mm, Decimal(0), *every])
        margin_mm = (high_mm - low_mm) / 8
        self._high_mm, self._span_mm = high_mm + margin_mm, high_mm - low_mm + 2 * margin_mm
        self._rows, self._curve = rows, curve
        self.upper = min(max(self._row(curve.upper_mm), 1), rows - 4)
        self.lower = max(min(self._row(curve.lower_mm), rows - 2), self.upper + 2)
        self.zero = self.row_of(Decimal(0))
        self.width = max(len(self._text(each)) for each in (curve.lower_mm, curve.upper_mm))

    def _row(self, error_mm: Decimal) -> int:
        return round((self._high_mm - error_mm) / self._span_mm * (self._rows - 1))

    def row_of(self, error_mm: Decimal) -> int:
        """The row of an error, on its own side of both limits."""
        row = self._row(error_mm)
        if error_mm > self._curve.upper_mm:
            return max(min(row, self.upper - 1), 0)
        if error_mm < self._curve.lower_mm:
            return min(max(row, self.lower + 1), self._rows - 1)
        return min(max(row, self.upper), self.lower)

    def _text(self, error_mm: Decimal) -> str:
        return digits_in(error_mm, "mm", self._step_mm)

    def at(self, row: int) -> str:
        """What is written beside a row."""
        if row == self.upper:
            return self._text(self._curve.upper_mm)
        if row == self.lower:
            return self._text(self._curve.lower_mm)
        return "0" if row == self.zero else ""


def _places(curve: ErrorCurve, labels: _Labels, inner: int) -> dict[tuple[int, int], set[str]]:
    """Which series have a point in a cell."""
    found: dict[tuple[int, int], set[str]] = {}
    for series, travel_mm, error_mm in _every(curve):
        column = round(travel_mm / curve.to_mm * (inner - 1))
        found.setdefault((labels.row_of(error_mm), column), set()).add(series)
    return found


def _every(curve: ErrorCurve) -> Iterator[tuple[str, Decimal, Decimal]]:
    for series, points in (("up", curve.up), ("down", curve.down), ("repeat", curve.repeat)):
        for travel_mm, error_mm in points:
            yield series, travel_mm, error_mm


def _axis(curve: ErrorCurve, label_width: int, inner: int) -> Row:
    """Where the travel begins and ends, and what the signs are."""
    end = f"{curve.to_mm.normalize():f} mm"
    keys = [f"{UP} up", f"{DOWN} down", f"{BOTH} both", f"{REPEAT} again", "─ limit"]
    room = inner - len(end) - 4
    text = ""
    for each in keys:
        longer = f"{text}   {each}" if text else each
        text = longer if len(longer) <= room else text
    middle = f"0   {text}"
    gap = " " * max(inner - len(middle) - len(end), 1)
    return ((" " * (label_width + 2), "ground"), (f"{middle}{gap}{end}", "small"))


def _runs(cells: list[_Cell]) -> Row:
    """Neighbouring cells of one role as one piece."""
    pieces: list[_Cell] = []
    for char, role in cells:
        if pieces and pieces[-1][1] == role:
            pieces[-1] = (pieces[-1][0] + char, role)
        else:
            pieces.append((char, role))
    return tuple(pieces)
