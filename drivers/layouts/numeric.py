"""IEEE 488.2 numeric response data: NR1, NR2, NR3, as the answer to a query.

NR1 is an integer, NR2 has a point, NR3 an exponent with a capital E. 9.91E37 stands for "not a
number", and 9.9E37 with either sign for infinity. An instrument always writes its numbers in one
way; the keys say which, and whatever is written otherwise is refused, for the shorter number that a
lost byte leaves is a number too.

Source: IEEE 488.2-1992, 8.7.2 to 8.7.4; the two special values after SCPI-99, volume 1, 7.2.1 (from
memory).
"""

import re
from decimal import Decimal
from functools import cached_property
from typing import Annotated, Literal

from pydantic import AfterValidator, Field, model_validator

from drivers.errors import FrameError
from drivers.form import Form, Step
from drivers.reading import Shown, Status, Unit

SPECIAL = re.compile(r"[+-]?[0-9]{1,18}(?:\.[0-9]{1,18})?E[+-]?[0-9]{1,3}", re.ASCII)
NOT_A_NUMBER = Decimal("9.91E37")
INFINITY = Decimal("9.9E37")

LONGEST_MM = Decimal(10_000)
"""Beyond this no gauge measures; an exponent that lost its sign is."""

Signs = Literal["always", "minus only"]


def _power_of_ten(number: Decimal) -> Decimal:
    if number.normalize().as_tuple().digits != (1,):
        raise ValueError(
            f'"{number}" is not a power of ten such as "1000"; for inches give unit = "in"'
        )
    return number


class NumericLayout(Form):
    """One number in one of the three forms.

    ``step`` is the instrument's display step in ``unit``, ``worth`` what one of the unit it sends
    is in ``unit``: ``"1000"`` for an instrument that answers in metres and is kept in millimetres.
    ``whole`` and ``decimals`` are the digits before and after the point, where the instrument
    always sends as many (in NR3 one before the point, unless ``whole`` says otherwise); left out,
    there are as many as the number needs. ``sign`` and ``exponent_sign`` say whether a plus is
    written.
    """

    kind: Literal["numeric"]
    form: Literal["NR1", "NR2", "NR3"]
    unit: Unit
    step: Step
    worth: Annotated[Step, AfterValidator(_power_of_ten)] = Decimal(1)
    sign: Signs = "always"
    whole: Annotated[int | None, Field(ge=1, le=9)] = None
    decimals: Annotated[int | None, Field(ge=0, le=12)] = None
    exponent_sign: Signs = "always"
    exponent_digits: Annotated[int, Field(ge=1, le=3)] = 1

    @model_validator(mode="after")
    def _form_has_parts(self) -> "NumericLayout":
        if self.form == "NR1" and self.decimals is not None:
            raise ValueError("decimals: an NR1 number has none; take the line out")
        if self.form == "NR2" and self.decimals == 0:
            raise ValueError('decimals: an NR2 number has at least 1; without any it is "NR1"')
        written = {"exponent_sign", "exponent_digits"} & self.model_fields_set
        if self.form != "NR3" and written:
            raise ValueError(f"{min(written)}: only an NR3 number has an exponent")
        return self

    @cached_property
    def _pattern(self) -> re.Pattern[str]:
        whole = f"{{{self.whole}}}" if self.whole else "{1}" if self.form == "NR3" else "{1,9}"
        places = {None: r"\.[0-9]{1,12}", 0: ""}.get(self.decimals, rf"\.[0-9]{{{self.decimals}}}")
        exponent = rf"E{_sign_pattern(self.exponent_sign)}[0-9]{{{self.exponent_digits},3}}"
        return re.compile(
            _sign_pattern(self.sign)
            + f"[0-9]{whole}"
            + (places if self.form != "NR1" else "")
            + (exponent if self.form == "NR3" else ""),
            re.ASCII,
        )

    def decode(self, payload: bytes) -> Shown:
        """See ``Layout.decode``."""
        text = payload.decode("ascii", "replace")
        if self._pattern.fullmatch(text) is None:
            special = _special(text)
            if special is None:
                raise FrameError(f"{text!r} is no {self.form} number as this gauge writes them")
            return Shown(None, self.unit, frozenset({special}))
        sent = Decimal(text)
        if special := _special_number(sent):
            return Shown(None, self.unit, frozenset({special}))
        value = sent * self.worth
        if self._is_too_long(value):
            raise FrameError(f"{text!r} is beyond any length that a gauge measures")
        steps = (value / self.step).to_integral_value()
        if steps * self.step != value:
            raise FrameError(f"{text!r} is not on the display's steps of {self.step}")
        # quantize, for the product would show 12.30 as 12.3: a report must not lose the last digit.
        shown = Shown(value.quantize(self.step), self.unit)
        if self.encode(shown) != payload:
            raise FrameError(f"{text!r} is not written the way this gauge writes numbers")
        return shown

    def _is_too_long(self, value: Decimal) -> bool:
        if not value.is_finite() or value.adjusted() > 9:
            return True
        return abs(value) * self.unit.in_mm > LONGEST_MM

    def encode(self, shown: Shown) -> bytes:
        """See ``Layout.encode``."""
        if shown.unit is not self.unit:
            raise FrameError(f"unit: this gauge has no {shown.unit.value} display")
        if shown.value is None:
            return b"9.9E37" if Status.OUT_OF_RANGE in shown.status else b"9.91E37"
        if self._is_too_long(shown.value) or (shown.value and shown.value.adjusted() < -12):
            raise FrameError(f"number: {shown.value} is beyond any length that a gauge sends")
        sent = shown.value / self.worth
        plus = "+" if self.sign == "always" else ""
        sign = "-" if sent.is_signed() else plus
        if self.form == "NR3":
            return (sign + self._nr3(abs(sent))).encode("ascii")
        return (sign + self._digits(abs(sent), self.whole or 1)).encode("ascii")

    def _nr3(self, size: Decimal) -> str:
        """Mantissa and exponent of a number without its sign."""
        whole = self.whole or 1
        power = size.adjusted() - (whole - 1) if size else 0
        mantissa = self._digits(size.scaleb(-power), whole)
        plus = "+" if self.exponent_sign == "always" else ""
        return f"{mantissa}E{'-' if power < 0 else plus}{abs(power):0{self.exponent_digits}d}"

    def _digits(self, size: Decimal, whole: int) -> str:
        """Digits and point, with the whole digits filled up with zeros.

        Raises:
            FrameError: digits would be lost, or there are too many before the point.
        """
        size = size.normalize()
        needed = max(0, -int(size.as_tuple().exponent))
        places = self.decimals
        if places is None:
            places = 0 if self.form == "NR1" else max(1, needed)
        if needed > places:
            raise FrameError(f"number: {size} has more than {places} digits after the point")
        before, point, after = f"{size:.{places}f}".partition(".")
        if self.whole and len(before) > self.whole:
            raise FrameError(f"number: {size} has more than {self.whole} digits before the point")
        return before.rjust(whole, "0") + point + after


def _sign_pattern(sign: Signs) -> str:
    return "[+-]" if sign == "always" else "-?"


def _special(text: str) -> Status | None:
    """What a reserved number means; both are sent in NR3 whatever the form, and in any spelling."""
    return _special_number(Decimal(text)) if SPECIAL.fullmatch(text) else None


def _special_number(number: Decimal) -> Status | None:
    if number == NOT_A_NUMBER:
        return Status.ERROR
    return Status.OUT_OF_RANGE if abs(number) == INFINITY else None
