"""What the parts of a gauge profile have in common: strict, frozen models, and bytes in TOML.

A form refuses keys that it does not know, so a misspelt setting is an error and not a default.
"""

import re
from decimal import Decimal
from typing import Annotated, Any

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict


class Form(BaseModel):
    """Base of everything that a profile file can hold."""

    model_config = ConfigDict(frozen=True, extra="forbid")


def _wire_bytes(given: Any) -> bytes:
    """Bytes as a profile writes them: text for ASCII, or ``{hex = "02 3A"}`` for any byte."""
    if isinstance(given, bytes):
        return given
    if isinstance(given, str):
        return _ascii(given).encode("ascii")
    if isinstance(given, dict) and set(given) == {"hex"} and isinstance(given["hex"], str):
        try:
            return bytes.fromhex(given["hex"])
        except ValueError:
            raise ValueError(f'"{given["hex"]}" is not hex bytes such as "02 3A"') from None
    raise ValueError('write text such as "\\r\\n", or { hex = "02 3A" } for bytes')


def _ascii(given: str) -> str:
    """Text that can go over the wire as it stands."""
    odd = [each for each in given if not each.isascii()]
    if odd:
        raise ValueError(
            f'"{odd[0]}" is not an ASCII character; write the bytes as {{ hex = "…" }} '
            "where bytes are allowed"
        )
    return given


def printable(wire: bytes) -> str:
    """Bytes as a profile writes them: text where it is text, else hex."""
    text = wire.decode("latin-1").replace("\r", "\\r").replace("\n", "\\n")
    return f'"{text}"' if text.isascii() and text.isprintable() else wire.hex(" ").upper()


WireBytes = Annotated[bytes, BeforeValidator(_wire_bytes)]
"""Bytes on the wire. Never empty where a framing needs them; each form checks its own."""

WireText = Annotated[str, AfterValidator(_ascii)]
"""Text that goes over the wire, ASCII."""

EXACT = re.compile(r"[+-]?[0-9]{1,6}(\.[0-9]{1,9})?")
"""Bounded, so that products with a 48-bit count still fit decimal's 28 digits exactly."""


def _exact(given: Any) -> Decimal:
    """A decimal number written as text, so that no digit is lost on the way in."""
    if isinstance(given, Decimal):
        return given
    if isinstance(given, bool) or not isinstance(given, str | int | float):
        raise ValueError('write a plain decimal number in quotes, such as "0.001"')
    if not isinstance(given, str):
        raise ValueError(f'{given} needs quotes, so that no digit is lost: "{_plain(given)}"')
    if EXACT.fullmatch(given):
        return Decimal(given)
    as_point = given.replace(",", ".")
    if as_point != given and EXACT.fullmatch(as_point):
        raise ValueError(f'"{given}" has a comma; write a point: "{as_point}"')
    raise ValueError(
        f'"{given}" is not a plain decimal number; write up to 6 digits, a point and up to '
        '9 decimals, such as "0.001"'
    )


def _plain(number: int | float) -> str:
    """A number without an exponent."""
    return f"{Decimal(repr(number)):f}"


Exact = Annotated[Decimal, BeforeValidator(_exact)]
"""An exact decimal number, written in quotes in TOML."""


def above_zero(number: Decimal) -> Decimal:
    """A display step or scale.

    Raises:
        ValueError: ``number`` is zero or negative.
    """
    if number <= 0:
        raise ValueError(f'"{number}" must be above zero')
    return number


Step = Annotated[Exact, AfterValidator(above_zero)]
"""An exact decimal number above zero."""
