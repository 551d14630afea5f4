"""Canonical JSON: one value, one sequence of bytes, so that a hash of it means something.

RFC 8785 (JSON Canonicalization Scheme): no white space, object keys sorted by their UTF-16 code
units (3.2.3), strings with the shortest escapes (3.2.2.2), numbers as ECMAScript prints them
(3.2.2.3). What has no such form is refused rather than bent: NaN and infinities, integers that a
float64 reader would round, lone surrogates, and any type JSON does not have.

Exact lengths never travel as JSON numbers here: a record carries them as text.
"""

import functools
import math
from collections.abc import Callable, Mapping, Sequence
from decimal import Decimal
from json.encoder import encode_basestring as _quoted  # the escapes of RFC 8785, 3.2.2.2
from types import NoneType
from typing import Any

from daq.logbook.errors import NotCanonicalError

MOST_INTEGER = 2**53 - 1
"""The largest integer that every JSON reader keeps (RFC 8785, 3.2.2.3; RFC 7493, 2.2)."""

_MOST_ORDERS = 512
"""How many sets of names are remembered in their order; records have some fifty."""

_MOST_PLAIN_DIGITS = 21
_MOST_LEADING_ZEROS = 6


class CanonicalForm:
    """Writes values as canonical JSON.

    Args:
        as_text: types that JSON does not have, and the text that stands for a value of one; it
            must need no escape. The first that fits counts.
        as_object: a type of which a value's attributes are written, as an object's members.
    """

    def __init__(
        self,
        as_text: Mapping[type, Callable[[Any], str]] | None = None,
        as_object: type | None = None,
    ) -> None:
        self._writers = _Writers(_SCALARS)
        self._writers |= {dict: self._object, list: self._array, tuple: self._array}
        for kind, say in (as_text or {}).items():
            self._writers[kind] = functools.partial(_in_quotes, say)
        if as_object is not None:
            self._writers[as_object] = lambda value: self._object(vars(value))

    def of(self, value: object) -> bytes:
        """``value`` as UTF-8 bytes, the same for equal values on every machine.

        Args:
            value: None, bool, int, float, str, list, tuple, or a dict with str keys, nested; or of
                a type that this form was told of.

        Raises:
            NotCanonicalError: a NaN, an infinity, an integer beyond ±(2**53 - 1), a lone
                surrogate, a key that is not a str, or a type that JSON does not have.

        Source: RFC 8785, 3.2.
        """
        text = self._writers[type(value)](value)
        try:
            return text.encode("utf-8")
        except UnicodeEncodeError as error:
            raise NotCanonicalError(f"text with a lone surrogate: {error.object!r:.80}") from error

    def _array(self, values: Sequence[object]) -> str:
        writers = self._writers
        return f"[{','.join([writers[type(value)](value) for value in values])}]"

    def _object(self, members: Mapping[str, object]) -> str:
        writers, written = self._writers, []
        for key, name in _in_order(tuple(members)):
            value = members[key]
            written.append(f"{name}:{writers[type(value)](value)}")
        return f"{{{','.join(written)}}}"


@functools.lru_cache(_MOST_ORDERS)
def _in_order(keys: tuple[str, ...]) -> tuple[tuple[str, str], ...]:
    """Each key and how it is written, sorted. Records of a kind have the same keys every time."""
    return tuple((key, _quoted(key)) for key in sorted(keys, key=_sort_key))


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
    # Python's digits are the shortest too; only where the point and the exponent go differs.
    shortest = float.__repr__(value)
    if "e" not in shortest:  # 1e-4 up to below 1e16: no difference, but for a whole number
        return shortest.removesuffix(".0")
    _, digit_tuple, exponent = Decimal(shortest).as_tuple()
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


def _in_quotes(say: Callable[[Any], str], value: object) -> str:
    return f'"{say(value)}"'


def _refused(value: object) -> str:
    raise NotCanonicalError(f"JSON has no {type(value).__name__}: {value!r:.80}")


class _Writers(dict[type, Callable[[Any], str]]):
    """How a value of each type is written; of a type derived from one of them, as that one is."""

    def __missing__(self, kind: type) -> Callable[[Any], str]:
        fitting = (write for known, write in self.items() if issubclass(kind, known))
        self[kind] = write = next(fitting, _refused)
        return write


_SCALARS: dict[type, Callable[[Any], str]] = {
    str: _quoted,
    NoneType: lambda _: "null",
    bool: lambda value: "true" if value else "false",  # before int: a bool is one
    int: _integer,
    float: number_text,
}

canonical = CanonicalForm().of
"""A value as canonical JSON; of types that JSON has, and no other."""
