"""Canonical JSON: one value, one sequence of bytes, so that a hash of it means something.

RFC 8785 (JSON Canonicalization Scheme): no white space, object keys sorted by their UTF-16 code
units (3.2.3), strings with the shortest escapes (3.2.2.2), numbers as ECMAScript prints them
(3.2.2.3). What has no such form is refused rather than bent: NaN and infinities, integers that a
float64 reader would round, lone surrogates, and any type JSON does not have.

Exact lengths never travel as JSON numbers here: a record carries them as text.
"""

import json
import math
from decimal import Decimal

from daq.logbook.errors import NotCanonicalError

MOST_INTEGER = 2**53 - 1
"""The largest integer that every JSON reader keeps (RFC 8785, 3.2.2.3; RFC 7493, 2.2)."""

_quoted = json.JSONEncoder(ensure_ascii=False).encode
"""A str with the escapes of RFC 8785, 3.2.2.2: the shortest there are, and hex in lower case."""

_MOST_PLAIN_DIGITS = 21
_MOST_LEADING_ZEROS = 6


def canonical(value: object) -> bytes:
    """``value`` as canonical JSON.

    Args:
        value: None, bool, int, float, str, list, tuple, or a dict with str keys; nested.

    Returns:
        UTF-8 bytes, the same for equal values on every machine.

    Raises:
        NotCanonicalError: a NaN, an infinity, an integer beyond ±(2**53 - 1), a lone surrogate,
            a key that is not a str, or a type that JSON does not have.

    Source: RFC 8785, 3.2.
    """
    parts: list[str] = []
    _write(value, parts)
    try:
        return "".join(parts).encode("utf-8")
    except UnicodeEncodeError as error:
        raise NotCanonicalError(f"text with a lone surrogate: {error.object!r:.80}") from error


def _write(value: object, parts: list[str]) -> None:
    if isinstance(value, str):
        parts.append(_quoted(value))
    elif value is None:
        parts.append("null")
    elif isinstance(value, bool):  # before int: a bool is one
        parts.append("true" if value else "false")
    elif isinstance(value, int):
        parts.append(_integer(value))
    elif isinstance(value, float):
        parts.append(number_text(value))
    elif isinstance(value, list | tuple):
        _write_array(value, parts)
    elif isinstance(value, dict):
        _write_object(value, parts)
    else:
        raise NotCanonicalError(f"JSON has no {type(value).__name__}: {value!r:.80}")


def _write_array(values: list[object] | tuple[object, ...], parts: list[str]) -> None:
    mark = "["
    for value in values:
        parts.append(mark)
        _write(value, parts)
        mark = ","
    parts.append("]" if values else "[]")


def _write_object(members: dict[object, object], parts: list[str]) -> None:
    mark = "{"
    for key in sorted(members, key=_sort_key):
        parts.append(mark)
        _write(key, parts)
        parts.append(":")
        _write(members[key], parts)
        mark = ","
    parts.append("}" if members else "{}")


def _sort_key(key: object) -> bytes:
    """UTF-16 code units, big-endian so that bytes compare as the units do."""
    if not isinstance(key, str):
        raise NotCanonicalError(f"a key must be text, not {type(key).__name__}: {key!r:.80}")
    try:
        return key.encode("utf-16-be")
    except UnicodeEncodeError as error:
        raise NotCanonicalError(f"key with a lone surrogate: {key!r:.80}") from error


def _integer(value: int) -> str:
    if abs(value) > MOST_INTEGER:
        raise NotCanonicalError(f"integer {value} is beyond ±(2**53 - 1); carry it as text")
    return int.__repr__(value)


def number_text(value: float) -> str:
    """``value`` as ECMAScript prints a number: the fewest digits that read back as the same.

    Raises:
        NotCanonicalError: it is NaN or infinite.

    Source: ECMA-262, Number::toString, radix 10; RFC 8785, 3.2.2.3 and appendix B.
    """
    if not math.isfinite(value):
        raise NotCanonicalError(f"JSON has no number {value}")
    if value == 0:
        return "0"  # negative zero too
    # repr gives the shortest digits; only where the point and the exponent go differs.
    _, digit_tuple, exponent = Decimal(repr(value)).as_tuple()
    assert isinstance(exponent, int)  # finite
    written = "".join(map(str, digit_tuple))
    digits = written.rstrip("0")
    point = len(written) + exponent
    sign = "-" if value < 0 else ""
    return sign + _placed(digits, point)


def _placed(digits: str, point: int) -> str:
    """``0.digits`` times ten to ``point``, in ECMAScript's notation."""
    count = len(digits)
    if count <= point <= _MOST_PLAIN_DIGITS:
        return digits + "0" * (point - count)
    if 0 < point <= _MOST_PLAIN_DIGITS:
        return f"{digits[:point]}.{digits[point:]}"
    if -_MOST_LEADING_ZEROS < point <= 0:
        return "0." + "0" * -point + digits
    fraction = "." + digits[1:] if count > 1 else ""
    return f"{digits[0]}{fraction}e{point - 1:+d}"
