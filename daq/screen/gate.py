"""The limits scale: a gate. Two walls stand on the limits, and the needle must be between them.

At rest the needle carries a band as wide as its uncertainty, ± U with k = 2. A band that touches
a wall is what "too close to call" looks like.
"""

from collections.abc import Callable
from itertools import groupby
from operator import itemgetter

from daq.screen.rows import Role, Row
from daq.screen.scale import FEWEST_COLUMNS, Scale, scale_of
from daq.screen.view import BenchView
from daq.spec.units import digits_in

MARGIN = 2

_NEEDLE_ROLES: dict[str | None, Role] = {
    "in": "good",
    "low": "turn",
    "high": "turn",
    "too close to call": "wait",
    None: "ink",
}

_Cell = tuple[str, Role]
_GROUND: _Cell = (" ", "ground")
_CHAR: Callable[[_Cell], str] = itemgetter(0)
_ROLE: Callable[[_Cell], Role] = itemgetter(1)


def gate(view: BenchView, width: int, rows: int) -> list[Row]:
    """The scale in ``rows`` rows of up to ``width`` columns.

    With one row only walls and needle; with two the needle's foot, its band and the way to go;
    with three the limits' figures above. Without a number there is no needle, band or way;
    without limits there is no gate.
    """
    inner = width - 2 * MARGIN if width - 2 * MARGIN >= FEWEST_COLUMNS else width
    has_limits = view.lower_mm is not None or view.upper_mm is not None
    if rows == 0 or inner < FEWEST_COLUMNS or not has_limits:
        return [()] * rows
    scale = scale_of(view, inner)
    role = _NEEDLE_ROLES[view.outcome if view.is_at_rest else None]
    drawn = [
        _labels(view, scale, inner),
        _walls(scale, inner, role),
        _foot(scale, inner, role, shows_way=not view.doubt),
    ]
    wanted = drawn[1:2] if rows == 1 else drawn[-rows:]
    margin = (" " * ((width - inner) // 2), _GROUND[1])
    return [(margin, *_runs(cells)) for cells in wanted]


def _walls(scale: Scale, width: int, role: Role) -> list[_Cell]:
    """The walls, the mark of the aim, and the needle standing in a slit of its own."""
    cells = [_GROUND] * width
    if scale.lower is not None:
        cells[: scale.lower + 1] = [("▒", "wall")] * (scale.lower + 1)
    if scale.upper is not None:
        cells[scale.upper :] = [("▒", "wall")] * (width - scale.upper)
    cells[scale.aim] = ("│", "small")
    if scale.needle is None:
        return cells
    at = scale.needle.column
    for near in range(max(at - 2, 0), min(at + 3, width)):
        cells[near] = _GROUND if near != scale.aim else cells[near]
    if scale.needle.beyond == "left":
        _write(cells, 0, "◄◄◄", role)
    elif scale.needle.beyond == "right":
        _write(cells, width - 3, "►►►", role)
    else:
        _needle(cells, at, role)
    return cells


def _foot(scale: Scale, width: int, role: Role, *, shows_way: bool) -> list[_Cell]:
    """The needle's foot, the band of its uncertainty, and arrows along the way to the aim."""
    cells = [_GROUND] * width
    if scale.needle is None:
        return cells
    at = scale.needle.column
    if scale.needle.beyond:
        text = "off the scale"[: width - 4]
        _write(cells, 0 if scale.needle.beyond == "left" else width - len(text), text, role)
        return cells
    step, arrow = (4, "►") if at < scale.aim else (-4, "◄")
    for column in range(at + step, scale.aim, step) if shows_way else ():
        cells[column] = (arrow, role)
    if scale.band is not None:
        for column in range(scale.band[0], scale.band[1] + 1):
            cells[column] = ("─", role)
    _needle(cells, at, role)
    return cells


def _needle(cells: list[_Cell], at: int, role: Role) -> None:
    for column, char in ((at - 1, "▐"), (at, "█"), (at + 1, "▌")):
        if 0 <= column < len(cells):
            cells[column] = (char, role)


def _labels(view: BenchView, scale: Scale, width: int) -> list[_Cell]:
    """The limits' figures over their walls, and the aim's over its mark, as far as they fit."""
    cells = [_GROUND] * width
    if scale.lower is not None and view.lower_mm is not None:
        text = digits_in(view.lower_mm, view.unit, view.step_mm)
        _place(cells, scale.lower - len(text) + 1, text)
    if scale.upper is not None and view.upper_mm is not None:
        text = digits_in(view.upper_mm, view.unit, view.step_mm)
        _place(cells, scale.upper, text)
    text = "0" if view.aim_mm == 0 else digits_in(view.aim_mm, view.unit, view.step_mm)
    _place(cells, scale.aim - len(text) // 2, text)
    return cells


def _place(cells: list[_Cell], at: int, text: str) -> None:
    """Writes a figure whole, with a blank on either side, or not at all."""
    around = cells[max(at - 1, 0) : at + len(text) + 1]
    if at >= 0 and at + len(text) <= len(cells) and all(cell == _GROUND for cell in around):
        _write(cells, at, text, "small")


def _write(cells: list[_Cell], at: int, text: str, role: Role) -> None:
    cells[at : at + len(text)] = [(char, role) for char in text]


def _runs(cells: list[_Cell]) -> Row:
    """Neighbouring cells of one role as one piece."""
    return tuple(("".join(map(_CHAR, run)), role) for role, run in groupby(cells, key=_ROLE))
