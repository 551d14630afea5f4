"""The shapes of text frames: one for each unit, sign and number of digits before the point."""

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from drivers.blocks.body import NO_ZERO, Body
from drivers.blocks.rows import DIGITS, Flags, Rows
from drivers.blocks.shape import Codes, Sketch
from drivers.layouts import TextLayout
from drivers.layouts.text import (
    AnyField,
    LabelField,
    NumberField,
    SequenceField,
    StatusField,
    TextField,
    UnitField,
)
from drivers.reading import Unit

ALNUM = frozenset(byte for byte in range(128) if chr(byte).isalnum())


def text_sketches(layout: TextLayout, unit: Unit, before: int) -> Iterator[Sketch]:
    """The sketch of each payload in ``unit``, for frames with ``before`` bytes in front of it.

    Its places are those of the payload; everything else in it counts from the frame's beginning.
    """
    for body in _bodies(layout, unit):
        sketch = body.sketch(unit, _number_of(layout).decimals[unit], before)
        if body.status_at is not None:
            _put_status(sketch, _status_of(layout), before + body.status_at)
        if body.sequence is not None:
            sketch.sequence = _Slice(body.sequence, before).number
        if body.label is not None:
            sketch.label = _Slice(body.label, before).text
        yield sketch


def _put_status(sketch: Sketch, field: StatusField, at: int) -> None:
    """Let ``sketch`` read the status that begins at byte ``at``."""
    codes, meanings = list(field.codes), list(field.codes.values())
    sketch.status = CodesAt(at, codes)
    sketch.meaning = meanings.__getitem__
    sketch.known |= set(range(at, at + len(codes[0])))


class _Slice:
    """Characters of a frame."""

    def __init__(self, where: slice, before: int) -> None:
        self._where = slice(before + where.start, before + where.stop)

    def text(self, frame: bytes) -> str:
        return frame[self._where].decode("ascii")

    def number(self, frame: bytes) -> int:
        return int(frame[self._where])


def _bodies(layout: TextLayout, unit: Unit) -> list[Body]:
    """Every way in which the fields can lie, as far as lengths and constants tell."""
    bodies = [Body()]
    for field in layout.fields:
        bodies = [longer for body in bodies for longer in _followed(body, field, unit)]
    return bodies


def _followed(body: Body, field: AnyField, unit: Unit) -> Iterator[Body]:
    """``body`` with ``field`` behind it; nothing if the field cannot say ``unit``."""
    match field:
        case NumberField():
            if unit in field.decimals:
                yield from _with_number(body, field, field.decimals[unit])
        case UnitField():
            text = field.text(unit)
            if text is not None:
                yield body.then_text(text)
        case TextField():
            yield body.then_text(field.text)
        case LabelField():
            yield replace(body, label=_next(body, field.width)).then(*[ALNUM] * field.width)
        case SequenceField():
            longer = replace(body, sequence=_next(body, field.digits))
            yield longer.then(*[DIGITS] * field.digits)
        case StatusField():
            codes = [code.encode("ascii") for code in field.codes]
            places = [frozenset(column) for column in zip(*codes, strict=True)]
            yield replace(body, status_at=len(body.places)).then(*places)


def _next(body: Body, width: int) -> slice:
    """The places of a field of ``width`` behind ``body``."""
    return slice(len(body.places), len(body.places) + width)


def _with_number(body: Body, field: NumberField, decimals: int) -> Iterator[Body]:
    """``body`` and a number as ``NumberField.write`` lays it out."""
    least, most = field.whole
    signs = {"always": ["+-"], "space or minus": [" -"], "minus only": ["", "-"]}[field.sign]
    for sign in signs:
        for whole in range(1 if field.pad == " " else least, most + 1):
            spaces = " " * (least - whole)
            # More digits than need be, or filled up with spaces: then none of them is a zero.
            is_bare = whole > (1 if field.pad == " " else least)
            first = NO_ZERO if is_bare else DIGITS
            if field.sign_first:
                made = body.then_sign(sign).then_text(spaces)
            else:
                made = body.then_text(spaces).then_sign(sign)
            made = made.then_digits(first, *[DIGITS] * (whole - 1))
            if decimals:
                made = made.then_text(field.point).then_digits(*[DIGITS] * decimals)
            yield made


def _number_of(layout: TextLayout) -> NumberField:
    return next(each for each in layout.fields if isinstance(each, NumberField))


def _status_of(layout: TextLayout) -> StatusField:
    return next(each for each in layout.fields if isinstance(each, StatusField))


class CodesAt:
    """Status codes of fixed width; a row's code is the number of its code in the profile."""

    def __init__(self, at: int, codes: list[str]) -> None:
        self._at = at
        self._codes = [code.encode("ascii") for code in codes]

    def __call__(self, rows: Rows) -> tuple[Codes, Flags | None]:
        """The code numbers, and which rows have a code at all; None for all of them."""
        status = np.zeros(rows.count, np.uint16)
        found = np.zeros(rows.count, np.bool_)
        for number, code in enumerate(self._codes):
            fits = self._has(rows, code)
            if number == 0 and fits.all():
                return status, None
            status[fits] = number
            found |= fits
        return status, found

    def _has(self, rows: Rows, code: bytes) -> Flags:
        fits: Flags = rows.byte(self._at) == code[0]
        for place, byte in enumerate(code[1:], self._at + 1):
            fits = fits & (rows.byte(place) == byte)
        return fits
