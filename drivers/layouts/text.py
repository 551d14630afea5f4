"""Text frames: signed decimal digits, with or without unit, label, sequence number and status.

A frame is an ordered list of fields. A number is accepted only if writing it again gives the same
characters, so a lost, doubled or displaced character in a fixed-width field is refused.
"""

import re
from decimal import Decimal
from functools import cached_property
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, model_validator

from drivers.errors import FrameError
from drivers.form import Form, WireText
from drivers.layouts.status import nearest_code
from drivers.reading import Shown, Status, Unit

NUMBER = re.compile(r" *(?:[+-] *)?[0-9]{1,9}(?:[.,][0-9]{1,9})?", re.ASCII)


def _least_most(given: Any) -> Any:
    """``4`` for always four digits, ``[1, 4]`` for one to four."""
    pair = [given, given] if type(given) is int else given
    if (
        isinstance(pair, list | tuple)
        and len(pair) == 2
        and all(type(each) is int for each in pair)
        and 1 <= pair[0] <= pair[1] <= 9
    ):
        return tuple(pair)
    said = f'"{given}"' if isinstance(given, str) else given
    raise ValueError(f"{said} is neither a number of digits from 1 to 9 nor [least, most]")


class NumberField(Form):
    """The digits: sign, whole digits, point, decimals.

    ``whole`` is how many digits stand before the point, always; or ``[least, most]`` for a number
    that is as long as it needs to be. ``pad = " "`` puts spaces where leading zeros would be, in
    front of the sign, or behind it with ``sign_first``. ``point`` is the character between the
    digits.
    """

    field: Literal["number"]
    sign: Literal["always", "space or minus", "minus only"] = "always"
    whole: Annotated[tuple[int, int], BeforeValidator(_least_most)] = (4, 4)
    decimals: Annotated[dict[Unit, Annotated[int, Field(ge=0, le=9)]], Field(min_length=1)]
    pad: Literal["0", " "] = "0"
    sign_first: bool = False
    point: Literal[".", ","] = "."

    def _tail(self, unit: Unit) -> int:
        """Characters of the point and the decimals."""
        return self.decimals[unit] + 1 if self.decimals[unit] else 0

    def pattern(self, unit: Unit) -> str:
        """A regular expression for the characters that a number in ``unit`` takes."""
        tail, (least, most) = self._tail(unit), self.whole
        shortest = 0 if self.sign == "minus only" else 1
        return rf"(?P<number>[ 0-9.,+-]{{{least + tail + shortest},{most + tail + 1}}})"

    def write(self, value: Decimal, unit: Unit) -> str:
        """``value`` as the gauge writes it.

        Raises:
            FrameError: other decimals than the layout has, or too many digits.
        """
        places = self.decimals[unit]
        if value.as_tuple().exponent != -places:
            raise FrameError(f"number: {value} does not have {places} decimals ({unit.value})")
        digits = f"{value:f}"
        plus = {"always": "+", "space or minus": " ", "minus only": ""}[self.sign]
        sign, digits = ("-", digits[1:]) if digits[0] == "-" else (plus, digits)
        least, most = self.whole
        tail = self._tail(unit)
        if len(digits) > most + tail:
            raise FrameError(f"number: {value} has more than {most} digits before the point")
        digits = digits.replace(".", self.point)
        if self.pad == " " and not self.sign_first:
            return (sign + digits).rjust(least + tail + len(sign))
        return sign + digits.rjust(least + tail, self.pad)

    def read(self, text: str, unit: Unit) -> Decimal:
        """The number that ``text`` writes.

        Raises:
            FrameError: the gauge would not have written it so.
        """
        if NUMBER.fullmatch(text) is None:
            raise FrameError(f"number: {text!r} is not a number of this layout")
        value = Decimal(text.replace(" ", "").replace(",", "."))
        if self.write(value, unit) != text:
            raise FrameError(f"number: {text!r} is not written the way this gauge writes numbers")
        return value


class UnitField(Form):
    """The unit, by the characters that stand for each."""

    field: Literal["unit"]
    mm: WireText | None = None
    inch: Annotated[WireText | None, Field(alias="in")] = None

    @model_validator(mode="after")
    def _texts_differ(self) -> "UnitField":
        if self.mm == self.inch:
            raise ValueError("mm: give mm, in or both, with different characters")
        return self

    def text(self, unit: Unit) -> str | None:
        """The characters for ``unit``, None if the gauge has no such unit."""
        return self.mm if unit is Unit.MM else self.inch


class TextField(Form):
    """Characters that are always the same."""

    field: Literal["text"]
    text: Annotated[WireText, Field(min_length=1)]


class LabelField(Form):
    """The gauge's own number or name, of fixed width."""

    field: Literal["label"]
    width: Annotated[int, Field(ge=1, le=16)]


class SequenceField(Form):
    """A counter that goes up by one each frame and starts again at zero."""

    field: Literal["sequence"]
    digits: Annotated[int, Field(ge=1, le=9)]


class StatusField(Form):
    """What the gauge says of itself, one code of fixed width for each combination."""

    field: Literal["status"]
    codes: Annotated[dict[WireText, frozenset[Status]], Field(min_length=1)]

    @model_validator(mode="after")
    def _one_width(self) -> "StatusField":
        widths = {len(code) for code in self.codes}
        if len(widths) != 1 or widths == {0}:
            raise ValueError("codes: all codes must have the same width, at least 1 character")
        if frozenset() not in self.codes.values():
            raise ValueError('codes: one code must say that all is well, such as "0" = []')
        return self


AnyField = Annotated[
    NumberField | UnitField | TextField | LabelField | SequenceField | StatusField,
    Field(discriminator="field"),
]


class TextLayout(Form):
    """A line of text made of fields.

    ``unit`` is for gauges that do not send their unit. ``words`` are payloads that stand for no
    number, such as an error display, with what they say.
    """

    kind: Literal["text"]
    fields: Annotated[tuple[AnyField, ...], Field(min_length=1)]
    unit: Unit | None = None
    words: dict[WireText, Annotated[frozenset[Status], Field(min_length=1)]] = Field(
        default_factory=dict
    )

    @model_validator(mode="after")
    def _fields_make_sense(self) -> "TextLayout":
        kinds = [each.field for each in self.fields]
        for kind in ("number", "unit", "label", "sequence", "status"):
            if kinds.count(kind) > 1:
                raise ValueError(f'fields: "{kind}" stands in it more than once')
        if "number" not in kinds:
            raise ValueError('fields: no "number" field; a gauge sends a number')
        if "unit" not in kinds and self.unit is None:
            raise ValueError(
                'unit: is missing; add unit = "mm" (or "in") for a gauge that does not send it, '
                'or a "unit" field'
            )
        if "unit" in kinds and self.unit is not None:
            raise ValueError('unit: there is a "unit" field too; take one of the two out')
        if not self._patterns:
            raise ValueError("fields: the unit and the number's decimals have no unit in common")
        for word in self.words:
            if any(pattern.fullmatch(word) for pattern in self._patterns.values()):
                raise ValueError(f'words: "{word}" could be a number')
        return self

    @cached_property
    def _number(self) -> NumberField:
        return next(each for each in self.fields if isinstance(each, NumberField))

    @cached_property
    def _codes(self) -> dict[str, frozenset[Status]]:
        return next((each.codes for each in self.fields if isinstance(each, StatusField)), {})

    @cached_property
    def _patterns(self) -> dict[Unit, re.Pattern[str]]:
        """The whole frame as one pattern for each unit that the gauge has.

        At most one part of it varies in length, the number, so matching takes linear time.
        """
        patterns = {}
        for unit in [self.unit] if self.unit else list(Unit):
            if unit in self._number.decimals:
                parts = [_pattern(each, unit) for each in self.fields]
                if None not in parts:
                    patterns[unit] = re.compile("".join(filter(None, parts)), re.ASCII)
        return patterns

    def decode(self, payload: bytes) -> Shown:
        """See ``Layout.decode``."""
        try:
            text = payload.decode("ascii")
        except UnicodeDecodeError:
            raise FrameError("bytes that are not ASCII text") from None
        if text in self.words:
            return Shown(None, self.unit or Unit.MM, self.words[text])
        problem = FrameError(f"{text!r} does not have the fields of this layout")
        for unit, pattern in self._patterns.items():
            if match := pattern.fullmatch(text):
                try:
                    return self._shown(match.groupdict(), unit)
                except FrameError as error:
                    problem = error
        raise problem

    def _shown(self, found: dict[str, str], unit: Unit) -> Shown:
        sequence, status = found.get("sequence"), found.get("status")
        return Shown(
            value=self._number.read(found["number"], unit),
            unit=unit,
            status=frozenset() if status is None else self._codes[status],
            sequence=None if sequence is None else int(sequence),
            label=found.get("label"),
        )

    def encode(self, shown: Shown) -> bytes:
        """See ``Layout.encode``."""
        if shown.value is None:
            return nearest_code(shown.status, self.words).encode("ascii")
        if shown.unit not in self._patterns:
            raise FrameError(f"unit: this gauge has no {shown.unit.value} display")
        return "".join(_write(each, shown, shown.value) for each in self.fields).encode("ascii")


def _pattern(field: AnyField, unit: Unit) -> str | None:
    """A regular expression for one field, None if the field cannot say ``unit``."""
    match field:
        case NumberField():
            return field.pattern(unit)
        case UnitField():
            text = field.text(unit)
            return None if text is None else re.escape(text)
        case TextField():
            return re.escape(field.text)
        case LabelField():
            return rf"(?P<label>[0-9A-Za-z]{{{field.width}}})"
        case SequenceField():
            return rf"(?P<sequence>[0-9]{{{field.digits}}})"
        case StatusField():
            return f"(?P<status>{'|'.join(re.escape(code) for code in field.codes)})"


def _write(field: AnyField, shown: Shown, value: Decimal) -> str:
    """One field as the gauge writes it."""
    match field:
        case NumberField():
            return field.write(value, shown.unit)
        case UnitField():
            return field.text(shown.unit) or ""
        case TextField():
            return field.text
        case LabelField():
            label = (shown.label or "").rjust(field.width, "0")
            if len(label) > field.width or not (label.isascii() and label.isalnum()):
                raise FrameError(f"label: {shown.label!r} is not {field.width} letters or digits")
            return label
        case SequenceField():
            return f"{(shown.sequence or 0) % 10**field.digits:0{field.digits}d}"
        case StatusField():
            return nearest_code(shown.status, field.codes)
