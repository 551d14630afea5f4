"""Holding registers: the value as an integer or a float in 16-bit registers."""

import math
import struct
from decimal import Decimal
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Discriminator, Field, Tag, model_validator

from drivers.errors import FrameError
from drivers.form import Form, Step
from drivers.layouts.counts import count_of
from drivers.layouts.status import StatusBits, bits_to_status, status_to_bits
from drivers.reading import Shown, Status, Unit

INTEGERS = {"int16": (1, True), "uint16": (1, False), "int32": (2, True)}
"""Registers taken, and whether the number is signed."""

FLOAT32_STEPS = 1 << 21
"""A float32 has 24 significant bits (IEEE 754-2019, table 3.5). Up to this many steps its spacing
is a quarter of a step or less: a last bit lost in the gauge's own arithmetic does no harm."""

FLOAT32_SLACK = 2
"""Spacings by which a float32 may miss the nearest one: a count times a rounded step loses two."""

Register = Annotated[int, Field(ge=0, le=0xFFFF)]


def _no_such_unit(given: Any) -> Any:
    if isinstance(given, str) and given not in [unit.value for unit in Unit]:
        raise ValueError(f'"{given}" is not one of "mm" or "in"')
    return given


def _is_table(given: Any) -> str:
    return "each" if isinstance(given, dict | UnitRegister) else "one"


class UnitRegister(Form):
    """The register that says which unit the display is in."""

    at: Annotated[int, Field(ge=0, le=124)]
    mm: Register | None = None
    inch: Annotated[Register | None, Field(alias="in")] = None

    @model_validator(mode="after")
    def _codes_differ(self) -> "UnitRegister":
        if self.mm == self.inch:
            raise ValueError("mm: give mm, in or both, with different numbers")
        return self


class StatusRegister(Form):
    """The register with the status bits."""

    at: Annotated[int, Field(ge=0, le=124)]
    bits: StatusBits


class RegistersLayout(Form):
    """The value in one or two registers, counted from the first one that is read.

    ``step`` is what one count is worth, in each unit where a register tells the unit; for
    ``float32`` it is the display step that the number is rounded to, since most decimal fractions
    have no exact float. ``no_number`` is the count sent while there is no number; a float says it
    with NaN. Registers that nothing is said about are not looked at.
    """

    kind: Literal["registers"]
    registers: Annotated[int, Field(ge=1, le=125)]
    value_at: Annotated[int, Field(ge=0, le=124)] = 0
    type: Literal["int16", "uint16", "int32", "float32"]
    words: Literal["high word first", "low word first"] = "high word first"
    step: Annotated[
        Annotated[Step, Tag("one")] | Annotated[dict[Unit, Step], Tag("each")],
        Discriminator(_is_table),
    ]
    unit: Annotated[
        Annotated[Unit, BeforeValidator(_no_such_unit), Tag("one")]
        | Annotated[UnitRegister, Tag("each")],
        Discriminator(_is_table),
    ]
    status: StatusRegister | None = None
    no_number: int | None = None

    @model_validator(mode="after")
    def _registers_are_read(self) -> "RegistersLayout":
        used = [("value_at", self.value_at + place) for place in range(self._size)]
        used += [("unit", self.unit.at)] if isinstance(self.unit, UnitRegister) else []
        used += [("status", self.status.at)] if self.status else []
        for name, place in used:
            if place >= self.registers:
                raise ValueError(
                    f"{name}: register {place} is used, but only {self.registers} are read "
                    f"(0 to {self.registers - 1})"
                )
        if len({place for _, place in used}) < len(used):
            raise ValueError("value_at: value, unit and status must be in different registers")
        return self

    @model_validator(mode="after")
    def _steps_and_counts_fit(self) -> "RegistersLayout":
        units = set(self._codes) if isinstance(self.unit, UnitRegister) else None
        if units is None and isinstance(self.step, dict):
            raise ValueError('step: the unit is always the same; write one step such as "0.001"')
        if units is not None and (not isinstance(self.step, dict) or set(self.step) != units):
            names = ", ".join(f'{unit.value} = "…"' for unit in Unit if unit in units)
            raise ValueError(f"step: a register tells the unit; write step = {{ {names} }}")
        if self.no_number is not None:
            if self.type == "float32":
                raise ValueError("no_number: a float32 says it with NaN; take the line out")
            if not _fits(self.no_number, self.type):
                raise ValueError(f"no_number: {self.no_number} is not an {self.type}")
        return self

    @property
    def _size(self) -> int:
        return 1 if self.type in ("int16", "uint16") else 2

    @property
    def _codes(self) -> dict[Unit, int]:
        if isinstance(self.unit, Unit):
            return {}
        codes = {Unit.MM: self.unit.mm, Unit.INCH: self.unit.inch}
        return {unit: code for unit, code in codes.items() if code is not None}

    def step_in(self, unit: Unit) -> Decimal:
        """What one count, or one step of a float's display, is worth in ``unit``."""
        return self.step[unit] if isinstance(self.step, dict) else self.step

    def decode(self, payload: bytes) -> Shown:
        """See ``Layout.decode``."""
        if len(payload) != 2 * self.registers:
            raise FrameError(f"{len(payload)} bytes where {2 * self.registers} are due")
        words = struct.unpack(f">{self.registers}H", payload)
        unit = self._unit(words)
        status: frozenset[Status] = frozenset()
        if self.status:
            status = bits_to_status(words[self.status.at], self.status.bits)
        value = self._value(self._ordered(words), self.step_in(unit))
        if value is None:
            return Shown(None, unit, status | {Status.ERROR})
        return Shown(value, unit, status)

    def _ordered(self, words: tuple[int, ...]) -> bytes:
        own = words[self.value_at : self.value_at + self._size]
        if self.words == "low word first":
            own = own[::-1]
        return struct.pack(f">{self._size}H", *own)

    def _unit(self, words: tuple[int, ...]) -> Unit:
        if isinstance(self.unit, Unit):
            return self.unit
        code = words[self.unit.at]
        for unit, own in self._codes.items():
            if code == own:
                return unit
        raise FrameError(f"unit: register holds {code}, which is no unit")

    def _value(self, octets: bytes, step: Decimal) -> Decimal | None:
        if self.type == "float32":
            number = struct.unpack(">f", octets)[0]
            return None if math.isnan(number) else _on_step(number, step)
        count = int.from_bytes(octets, "big", signed=INTEGERS[self.type][1])
        return None if count == self.no_number else count * step

    def encode(self, shown: Shown) -> bytes:
        """See ``Layout.encode``."""
        words = [0] * self.registers
        if isinstance(self.unit, UnitRegister) and shown.unit in self._codes:
            words[self.unit.at] = self._codes[shown.unit]
        elif shown.unit is not self.unit:
            raise FrameError(f"unit: this gauge has no {shown.unit.value} display")
        own = struct.unpack(f">{self._size}H", self._octets(shown.value, self.step_in(shown.unit)))
        if self.words == "low word first":
            own = own[::-1]
        words[self.value_at : self.value_at + self._size] = own
        if self.status:
            words[self.status.at] = status_to_bits(shown.status, self.status.bits)
        return struct.pack(f">{self.registers}H", *words)

    def _octets(self, value: Decimal | None, step: Decimal) -> bytes:
        if self.type == "float32":
            if value is None:
                return struct.pack(">f", math.nan)
            if not value.is_finite() or abs(value) > step * FLOAT32_STEPS:
                raise FrameError(f"number: {value} is beyond what a float32 holds exactly enough")
            octets = struct.pack(">f", float(value))
            if _on_step(struct.unpack(">f", octets)[0], step) != value:
                raise FrameError(f"number: {value} is not on the display's steps of {step}")
            return octets
        count = count_of(value, step, self.no_number)
        if not _fits(count, self.type):
            raise FrameError(f"count: {count} does not fit {self.type}")
        return count.to_bytes(2 * self._size, "big", signed=INTEGERS[self.type][1])


def _fits(count: int, kind: str) -> bool:
    size, signed = INTEGERS[kind]
    least = -(1 << (16 * size - 1)) if signed else 0
    return least <= count < least + (1 << 16 * size)


def _on_step(number: float, step: Decimal) -> Decimal:
    """The display's digits behind a float32.

    Raises:
        FrameError: infinite, too large for a float32 to hold the step, or between two steps.
    """
    if math.isinf(number) or round(abs(number) / float(step)) > FLOAT32_STEPS:
        raise FrameError(f"number: {number:g} is beyond what a float32 holds to a step of {step}")
    # quantize, for the product would show 12.30 as 12.3: a report must not lose the last digit.
    value = ((Decimal(number) / step).to_integral_value() * step).quantize(step)
    # A float32 has 24 bits, a float 53: one spacing of the first is 2**29 of the second.
    if abs(number - float(value)) > FLOAT32_SLACK * math.ulp(number) * (1 << 29):
        raise FrameError(f"number: {number:.9g} is not on the display's steps of {step}")
    return value
