"""Status fields, as codes or as bits, shared by the layouts."""

from collections.abc import Iterable, Mapping
from typing import Annotated, Any

from pydantic import BeforeValidator, Field

from drivers.errors import FrameError
from drivers.reading import Status


def _unused(given: Any) -> Any:
    """TOML has no null: empty quotes stand for a bit without a meaning."""
    return None if given == "" else given


StatusBits = Annotated[
    tuple[Annotated[Status | None, BeforeValidator(_unused)], ...], Field(max_length=16)
]
"""The meaning of each bit, lowest first; ``""`` (None) for a bit that is always 0."""


def bits_to_status(number: int, bits: tuple[Status | None, ...]) -> frozenset[Status]:
    """The statuses whose bits are set in ``number``.

    Raises:
        FrameError: a bit is set that has no meaning in this layout.
    """
    if not number:
        return frozenset()
    found = set()
    for place in range(number.bit_length()):
        if number >> place & 1:
            meaning = bits[place] if place < len(bits) else None
            if meaning is None:
                raise FrameError(f"status: bit {place} of 0x{number:X} has no meaning here")
            found.add(meaning)
    return frozenset(found)


def status_to_bits(status: Iterable[Status], bits: tuple[Status | None, ...]) -> int:
    """The number whose bits say ``status``; what the layout has no bit for is left out."""
    return sum(1 << bits.index(each) for each in status if each in bits)


def possible_bits(bits: tuple[Status | None, ...], width: int) -> set[int]:
    """Every number of ``width`` bits that says something."""
    known = sum(1 << place for place, meaning in enumerate(bits) if meaning is not None)
    return {number for number in range(1 << width) if not number & ~known}


def nearest_code(status: frozenset[Status], codes: Mapping[str, frozenset[Status]]) -> str:
    """The code that says most of ``status`` and nothing besides.

    Raises:
        FrameError: there is no code that says nothing wrong.
    """
    fitting = [code for code, meaning in codes.items() if meaning <= status]
    if not fitting:
        raise FrameError(f"status: no code for {sorted(each.value for each in status)}")
    return max(fitting, key=lambda code: len(codes[code]))


def byte_class(allowed: Iterable[int]) -> bytes:
    """A regular expression for one byte out of ``allowed``."""
    return b"[" + b"".join(b"\\x%02x" % byte for byte in sorted(allowed)) + b"]"
