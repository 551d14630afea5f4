"""Packed digits: a frame of n nibbles (half bytes), one decimal digit in each.

Beside the digits stand a sign, the place of the decimal point and the unit, and constant nibbles
by which a frame is recognised: a constant above 9 cannot be mistaken for a digit.
"""

from decimal import Decimal
from functools import cached_property
from typing import Annotated, Any, Literal, get_args

from pydantic import BeforeValidator, Field, model_validator

from drivers.errors import FrameError
from drivers.form import Form
from drivers.layouts.status import (
    StatusBits,
    bits_to_status,
    byte_class,
    possible_bits,
    status_to_bits,
)
from drivers.reading import Shown, Status, Unit

Nibble = Annotated[int, Field(ge=0, le=15)]
Name = Literal["sign", "digit", "point", "unit", "status"]


def _place(given: Any) -> Any:
    """A nibble's name or its constant."""
    if given in get_args(Name) or (type(given) is int and 0 <= given <= 15):
        return given
    names = ", ".join(f'"{name}"' for name in get_args(Name))
    said = f'"{given}"' if isinstance(given, str) else given
    raise ValueError(f"{said} is neither one of {names} nor a nibble from 0 to 15 (0xF)")


Place = Annotated[int | Name, BeforeValidator(_place)]
"""What one nibble of the frame is."""


class SignCodes(Form):
    """The nibbles for plus and minus."""

    plus: Nibble = 0
    minus: Nibble


class UnitCodes(Form):
    """The nibbles for millimetres and inches."""

    mm: Nibble | None = None
    inch: Annotated[Nibble | None, Field(alias="in")] = None


class BcdLayout(Form):
    """Nibbles in the order that ``order`` gives; a number in it is a constant nibble.

    ``first`` says which half of a byte is sent first, ``digits`` which digit. The point nibble
    holds the number of decimals. An odd number of nibbles is filled up with a zero. ``blank`` is
    what every digit holds while the gauge shows no number.
    """

    kind: Literal["bcd"]
    order: Annotated[tuple[Place, ...], Field(min_length=4, max_length=64)]
    first: Literal["high half", "low half"] = "high half"
    digits: Literal["highest first", "lowest first"] = "highest first"
    sign: SignCodes
    unit: UnitCodes
    status_bits: Annotated[StatusBits, Field(max_length=4)] = ()
    blank: Nibble | None = None

    @model_validator(mode="after")
    def _places_make_sense(self) -> "BcdLayout":
        for place in ("sign", "point", "unit"):
            if self.order.count(place) != 1:
                raise ValueError(f'order: "{place}" must stand in it exactly once')
        if not 1 <= self.order.count("digit") <= 15:
            raise ValueError('order: "digit" must stand in it 1 to 15 times, once a digit')
        if bool(self.status_bits) != ("status" in self.order) or self.order.count("status") > 1:
            raise ValueError('order: one "status" goes together with status_bits')
        if self.sign.plus == self.sign.minus:
            raise ValueError("sign: plus and minus must be different nibbles")
        if self.unit.mm == self.unit.inch:
            raise ValueError("unit: give mm, in or both, with different nibbles")
        if self.blank is not None and self.blank <= 9:
            raise ValueError("blank: must be above 9, or it could be a digit")
        return self

    @property
    def length(self) -> int:
        """Bytes in a frame's payload."""
        return (len(self.order) + 1) // 2

    @property
    def constants(self) -> int:
        """Constant nibbles by which a frame is recognised."""
        return sum(isinstance(place, int) for place in self.order)

    @property
    def first_byte(self) -> int | None:
        """The frame's first byte, if it is always the same."""
        high, low = self.order[:2] if self.first == "high half" else self.order[1::-1]
        return high << 4 | low if isinstance(high, int) and isinstance(low, int) else None

    @cached_property
    def _units(self) -> dict[int, Unit]:
        codes = {self.unit.mm: Unit.MM, self.unit.inch: Unit.INCH}
        return {code: unit for code, unit in codes.items() if code is not None}

    @cached_property
    def pattern(self) -> bytes:
        """A regular expression, a class for each byte, that every payload of this layout fits."""
        count = self.order.count("digit")
        allowed: dict[int | str, set[int]] = {
            "sign": {self.sign.plus, self.sign.minus},
            "digit": set(range(10)) | ({self.blank} if self.blank is not None else set()),
            "point": set(range(count)),
            "unit": set(self._units),
            "status": possible_bits(self.status_bits, 4),
        }
        halves = [{place} if isinstance(place, int) else allowed[place] for place in self.order]
        halves += [{0}] * (len(halves) % 2)
        pairs = zip(halves[::2], halves[1::2], strict=True)
        if self.first == "low half":
            pairs = ((high, low) for low, high in pairs)  # type: ignore[assignment]
        return b"".join(
            byte_class(high << 4 | low for high in highs for low in lows) for highs, lows in pairs
        )

    def decode(self, payload: bytes) -> Shown:
        """See ``Layout.decode``."""
        if len(payload) != self.length:
            raise FrameError(f"{len(payload)} bytes where {self.length} are due")
        # The hex digits of a byte are its two halves, and bytes.hex() is the quickest way to them.
        nibbles = [int(half, 16) for half in payload.hex()]
        if self.first == "low half":
            nibbles[::2], nibbles[1::2] = nibbles[1::2], nibbles[::2]
        if len(nibbles) > len(self.order) and nibbles[-1]:
            raise FrameError("the fill nibble at the end is not 0")
        found: dict[str, list[int]] = {"digit": []}
        for place, nibble in zip(self.order, nibbles, strict=False):
            if place == "digit":
                found["digit"].append(nibble)
            elif isinstance(place, str):
                found[place] = [nibble]
            elif nibble != place:
                raise FrameError(f"constant: nibble {nibble:X} where {place:X} is due")
        return self._shown(found)

    def _shown(self, found: dict[str, list[int]]) -> Shown:
        unit = self._units.get(found["unit"][0])
        if unit is None:
            raise FrameError(f"unit: nibble {found['unit'][0]:X} stands for no unit")
        status = bits_to_status(found.get("status", [0])[0], self.status_bits)
        sign, digits, places = found["sign"][0], found["digit"], found["point"][0]
        if sign not in (self.sign.plus, self.sign.minus):
            raise FrameError(f"sign: nibble {sign:X} is neither plus nor minus")
        if places >= len(digits):
            raise FrameError(f"point: place {places} in {len(digits)} digits")
        if self.blank is not None and set(digits) == {self.blank}:
            return Shown(None, unit, status | {Status.ERROR})
        if max(digits) > 9:
            raise FrameError(f"digit: nibble {max(digits):X} is no decimal digit")
        if self.digits == "lowest first":
            digits = digits[::-1]
        return Shown(Decimal((int(sign == self.sign.minus), digits, -places)), unit, status)

    def encode(self, shown: Shown) -> bytes:
        """See ``Layout.encode``."""
        unit = {unit: code for code, unit in self._units.items()}.get(shown.unit)
        if unit is None:
            raise FrameError(f"unit: this gauge has no {shown.unit.value} display")
        sign, digits, point = self._digits(shown.value, self.order.count("digit"))
        if self.digits == "lowest first":
            digits = digits[::-1]
        fill: dict[str, list[int]] = {
            "sign": [sign],
            "digit": digits,
            "point": [point],
            "unit": [unit],
            "status": [status_to_bits(shown.status, self.status_bits)],
        }
        nibbles = [each if isinstance(each, int) else fill[each].pop(0) for each in self.order]
        nibbles += [0] * (len(nibbles) % 2)
        pairs = zip(nibbles[::2], nibbles[1::2], strict=True)
        if self.first == "low half":
            return bytes(low | high << 4 for low, high in pairs)
        return bytes(high << 4 | low for high, low in pairs)

    def _digits(self, value: Decimal | None, count: int) -> tuple[int, list[int], int]:
        """Sign nibble, digits highest first, and decimals."""
        if value is None:
            if self.blank is None:
                raise FrameError("number: this gauge cannot show that it has none")
            return self.sign.plus, [self.blank] * count, 0
        sign, digits, exponent = value.as_tuple()
        places = -exponent if isinstance(exponent, int) else -1
        if places < 0 or len(digits) > count or places >= count:
            raise FrameError(f"number: {value} does not fit {count} digits")
        filled = [0] * (count - len(digits)) + list(digits)
        return (self.sign.minus if sign else self.sign.plus), filled, places
