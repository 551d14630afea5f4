"""The number fields of this room's models: exact decimals, never binary floats."""

import re
from decimal import Decimal
from typing import Annotated

from pydantic import BeforeValidator

_DECIMAL_TEXT = re.compile(r"[+-]?[0-9]{1,12}(\.[0-9]{1,24})?([eE][+-]?[0-9]{1,2})?")


def _to_exact(value: object) -> object:
    if isinstance(value, bool) or not isinstance(value, int | str | Decimal):
        raise ValueError(
            f"{value!r} ({type(value).__name__}) is no exact number; "
            "give a Decimal, or the digits as text in quotes"
        )
    if isinstance(value, str):
        if _DECIMAL_TEXT.fullmatch(value) is None:
            raise ValueError(f"{value!r} is not a decimal number such as -0.05")
        value = Decimal(value)
    number = Decimal(value)
    if not number.is_finite():
        raise ValueError(f"{number} is not a finite number")
    exponent = number.as_tuple().exponent
    if abs(number) > 1_000_000 or not isinstance(exponent, int) or exponent < -24:
        raise ValueError(f"{number} is out of all proportion; check the digits")
    return number


ExactDecimal = Annotated[Decimal, BeforeValidator(_to_exact)]
"""A finite Decimal, from a Decimal, an int or decimal text.

Floats are refused: 0.1 in binary is 0.1000000000000000055, and a limit must be what was written.
"""
