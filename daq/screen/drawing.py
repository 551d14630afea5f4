"""The bench screen as rows of marked text: what stands where. No colours and no terminal.

The number stands on a floor, which is whole only when the reading is at rest. The sign beside it
and the headline under it say what to do; then comes the gate, and the small print.
"""

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache

from rich.cells import cell_len

from daq.screen import words
from daq.screen.gate import gate
from daq.screen.glyphs import (
    LETTERS,
    MARKS,
    Pixels,
    Zoom,
    block,
    half_blocks,
    inverted,
    placed,
    width_of,
)
from daq.screen.layout import HALVES, NARROWEST, Layout, layout_for, number_size
from daq.screen.rows import Row, Rows, ascii_phrases, ascii_row, clean, ends, filled, line
from daq.screen.view import BenchView, Headline, Motion, digits_text, headline
from daq.spec.units import digits_in

Lines = tuple[str, ...]

_FLOORS: dict[Motion | None, str] = {
    "at rest": "▀",
    "coming to rest": "▀▀▀▀ ",
    "moving": "▀    ",
    "vibrating": "▀▀▄▄",
    None: " ",
}


def rows_of(view: BenchView, width: int, height: int, *, ascii_only: bool = False) -> Rows:
    """The whole screen: exactly ``height`` rows of exactly ``width`` columns, 1 or more each.

    Args:
        view: what to show.
        width: columns.
        height: rows.
        ascii_only: draw and spell it in ASCII.
    """
    spell = ascii_phrases if ascii_only else list
    usual = f"+{digits_in(Decimal(0), view.unit, view.step_mm)}"
    plan = layout_for(width, height, usual)
    say = headline(view)
    digits = digits_text(view)
    after_title, after_floor, after_headline, after_gate = plan.blanks
    rows: list[Row] = []
    if plan.title:
        rows.append(
            _title(spell(words.title_phrases(view)), spell(words.spec_phrases(view)), width)
        )
    rows += [()] * after_title
    if digits is None or not plan.number:
        tall = plan.number + plan.floor + after_floor + plan.headline
        lone = lone_headline(say, width, tall)
        if lone is None and (lone := lone_headline(say, width, tall + plan.gate)) is not None:
            # Without a number the gate has no needle to show, and its rows are worth more here.
            plan = replace(plan, gate=0)
        rows += _plain_headline(say, width, tall) if lone is None else lone
    else:
        rows += _number(view, say, _fitted(digits, usual), plan, width)
        rows += [_floor(view, width)] * plan.floor + [()] * after_floor
        rows += _headline(say, width, plan.headline, plan.letters)
    rows += [()] * after_headline
    rows += gate(view, width, plan.gate)
    rows += [()] * after_gate
    rows += [line(spell(phrases), width) for phrases in _small_print(view, plan.words)]
    if plan.foot:
        rows.append(ends(words.foot_phrases(view), spell([view.keys]), width))
    return tuple(filled(ascii_row(row) if ascii_only else row, width) for row in rows)


def reading_rows(view: BenchView, width: int, height: int) -> list[Row]:
    """The number on its floor alone, in ``height`` rows; what hides it where there is none.

    Args:
        view: what to show.
        width: columns.
        height: rows, 2 or more.
    """
    digits, say = digits_text(view), headline(view)
    if digits is None:
        return lone_headline(say, width, height) or _plain_headline(say, width, height)
    usual = f"+{digits_in(Decimal(0), view.unit, view.step_mm)}"
    size = number_size(usual, width, height - 1)
    plan = Layout(0, height - 1, 1, 0, 0, 0, 0, number_size=size)
    quiet = replace(say, mark=" ") if say.is_news else say
    return [*_number(view, quiet, _fitted(digits, usual), plan, width), _floor(view, width)]


def _title(gauge: list[str], spec: list[str], width: int) -> Row:
    """The gauge's label stands out: several gauges on one bench must never be confused."""
    margin, (text, role), *rest = ends(gauge, spec, width)
    label = len(clean(gauge[0])) if gauge and text.startswith(clean(gauge[0])) else len(text)
    return (margin, (text[:label], "ink"), (text[label:], role), *rest)


def _fitted(digits: str, usual: str) -> str:
    """The digits without the room kept for more of them before the point."""
    spare = len(digits) - len(usual)
    return digits[spare:] if not digits[:spare].strip() else digits.strip()


def _number(view: BenchView, say: Headline, digits: str, plan: Layout, width: int) -> list[Row]:
    """The number, its right edge always in one place; its sign to the left, its unit after it."""
    size = plan.number_size
    mark_width = width_of(say.mark, MARKS, size.scale[0]) if size.has_mark else 0
    group = size.width + (mark_width + 2 if mark_width else 0)
    right = (width + group) // 2
    if size.font is None or width_of(digits, size.font, size.scale[0]) > width:
        size, mark_width = number_size(digits, width, plan.number), 0
    if size.font is None:
        return [
            *[()] * (plan.number - 1),
            _plain_number(digits, plan.number_size.width, view.unit, width),
        ]
    picture = block(digits, size.font, size.scale)
    left = min(max(right - len(picture[0]), 0), width - len(picture[0]))
    lines = _on_floor(picture, plan.number)
    mark_left = right - group
    if mark_width and mark_left + mark_width < left:
        gap = " " * (left - mark_left - mark_width)
        marks = _on_floor(block(say.mark, MARKS, size.scale), plan.number)
        rows: list[Row] = [
            ((" " * mark_left, "ground"), (mark, say.mood), (gap, "ground"), (text, "number"))
            for mark, text in zip(marks, lines, strict=True)
        ]
    else:
        rows = [((" " * left, "ground"), (text, "number")) for text in lines]
    if left + len(picture[0]) + 1 + len(view.unit) <= width:
        rows[-1] = (*rows[-1], (f" {view.unit}", "small"))
    return rows


@lru_cache(maxsize=128)
def _on_floor(picture: Pixels, rows: int) -> tuple[str, ...]:
    """A picture in ``rows`` rows, half a row above their lower edge."""
    width, height = len(picture[0]), 2 * rows
    top = height - 1 - len(picture)
    return half_blocks(placed(picture, width, height, left=0, top=top))


def _plain_number(digits: str, usual: int, unit: str, width: int) -> Row:
    """The number as plain text, its end where it is for a number of ``usual`` length.

    Where even that has no room there is none: a part is no number.
    """
    for text in (f"{digits} {unit}", digits):
        if len(text) <= width:
            right = (width + usual + len(text) - len(digits)) // 2
            left = min(max(right - len(text), 0), width - len(text))
            return ((" " * left, "ground"), (text, "number"))
    return (("?", "number"),)


def _floor(view: BenchView, width: int) -> Row:
    """What the number stands on, and the word for it."""
    word = words.motion_word(view)
    room = width - 4
    if len(word) + 2 + 10 > room:
        word = ""
    length = room - (len(word) + 2 if word else 0)
    pattern = _FLOORS[view.motion]
    floor = (pattern * (length // len(pattern) + 1))[:length] if length > 0 else ""
    return (("  ", "ground"), (floor, "small"), (f"  {word}", "small"))


def _headline(say: Headline, width: int, rows: int, largest: Fraction) -> list[Row]:
    """The headline in block letters where they fit; cut out of a slab if all is well."""
    is_slab = say.mood == "good"
    setting = None
    if rows > 1:
        room = width - 4 if is_slab else width
        setting = _setting(tuple((text,) for text in say.texts), room, 2 * rows - 2, largest)
    if setting is None:
        return _plain_headline(say, width, rows)
    return [((text, say.mood),) for text in _set(*setting, width, rows, is_slab)]


def lone_headline(say: Headline, width: int, rows: int) -> list[Row] | None:
    """The headline where the number would stand, in one line or two; None if too large for it."""
    shapes = tuple(shape for text in say.texts for shape in ((text,), tuple(text.split(" ", 1))))
    setting = _setting(shapes, width - 2, 2 * rows - 2, HALVES[0])
    if setting is None:
        return None
    return [((text, say.mood),) for text in _set(*setting, width, rows, is_slab=False)]


@lru_cache(maxsize=128)
def _setting(
    shapes: tuple[Lines, ...], width: int, height: int, largest: Fraction
) -> tuple[Lines, Zoom] | None:
    """The lines, and the scale at which they are largest in ``width`` by ``height`` pixels.

    None if none of the shapes fits. Of equal sizes the earlier shape is taken.
    """
    best: tuple[Lines, Zoom] | None = None
    for wide in HALVES:
        for high in HALVES:
            if high > largest or not NARROWEST <= wide / high <= Fraction(4, 3):
                continue
            for lines in shapes:
                tall = len(lines) * (int(LETTERS.height * high) + 2) - 2
                fits = tall <= height and all(
                    LETTERS.has(text) and width_of(text, LETTERS, wide) <= width for text in lines
                )
                if fits and (best is None or wide * high > best[1][0] * best[1][1]):
                    best = lines, (wide, high)
    return best


@lru_cache(maxsize=128)
def _set(lines: Lines, scale: Zoom, width: int, rows: int, is_slab: bool) -> tuple[str, ...]:
    """Lines of block letters centred on ``width`` columns and ``rows`` rows."""
    pictures = [block(text, LETTERS, scale) for text in lines]
    wide = max(len(picture[0]) for picture in pictures)
    gap = (("." * wide,)) * 2
    stack: list[str] = []
    for picture in pictures:
        left = (wide - len(picture[0])) // 2
        stack += [*(gap if stack else ()), *placed(picture, wide, len(picture), left=left, top=0)]
    left, top = (width - wide) // 2, (2 * rows - len(stack)) // 2
    if not is_slab:
        return half_blocks(placed(tuple(stack), width, 2 * rows, left=left, top=top))
    slab = inverted(placed(tuple(stack), width - 2, 2 * rows, left=left - 1, top=top))
    return half_blocks(placed(slab, width, 2 * rows, left=1, top=0))


def _plain_headline(say: Headline, width: int, rows: int) -> list[Row]:
    """The headline as text in the middle of its rows; on a bar if all is well."""
    mark = f"{say.mark} " if say.mark != " " else ""
    first = say.texts[-1].split(" ")[0]
    # An amount is shown whole or not at all: 1/16 cut to 1 is another amount.
    tries = [clean(some) for some in (*(mark + text for text in say.texts), mark + first, first)]
    text = next((some for some in tries if cell_len(some) + 2 <= width), say.mark[:width])
    spaced = " ".join(text)
    if cell_len(spaced) + 4 <= width:
        text = spaced
    bar = "█" if say.mood == "good" else " "
    room = max(width - cell_len(text) - 2, 0)
    left, right = room // 2, room - room // 2
    row: Row = ((f"{bar * left} {text} {bar * right}", say.mood),)
    return [*[()] * ((rows - 1) // 2), row, *[()] * (rows // 2)]


def _small_print(view: BenchView, rows: int) -> list[list[str]]:
    """The phrases of each line of small print, most wanted first."""
    value, advice = words.value_phrases(view), words.advice_phrases(view)
    if rows == 1:
        urgent = 1 if view.doubt or view.notice or view.statuses else 0
        value = [*advice[:urgent], *value, *advice[urgent:]]
    return [value, advice][:rows]
