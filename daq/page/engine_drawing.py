"""An engine from above, as an SVG drawing: which cylinder is where, and how each one stands.

Everything comes from the job sheet: banks and cylinders in its order, the end they are counted from
where it says so, firing order and running direction. Nothing is drawn that the sheet does not say.
How a cylinder stands is told by its form, by a mark and by a word; colour only repeats it. Colours
are those of the light scheme, as attributes, so that a style sheet may set others by class.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from math import cos, radians
from typing import Any

from daq.ink.svg import GOOD, INK, SOFT, clean, line, write
from daq.jobs.engine import Engine
from daq.page.job_cylinders import Cylinder, TargetState

GROUND, PANEL, EDGE, TURN, STOP = "#f6f3ea", "#fffdf7", "#68737e", "#843f00", "#9c1616"

CELL, BORE = 156, 50
ROW = 208
MARGIN, HEAD, FOOT = 28, 34, 80
END = 74
LEAST_WIDE = 760

_MARKS = {
    "in": "M-16 2L-5 13L17 -12",
    "out": "M-13 -13L13 13M13 -13L-13 13",
    "skipped": "M-16 0H16",
    "stands": "M-15 -7H15M-15 7H15",
}
_INKS = {"now": INK, "in": GOOD, "out": STOP, "stands": TURN, "to do": INK, "skipped": SOFT}
_NOTHING = Cylinder()


@dataclass(frozen=True, slots=True)
class _Row:
    """Cylinders side by side, with the name of their bank; empty where the engine has none."""

    bank: str
    cylinders: tuple[str, ...]


def svg_of(engine: Engine, states: Mapping[str, Cylinder]) -> str:
    """The drawing, as an SVG document.

    Args:
        engine: from the sheet.
        states: by name, how cylinders stand; those that are not there are drawn without.
    """
    rows = _rows(engine)
    ends = 0 if engine.first_at is None else END
    most = max(len(row.cylinders) for row in rows)
    wide = max(2 * MARGIN + ends + most * CELL, LEAST_WIDE)
    high = HEAD + len(rows) * ROW + FOOT
    parts = [*_block(engine, rows, wide)]
    for number, row in enumerate(rows):
        parts += _bank(engine, row, HEAD + number * ROW, wide, states)
    parts += _feet(engine, wide, high)
    return "\n".join(
        [
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {wide} {high}" role="img" '
            'aria-labelledby="engine-title engine-desc" class="engine" '
            'font-family="Liberation Sans, Arial, sans-serif">',
            f'<title id="engine-title">{clean(_title(engine, rows))}</title>',
            f'<desc id="engine-desc">{clean(_description(engine, states))}</desc>',
            *parts,
            "</svg>",
            "",
        ]
    )


def _rows(engine: Engine) -> list[_Row]:
    if engine.banks:
        return [_Row(bank.name, bank.cylinders) for bank in engine.banks]
    return [_Row("", engine.names)]


def _title(engine: Engine, rows: list[_Row]) -> str:
    count = f"{engine.cylinders} cylinder{'' if engine.cylinders == 1 else 's'}"
    if len(rows) == 1:
        return f"The engine from above: {count}" + (" in line" if engine.cylinders > 1 else "")
    return f"The engine from above: {count} in {len(rows)} banks"


def _description(engine: Engine, states: Mapping[str, Cylinder]) -> str:
    """The drawing in words, cylinder by cylinder."""
    told = [f"Cylinder {name}: {_in_words(states.get(name, _NOTHING))}." for name in engine.names]
    order = f"It fires {'-'.join(engine.firing_order)} and turns {engine.running_direction}."
    return " ".join([*told, order, _counted(engine)])


def _in_words(each: Cylinder) -> str:
    said = [_word(each) or "nothing to do here", each.crank]
    return ", ".join(part for part in said if part)


def _word(each: Cylinder) -> str:
    """How a cylinder stands, in a word, and how much of it is done where it has several things."""
    if each.state is None:
        return ""
    return f"{each.state}, {each.done} of {each.of}" if each.of > 1 else each.state


def _counted(engine: Engine) -> str:
    if engine.first_at is None:
        return "The sheet does not say at which end the flywheel is."
    return f"Cylinders are counted from the {engine.first_at}."


def _at(engine: Engine, row: _Row, wide: float) -> Iterator[tuple[str, float]]:
    """Each cylinder of a row with the middle of its bore, px from the left."""
    ends = {None: 0, "free end": -END / 2, "flywheel end": END / 2}[engine.first_at]
    left = wide / 2 + ends - (len(row.cylinders) - 1) * CELL / 2
    for number, name in enumerate(row.cylinders):
        yield name, left + number * CELL


def _block(engine: Engine, rows: list[_Row], wide: float) -> Iterator[str]:
    """What the cylinders stand in, the line of the crankshaft, the flywheel if it is known."""
    x = [place for row in rows for _, place in _at(engine, row, wide)]
    left, right = min(x) - CELL / 2 - 4, max(x) + CELL / 2 + 8
    top, bottom = HEAD - 8.0, HEAD + len(rows) * ROW - 4.0
    middle = (top + bottom) / 2
    yield (
        f'<rect class="block" x="{left:.1f}" y="{top}" width="{right - left:.1f}" '
        f'height="{bottom - top}" rx="18" fill="{PANEL}" stroke="{EDGE}" stroke-width="2"/>'
    )
    if len(rows) > 1:
        look = f'stroke="{EDGE}" stroke-width="2" stroke-dasharray="26 7 5 7"'
        yield line("shaft", (left - 14, middle, right + 14, middle), look)
    if engine.first_at is not None:
        yield from _flywheel(left if engine.first_at == "flywheel end" else right, engine, middle)


def _flywheel(edge: float, engine: Engine, middle: float) -> Iterator[str]:
    is_left = engine.first_at == "flywheel end"
    near = edge - 12 if is_left else edge + 12
    far = near - 26 if is_left else near + 26
    yield line("shaft", (edge, middle, near, middle), f'stroke="{EDGE}" stroke-width="14"')
    yield (
        f'<rect class="flywheel" x="{min(near, far):.1f}" y="{middle - 78:.1f}" width="26" '
        f'height="156" rx="4" fill="{PANEL}" stroke="{INK}" stroke-width="4"/>'
    )
    x = far - 8 if is_left else far + 20
    yield _text(x, middle, "flywheel end", 17, "small", SOFT, turned=True, anchor="middle")


def _bank(
    engine: Engine, row: _Row, top: float, wide: float, states: Mapping[str, Cylinder]
) -> Iterator[str]:
    places = list(_at(engine, row, wide))
    if row.bank:
        yield _text(places[0][1] - CELL / 2 + 12, top + 14, f"bank {row.bank}", 17, "small", SOFT)
    for name, x in places:
        each = states.get(name, _NOTHING)
        yield f'<g class="cylinder is-{(each.state or "none").replace(" ", "-")}">'
        yield from _cylinder(name, x, top + 28 + BORE, each)
        yield "</g>"


def _cylinder(name: str, x: float, y: float, each: Cylinder) -> Iterator[str]:
    state = each.state
    ink = _INKS[state] if state else SOFT
    is_slab = state == "in"
    yield (
        f'<circle class="bore" cx="{x:.1f}" cy="{y:.1f}" r="{BORE}" '
        f'fill="{GOOD if is_slab else GROUND}" stroke="{ink}" {_outline(state)}/>'
    )
    if state == "stands":
        yield (
            f'<circle class="ring" cx="{x:.1f}" cy="{y:.1f}" r="{BORE - 8}" fill="none" '
            f'stroke="{ink}" stroke-width="3"/>'
        )
    if state == "now":
        yield from _pointer(x, y)
    mark = _MARKS.get(state or "")
    size = 44 if len(name) < 3 else 34
    yield _text(
        x, y + (4 if mark else size * 0.36), name, size, "name", GROUND if is_slab else INK,
        bold=True, anchor="middle",
    )  # fmt: skip
    if mark:
        yield (
            f'<path class="mark" transform="translate({x:.1f} {y + 26:.1f}) scale(.85)" d="{mark}" '
            f'fill="none" stroke="{GROUND if is_slab else ink}" stroke-width="7"/>'
        )
    under = y + BORE
    yield _text(x, under + 26, _word(each), 20, "word", ink, bold=True, anchor="middle")
    yield _text(x, under + 50, _short(each.crank), 19, "small", SOFT, anchor="middle")
    if each.phase_deg is not None:
        yield from _piston(x + BORE + 9, y, each.phase_deg)


def _short(crank: str) -> str:
    """Where a cylinder is, in the room under it: a dead centre, or the degrees past its firing."""
    angle, past, _ = crank.partition(" past ")
    return f"+{angle}" if past else crank


def _outline(state: TargetState | None) -> str:
    """The line of a bore: heavy for now, broken for skipped, thin for nothing to do."""
    match state:
        case "now":
            return 'stroke-width="9"'
        case "out":
            return 'stroke-width="6"'
        case "skipped":
            return 'stroke-width="4" stroke-dasharray="10 8"'
        case None:
            return 'stroke-width="1.5"'
    return 'stroke-width="4"'


def _pointer(x: float, y: float) -> Iterator[str]:
    """A wedge over the cylinder that is worked on."""
    top = y - BORE - 8
    yield (
        f'<path class="pointer" d="M{x - 17:.1f} {top - 18:.1f}H{x + 17:.1f}L{x:.1f} {top:.1f}Z" '
        f'fill="{INK}"/>'
    )


def _piston(x: float, y: float, phase_deg: float) -> Iterator[str]:
    """How far up the piston is, beside its bore: a crank without the slant of its rod."""
    high, tall = 2.0 * BORE, 16.0
    down = (1 - cos(radians(phase_deg))) / 2 * (high - tall)
    look = f'stroke="{EDGE}" stroke-width="2"'
    yield line("stroke", (x + 5, y - BORE, x + 5, y + BORE), look)
    yield (
        f'<rect class="piston" x="{x:.1f}" y="{y - BORE + down:.1f}" width="10" height="{tall:g}" '
        f'rx="2" fill="{INK}"/>'
    )


def _feet(engine: Engine, wide: float, high: float) -> Iterator[str]:
    order = f"fires {'-'.join(engine.firing_order)}"
    size = 20 if len(order) * 11 < wide - 2 * MARGIN else 13
    yield _text(wide / 2, high - 50, order, size, "name", INK, bold=True, anchor="middle")
    turns = f"turns {engine.running_direction}; + is degrees past firing"
    yield _text(wide / 2, high - 26, turns, 17, "small", SOFT, anchor="middle")
    if engine.first_at is None:
        yield _text(wide / 2, high - 5, _counted(engine), 16, "small", SOFT, anchor="middle")


def _text(
    x: float,
    y: float,
    words: str,
    size: float,
    kind: str,
    ink: str,
    **look: Any,
) -> str:
    """A line of text with a class, so that a style sheet may colour it."""
    drawn = write(x, y, words, size=size, ink=ink, **look)
    return drawn.replace("<text ", f'<text class="{kind}" ', 1)
