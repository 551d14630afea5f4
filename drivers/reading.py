"""What comes out of a gauge's bytes: readings, and frames that are none.

A ``Shown`` is what the gauge's display said: exact digits, unit, status. A ``Reading`` is one of
those with its time of arrival and the bytes it came in. ``NoNumber`` is a whole frame in which the
gauge itself says that it has no number (an error display). ``BadFrame`` is bytes that are no frame
of the profile at all.
"""

import enum
from dataclasses import dataclass
from decimal import Decimal

MM_PER_INCH = Decimal("25.4")
"""Exact by definition of the international inch (1959 agreement; NIST SP 811, B.6)."""


class Unit(enum.Enum):
    """The unit a display is in."""

    MM = "mm"
    INCH = "in"

    # Members are singletons. The usual hash of an enum is worked out in Python, five times a frame.
    __hash__ = object.__hash__

    @property
    def in_mm(self) -> Decimal:
        """One of this unit in millimetres, exactly."""
        return MM_PER_INCH if self is Unit.INCH else Decimal(1)


class Status(enum.Enum):
    """What a gauge can say of itself beside the number."""

    BATTERY_LOW = "battery-low"
    ERROR = "error"
    OVERSPEED = "overspeed"
    OUT_OF_RANGE = "out-of-range"
    ORIGIN_LOST = "origin-lost"
    HELD = "held"
    """The display is frozen by a key; it does not follow the plunger."""
    INCREMENTAL = "incremental"
    """The display counts from a second zero, set by a key."""

    @property
    def spoils_value(self) -> bool:
        """Whether a value with this status must not be kept as a measurement."""
        return self is not Status.INCREMENTAL


@dataclass(frozen=True, slots=True)
class Shown:
    """What a gauge shows: the digits and unit on its display, and what it says of itself.

    ``value`` is a Decimal so that ``1.250`` stays four digits: the last place shown is the gauge's
    resolution, and a report that prints 1.25 has lost it. It is None when the gauge shows a word
    instead of a number. ``sequence`` and ``label`` are set only where the layout sends them.
    """

    value: Decimal | None
    unit: Unit = Unit.MM
    status: frozenset[Status] = frozenset()
    sequence: int | None = None
    label: str | None = None


@dataclass(slots=True)
class Reading:
    """One frame, decoded.

    ``t_s`` is seconds on the reader's monotonic clock when the frame's last byte arrived. ``raw``
    is the frame as received, so that a capture can be checked years later.
    """

    value: Decimal
    unit: Unit
    t_s: float
    raw: bytes
    status: frozenset[Status] = frozenset()
    sequence: int | None = None
    label: str | None = None

    @property
    def value_mm(self) -> Decimal:
        """The value in millimetres. Exact: no rounding for either unit."""
        return self.value if self.unit is Unit.MM else self.value * MM_PER_INCH


@dataclass(slots=True)
class NoNumber:
    """A whole frame in which the gauge says that it has no number, and why."""

    raw: bytes
    t_s: float
    status: frozenset[Status]


@dataclass(slots=True)
class BadFrame:
    """Bytes that are no frame of the profile, and why. Count them; never guess."""

    raw: bytes
    reason: str
    t_s: float


Event = Reading | NoNumber | BadFrame
"""What a decoder makes of a gauge's bytes."""
