"""The kinds of field a record is made of, each with exactly one way to write it as text.

Lengths are exact decimals, in JSON as text: a JSON number would pass through float64 in most
readers, and 1.250 would come back as 1.25, a place short of the gauge's resolution.
"""

import re
import uuid
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Annotated

from pydantic import (
    AfterValidator,
    BaseModel,
    ConfigDict,
    PlainSerializer,
    PlainValidator,
    StringConstraints,
    WithJsonSchema,
)

_DECIMAL = r"-?[0-9]{1,30}(\.[0-9]{1,30})?"
_DAY = r"[0-9]{4}-[0-9]{2}-[0-9]{2}"
_TIME = r"[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-9]{2}\.[0-9]{6}Z"
_NUMBER = r"[+-]? *([0-9]+(\.[0-9]*)?|\.[0-9]+)([eE][+-]?[0-9]{1,3})?"
_MOST_PLACES = 30


class StrictModel(BaseModel):
    """A record, or a part of one: never changed once made, no field too many, nothing converted."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True, allow_inf_nan=False)


def exact(value: float) -> Decimal:
    """The shortest decimal that reads back as the float64 ``value``: 12.3451, not its 50 digits.

    The way from a computed length (a mean, an uncertainty) into a record.

    Raises:
        ValueError: it is NaN or infinite.
    """
    return _decimal(Decimal(repr(float(value))))


def decimal_text(value: Decimal) -> str:
    """``value`` with a point and without an exponent, every digit kept: ``1.250``."""
    return format(value, "f")


def time_text(at: datetime) -> str:
    """An aware time in UTC after ISO 8601, always with six decimals: sorts as it passes.

    ``2026-03-01T08:15:30.250000Z``.
    """
    return at.astimezone(UTC).isoformat(timespec="microseconds").removesuffix("+00:00") + "Z"


def number_shown(text: str) -> Decimal:
    """The number in ``text`` as a gauge sent it: sign, blanks after it, digits, exponent.

    Raises:
        ValueError: it is no decimal number.
    """
    bare = text.strip(" ")
    if not re.fullmatch(_NUMBER, bare):
        raise ValueError(f"{text!r} is not a number as a gauge sends one")
    return Decimal(bare.replace(" ", ""))


def new_uid() -> str:
    """A new name for a record, different from all others anywhere: UUID version 4 as text."""
    return str(uuid.uuid4())


def printable(text: str) -> str:
    """``text`` with each lone surrogate written out (``\\udc80``), so that it can be stored.

    Undecodable bytes in a port's or a person's name arrive as such; no capture fails for them.
    """
    return text.encode("utf-8", "backslashreplace").decode()


def _decimal(value: object) -> Decimal:
    if isinstance(value, str):
        if not re.fullmatch(_DECIMAL, value):
            raise ValueError(f"{value!r:.80} is not a decimal such as '-0.012'")
        return Decimal(value)
    if not isinstance(value, Decimal):
        raise ValueError(f"a {type(value).__name__} is not exact; give a Decimal, or its text")
    if not value.is_finite():
        raise ValueError(f"{value} is not a finite number")
    exponent = value.as_tuple().exponent
    if value.adjusted() >= _MOST_PLACES or (isinstance(exponent, int) and exponent < -_MOST_PLACES):
        raise ValueError(f"{value} has more than {_MOST_PLACES} places before or after the point")
    return value


def _time(value: object) -> datetime:
    if isinstance(value, str):
        if not re.fullmatch(_TIME, value):
            raise ValueError(f"{value!r:.80} is not a time such as '2026-03-01T08:15:30.250000Z'")
        return datetime.fromisoformat(value)
    if not isinstance(value, datetime):
        raise ValueError(f"a {type(value).__name__} is not a time")
    if value.tzinfo is None or value.utcoffset() is None:
        raise ValueError(f"{value} does not say its time zone")
    return value.astimezone(UTC)


def _day(value: object) -> date:
    if isinstance(value, str):
        if not re.fullmatch(_DAY, value):
            raise ValueError(f"{value!r:.80} is not a day such as '2026-03-01'")
        return date.fromisoformat(value)
    if not isinstance(value, date) or isinstance(value, datetime):
        raise ValueError(f"a {type(value).__name__} is not a day")
    return value


ExactDecimal = Annotated[
    Decimal,
    PlainValidator(_decimal),
    PlainSerializer(decimal_text, return_type=str, when_used="json"),
    WithJsonSchema({"type": "string", "pattern": f"^{_DECIMAL}$"}),
]
"""A finite Decimal, or its text. A float or an int is refused."""

UtcTime = Annotated[
    datetime,
    PlainValidator(_time),
    PlainSerializer(time_text, return_type=str, when_used="json"),
    WithJsonSchema({"type": "string", "pattern": f"^{_TIME}$"}),
]
"""An aware datetime, kept in UTC, or its text."""

Day = Annotated[
    date,
    PlainValidator(_day),
    PlainSerializer(date.isoformat, return_type=str, when_used="json"),
    WithJsonSchema({"type": "string", "pattern": f"^{_DAY}$"}),
]
"""A day of the calendar, without a time zone, or its text."""

Words = Annotated[str, AfterValidator(printable)]
"""Any text, empty too."""

Uid = Annotated[str, StringConstraints(pattern="^[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}$")]
"""A UUID as text, in lower case."""

FrameHex = Annotated[str, StringConstraints(pattern="^([0-9a-f]{2})+$")]
"""The bytes of a frame as lower-case hex digits."""
