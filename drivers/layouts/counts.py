"""Binary frames: a two's complement count of steps, with constants, status bits and a sequence."""

import re
from decimal import Decimal
from functools import cached_property
from typing import Annotated, Literal

from pydantic import Field, model_validator

from drivers.errors import FrameError
from drivers.form import Form, Step, WireBytes
from drivers.layouts.status import (
    StatusBits,
    bits_to_status,
    byte_class,
    possible_bits,
    status_to_bits,
)
from drivers.reading import Shown, Status, Unit

Order = Literal["high byte first", "low byte first"]


class ConstantField(Form):
    """Bytes that are always the same."""

    field: Literal["constant"]
    value: Annotated[WireBytes, Field(min_length=1)]


class CountField(Form):
    """The count, two's complement."""

    field: Literal["count"]
    bits: Literal[8, 16, 24, 32, 40, 48]
    order: Order


class StatusBitsField(Form):
    """One byte of status bits, lowest first."""

    field: Literal["status"]
    bits: Annotated[StatusBits, Field(max_length=8)]


class SequenceByteField(Form):
    """A counter of one byte."""

    field: Literal["sequence"]


AnyBinaryField = Annotated[
    ConstantField | CountField | StatusBitsField | SequenceByteField,
    Field(discriminator="field"),
]


def _width(field: AnyBinaryField) -> int:
    match field:
        case ConstantField():
            return len(field.value)
        case CountField():
            return field.bits // 8
        case StatusBitsField() | SequenceByteField():
            return 1


class CountsLayout(Form):
    """Fields of bytes in order; the value is the count times ``step``, exactly.

    ``no_number`` is the count that is sent while there is no number.
    """

    kind: Literal["counts"]
    fields: Annotated[tuple[AnyBinaryField, ...], Field(min_length=1, max_length=16)]
    step: Step
    unit: Unit
    no_number: int | None = None

    @model_validator(mode="after")
    def _fields_make_sense(self) -> "CountsLayout":
        kinds = [each.field for each in self.fields]
        for kind in ("count", "status", "sequence"):
            if kinds.count(kind) > 1:
                raise ValueError(f'fields: "{kind}" stands in it more than once')
        if "count" not in kinds:
            raise ValueError('fields: no "count" field; a gauge sends a number')
        bits = next(each.bits for each in self.fields if isinstance(each, CountField))
        if self.no_number is not None and not _fits(self.no_number, bits):
            raise ValueError(f"no_number: {self.no_number} is not a count of {bits} bits")
        return self

    @cached_property
    def length(self) -> int:
        """Bytes in a frame's payload."""
        return sum(_width(each) for each in self.fields)

    @property
    def constants(self) -> int:
        """Constant bytes by which a frame is recognised."""
        return sum(len(each.value) for each in self.fields if isinstance(each, ConstantField))

    @property
    def first_byte(self) -> int | None:
        """The frame's first byte, if it is always the same."""
        first = self.fields[0]
        return first.value[0] if isinstance(first, ConstantField) else None

    @cached_property
    def pattern(self) -> bytes:
        """A regular expression, a class for each byte, that every payload of this layout fits."""
        parts = []
        for field in self.fields:
            match field:
                case ConstantField():
                    parts.append(re.escape(field.value))
                case StatusBitsField():
                    parts.append(byte_class(possible_bits(field.bits, 8)))
                case CountField() | SequenceByteField():
                    parts.append(rb"[\x00-\xff]" * _width(field))
        return b"".join(parts)

    def decode(self, payload: bytes) -> Shown:
        """See ``Layout.decode``."""
        if len(payload) != self.length:
            raise FrameError(f"{len(payload)} bytes where {self.length} are due")
        at, count = 0, 0
        status: frozenset[Status] = frozenset()
        sequence = None
        for field in self.fields:
            part = payload[at : at + _width(field)]
            at += len(part)
            match field:
                case ConstantField():
                    if part != field.value:
                        due = field.value.hex(" ").upper()
                        raise FrameError(f"constant: {part.hex(' ').upper()} where {due} is due")
                case CountField():
                    count = int.from_bytes(part, _order(field.order), signed=True)
                case StatusBitsField():
                    status = bits_to_status(part[0], field.bits)
                case SequenceByteField():
                    sequence = part[0]
        if count == self.no_number:
            return Shown(None, self.unit, status | {Status.ERROR}, sequence)
        return Shown(count * self.step, self.unit, status, sequence)

    def encode(self, shown: Shown) -> bytes:
        """See ``Layout.encode``."""
        if shown.unit is not self.unit:
            raise FrameError(f"unit: this gauge has no {shown.unit.value} display")
        return b"".join(self._write(each, shown) for each in self.fields)

    def _write(self, field: AnyBinaryField, shown: Shown) -> bytes:
        match field:
            case ConstantField():
                return field.value
            case CountField():
                count = count_of(shown.value, self.step, self.no_number)
                if not _fits(count, field.bits):
                    raise FrameError(f"count: {count} does not fit {field.bits} bits")
                return count.to_bytes(field.bits // 8, _order(field.order), signed=True)
            case StatusBitsField():
                return bytes([status_to_bits(shown.status, field.bits)])
            case SequenceByteField():
                return bytes([(shown.sequence or 0) & 0xFF])


def count_of(value: Decimal | None, step: Decimal, no_number: int | None) -> int:
    """The count that stands for ``value`` in steps of ``step``, or for having no number.

    Raises:
        FrameError: not a whole number of steps, or the count that means "no number".
    """
    if value is None:
        if no_number is None:
            raise FrameError("count: this gauge cannot show that it has no number")
        return no_number
    if not value.is_finite() or value.adjusted() > MOST_DIGITS:
        raise FrameError(f"number: {value} is beyond any length that a gauge measures")
    count = int((value / step).to_integral_value())
    if count * step != value:
        raise FrameError(f"number: {value} is not a whole number of steps of {step}")
    if count == no_number:
        raise FrameError(f"number: the count for {value} means that there is none")
    return count


MOST_DIGITS = 21
"""Digits before the point, less one, of the longest number that a 48-bit count can stand for."""


def _fits(count: int, bits: int) -> bool:
    return -(1 << (bits - 1)) <= count < 1 << (bits - 1)


def _order(order: Order) -> Literal["big", "little"]:
    return "big" if order == "high byte first" else "little"
