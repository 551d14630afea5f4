"""The shapes of binary frames: packed digits, counts and registers."""

from collections.abc import Iterator, Sequence
from decimal import Decimal
from functools import partial
from operator import itemgetter

import numpy as np

from drivers.blocks.rows import WORD, Counts, Flags, Rows, Words
from drivers.blocks.shape import ANY_BYTE, MOST_COUNT, Codes, Sketch
from drivers.layouts import BcdLayout, CountsLayout, RegistersLayout
from drivers.layouts.counts import (
    ConstantField,
    CountField,
    SequenceByteField,
    StatusBitsField,
)
from drivers.layouts.registers import FLOAT32_SLACK, FLOAT32_STEPS, UnitRegister
from drivers.layouts.status import StatusBits, bits_to_status, possible_bits
from drivers.reading import Unit

NO_DIGIT = 1 << 58
"""Added once for each byte that holds no digits: fifteen digits stay far below it, and eight times
it still fits 64 bits."""


def only(byte: int) -> frozenset[int]:
    """A place that is always the same."""
    return frozenset({byte})


class PackedDigits:
    """Digits in half bytes; one table for each byte that holds any."""

    def __init__(self, worth: dict[int, tuple[int, int]]) -> None:
        """``worth`` is what the high and the low half of each byte are worth; 0 for no digit."""
        self._tables = [(at, _digits_table(*halves)) for at, halves in worth.items()]
        self.checked = {at for at, halves in worth.items() if all(halves)}

    def read(self, rows: Rows, bad: Words) -> Counts:
        """See ``ReadsNumber``."""
        total = np.zeros(rows.count, np.int64)
        for at, table in self._tables:
            total += table.take(rows.byte(at))
        bad |= (total >= NO_DIGIT).view(np.uint8)
        return total


def _digits_table(high: int, low: int) -> Counts:
    table = np.zeros(256, np.int64)
    for byte in range(256):
        digits = [(byte >> 4, high), (byte & 15, low)]
        if any(worth and digit > 9 for digit, worth in digits):
            table[byte] = NO_DIGIT
        else:
            table[byte] = sum(digit * worth for digit, worth in digits)
    return table


class WholeNumber:
    """A two's complement or unsigned number of whole bytes."""

    def __init__(self, at: int, size: int, high_first: bool, signed: bool) -> None:
        self._at, self._high_first, self._signed = at, high_first, signed
        self._unused = np.uint64(8 * (WORD - size))
        self.checked = set(range(at, at + size))

    def read(self, rows: Rows, bad: Words) -> Counts:  # noqa: ARG002
        """See ``ReadsNumber``."""
        word = rows.word(self._at)
        if self._high_first:
            word.byteswap(inplace=True)
        else:
            word <<= self._unused
        # Now the number's highest bit is the word's.
        if not self._signed:
            word >>= self._unused
            return word.view(np.int64)
        number: Counts = word.view(np.int64)
        number >>= np.int64(self._unused)
        return number


class SwappedWords:
    """Two registers, the low one first."""

    def __init__(self, at: int) -> None:
        self._at = at
        self.checked = set(range(at, at + 4))

    def read(self, rows: Rows, bad: Words) -> Counts:  # noqa: ARG002
        """See ``ReadsNumber``."""
        high, low = rows.word(self._at + 2), rows.word(self._at)
        for each in (high, low):
            each.byteswap(inplace=True)
            each >>= np.uint64(48)
        return ((high << np.uint64(16) | low).astype(np.uint32)).view(np.int32).astype(np.int64)


class FloatNumber:
    """A float32, as a number of display steps; every doubtful one is bad.

    ``RegistersLayout`` says when one is on a step. What lies near its limits is not decided here.
    """

    def __init__(self, bits: WholeNumber | SwappedWords, step: Decimal) -> None:
        self._bits, self.checked = bits, bits.checked
        decimals, self._worth = _decimals_and_worth(step)
        self._step, self._per_unit = float(step), float(10**decimals)

    def read(self, rows: Rows, bad: Words) -> Counts:
        """See ``ReadsNumber``."""
        number = self._bits.read(rows, bad).astype(np.uint32).view(np.float32)
        with np.errstate(invalid="ignore"):  # NaN says that there is no number
            # A float32's quiet NaNs and its infinities are above every limit.
            exact = np.nan_to_num(number.astype(np.float64), nan=np.inf)
        exact[~(np.abs(exact) < self._step * (FLOAT32_STEPS - 1))] = np.inf
        far = np.isinf(exact)
        exact[far] = 0.0
        steps = np.rint(exact / self._step)
        # Both are whole and exact, so the quotient is the float nearest to the decimal number.
        shown = steps * self._worth / self._per_unit
        off = np.abs(exact - shown)
        slack = FLOAT32_SLACK * np.spacing(np.abs(exact)) * (1 << 29)
        bad |= (far | (off > slack) | (off > self._step / 4)).view(np.uint8)
        return steps.astype(np.int64)


class BitsAt:
    """Status bits in half a byte, a byte or a register; the code of a row is their number."""

    def __init__(self, at: int, shift: int, is_half: bool = False, is_register: bool = False):
        self._at, self._shift = at, shift
        self._mask = 15 if is_half else 0xFFFF
        self._is_register = is_register

    def __call__(self, rows: Rows) -> tuple[Codes, Flags | None]:
        """The bits; that all of them mean something is checked by place."""
        code = rows.byte(self._at).astype(np.uint16)
        if self._is_register:
            code = code << np.uint16(8) | rows.byte(self._at + 1)
        return code >> np.uint16(self._shift) & np.uint16(self._mask), None


def bcd_sketches(layout: BcdLayout, unit: Unit, decimals: int, before: int) -> Iterator[Sketch]:
    """The sketch of a payload with so many decimals of ``unit``, ``before`` bytes into the frame.

    Its places are the payload's; everything else in it counts from the frame's beginning.
    """
    code = layout.unit.mm if unit is Unit.MM else layout.unit.inch
    count = layout.order.count("digit")
    if code is None or not 0 <= decimals < count:
        return
    order = [*layout.order, 0] if len(layout.order) % 2 else list(layout.order)
    if layout.first == "low half":
        order[::2], order[1::2] = order[1::2], order[::2]
    allowed: dict[int | str, set[int]] = {
        "sign": {layout.sign.plus, layout.sign.minus},
        "digit": set(range(10)),
        "point": {decimals},
        "unit": {code},
        "status": possible_bits(layout.status_bits, 4),
    }
    halves = [allowed[place] if isinstance(place, str) else {place} for place in order]
    pairs = zip(halves[::2], halves[1::2], strict=True)
    places = [frozenset(hi << 4 | lo for hi in highs for lo in lows) for highs, lows in pairs]
    sketch = Sketch(places, PackedDigits(_digit_worths(layout, before)), unit, decimals)
    at, shift = _nibble(order, "sign")
    sketch.negative = (before + at, 15 << shift, layout.sign.minus << shift)
    if "status" in order:
        at, shift = _nibble(order, "status")
        sketch.status = BitsAt(before + at, shift, is_half=True)
        sketch.meaning = partial(bits_to_status, bits=layout.status_bits)
    yield sketch


def _digit_worths(layout: BcdLayout, before: int) -> dict[int, tuple[int, int]]:
    """What the digits in each byte are worth, high half first; 0 where there is none."""
    is_digit = [place == "digit" for place in layout.order] + [False] * (len(layout.order) % 2)
    worths = [10**power for power in range(sum(is_digit))]
    if layout.digits == "lowest first":
        worths.reverse()
    worth = [worths.pop() if digit else 0 for digit in is_digit]
    if layout.first == "low half":
        worth[::2], worth[1::2] = worth[1::2], worth[::2]
    pairs = enumerate(zip(worth[::2], worth[1::2], strict=True), before)
    return {at: pair for at, pair in pairs if any(pair)}


def _nibble(order: Sequence[int | str], name: str) -> tuple[int, int]:
    """Byte and shift of the half called ``name``; ``order`` has the high halves first."""
    at = [place == name for place in order].index(True)
    return at // 2, 0 if at % 2 else 4


def counts_sketches(layout: CountsLayout, before: int) -> Iterator[Sketch]:
    """The sketch of a payload of counts, ``before`` bytes into the frame."""
    places: list[frozenset[int]] = []
    number = status = sequence = None
    bits = 0
    meaning: StatusBits = ()
    for field in layout.fields:
        at = before + len(places)
        match field:
            case ConstantField():
                places += [only(byte) for byte in field.value]
            case CountField():
                bits = field.bits
                number = WholeNumber(at, bits // 8, field.order == "high byte first", True)
                places += [ANY_BYTE] * (bits // 8)
            case StatusBitsField():
                status, meaning = BitsAt(at, 0), field.bits
                places.append(frozenset(possible_bits(field.bits, 8)))
            case SequenceByteField():
                sequence = itemgetter(at)
                places.append(ANY_BYTE)
    decimals, worth = _decimals_and_worth(layout.step)
    if number is not None and worth << bits <= MOST_COUNT:
        sketch = Sketch(places, number, layout.unit, decimals, worth, layout.no_number)
        sketch.status, sketch.meaning = status, partial(bits_to_status, bits=meaning)
        sketch.sequence = sequence
        yield sketch


def _decimals_and_worth(step: Decimal) -> tuple[int, int]:
    """The decimals of a step, and how many of its last places it is."""
    decimals = -int(step.as_tuple().exponent)
    return decimals, int(step.scaleb(decimals))


def registers_sketches(layout: RegistersLayout, unit: Unit, before: int) -> Iterator[Sketch]:
    """The sketch of a payload of registers in ``unit``, ``before`` bytes into the frame."""
    places = [ANY_BYTE] * (2 * layout.registers)
    if isinstance(layout.unit, UnitRegister):
        code = layout.unit.mm if unit is Unit.MM else layout.unit.inch
        if code is None:
            return
        at = 2 * layout.unit.at
        places[at : at + 2] = [only(byte) for byte in code.to_bytes(2, "big")]
    elif unit is not layout.unit:
        return
    decimals, worth = _decimals_and_worth(layout.step_in(unit))
    if worth >= 1 << 30:
        return  # the last places of a count would not fit 64 bits, or a float's 53
    sketch = Sketch(places, _register_number(layout, unit, before), unit, decimals, worth)
    sketch.no_number = layout.no_number
    if layout.type == "float32":
        first = layout.value_at + (layout.words == "low word first")
        sketch.minus_zero = (before + 2 * first, 0x80, 0x80)
    if layout.status is not None:
        at = 2 * layout.status.at
        places[at : at + 2] = _two_bytes(layout.status.bits)
        sketch.status = BitsAt(before + at, 0, is_register=True)
        sketch.meaning = partial(bits_to_status, bits=layout.status.bits)
    yield sketch


def _two_bytes(bits: StatusBits) -> list[frozenset[int]]:
    """What the two bytes of a status register may hold, the high one first."""
    return [frozenset(possible_bits(part, 8)) for part in (bits[8:], bits[:8])]


def _register_number(
    layout: RegistersLayout, unit: Unit, before: int
) -> WholeNumber | SwappedWords | FloatNumber:
    at = before + 2 * layout.value_at
    number: WholeNumber | SwappedWords
    if layout.type in ("int16", "uint16"):
        return WholeNumber(at, 2, True, layout.type == "int16")
    if layout.words == "low word first":
        number = SwappedWords(at)
    else:
        number = WholeNumber(at, 4, True, True)
    return FloatNumber(number, layout.step_in(unit)) if layout.type == "float32" else number
