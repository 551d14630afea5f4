"""The record of a capture, format 1: what was measured, what it was judged by, the bytes behind it.

With it a value can be checked and judged again without any file of the day. Lengths are exact
decimals in millimetres, written as text (`daq.logbook.fields`).
"""

from decimal import Decimal
from itertools import pairwise
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from daq.logbook.fields import (
    ExactDecimal,
    FrameHex,
    StrictModel,
    Uid,
    UtcTime,
    Words,
    number_shown,
)

MM_PER_INCH = Decimal("25.4")
"""Exact by definition of the international inch (1959 agreement; NIST SP 811, B.6)."""

_CLOSE_MM = Decimal("1e-9")
"""Float64 noise on a length in millimetres, and less than any gauge can show."""

_CLOSE_S = 1e-6

LengthUnit = Literal["mm", "in"]
Filled = Annotated[Words, Field(min_length=1)]


READINGS_RECORDED = 500
"""Readings and frames that a capture keeps, the newest; a fast probe's span may hold more.

Part of capture format 1, and checked when one is read: another number needs another format.
"""


class CapturedGauge(StrictModel):
    """Which gauge it was. The label and the identity say so; the port is only a hint."""

    label: Words
    """What is written on the gauge: asset tag or serial number, as configured."""
    profile: Filled
    """The gauge profile the frames were read by."""
    identity: Words
    """The adapter's own stable identity, or empty if it has none."""
    port: Words


class CapturedSpec(StrictModel):
    """What the length should be. Limits are deviations from nominal, signed as drawings do."""

    name: Filled
    nominal_mm: ExactDecimal
    lower_mm: ExactDecimal | None
    upper_mm: ExactDecimal | None
    """One of them may be None: a limit on one side only."""
    unit: LengthUnit
    """The unit the spec was written in."""
    source: Words
    """Where the figures come from: document, revision, page."""

    @model_validator(mode="after")
    def _limits_in_order(self) -> Self:
        if self.lower_mm is None and self.upper_mm is None:
            raise ValueError("there is no limit at all; give the lower one, the upper one or both")
        if self.lower_mm is None or self.upper_mm is None:
            return self
        if not self.lower_mm < self.upper_mm:
            raise ValueError(
                f"lower_mm ({self.lower_mm}) must be below upper_mm ({self.upper_mm}); both are "
                "deviations from nominal"
            )
        return self


class CapturedVerdict(StrictModel):
    """Whether the length meets the spec, and by which decision rule."""

    outcome: Literal["in", "low", "high", "too close to call"]
    rule: Filled
    """The rule by name, such as ``simple acceptance``."""
    guard_mm: ExactDecimal | None
    """How far inside the limits a value must lie to be accepted; None if no value can be."""


class CapturedReading(StrictModel):
    """One reading behind the value, as the gauge sent it."""

    t_s: float
    """Arrival on the reader's monotonic clock, in seconds."""
    text: str
    """The number, digit by digit as received."""
    unit: LengthUnit
    status: tuple[Words, ...]

    @model_validator(mode="after")
    def _is_a_number(self) -> Self:
        number_shown(self.text)
        return self

    @property
    def value_mm(self) -> Decimal:
        """The reading in millimetres, exact for either unit."""
        return number_shown(self.text) * (MM_PER_INCH if self.unit == "in" else 1)


class Capture(StrictModel):
    """A settled value someone chose to keep, with all that is needed to check it later.

    Only what shows a mistake beyond doubt is refused: a value outside its own readings, a verdict
    its own deviation contradicts, times that run backwards, mixed units.
    """

    kind: Literal["capture"] = "capture"
    format: Literal[1] = 1
    uid: Uid
    at: UtcTime
    monotonic_s: float
    """The reader's monotonic clock at the capture, in seconds."""
    station: Words
    """The bench or computer, by its label."""
    operator: Words
    gauge: CapturedGauge
    spec: CapturedSpec | None
    value_mm: ExactDecimal
    u_mm: ExactDecimal
    """Standard uncertainty of the value (GUM: u, k = 1)."""
    n: Annotated[int, Field(ge=1)]
    """Readings averaged. Fewer than lie in the span where some were held aside as doubtful."""
    rest_seen: bool
    """Whether the part was seen to be at rest; False for one reading sent by the data key."""
    since_s: float
    until_s: float
    """The settled span, on the same clock as ``monotonic_s``."""
    span_readings: Annotated[int, Field(ge=1)]
    """Readings that came within the span."""
    resolution_mm: ExactDecimal
    deviation_mm: ExactDecimal | None
    """Value minus nominal; None without a spec."""
    verdict: CapturedVerdict | None
    trigger: Literal["settled", "data key", "key"]
    unit_shown: LengthUnit
    """What the gauge displayed in."""
    readings: Annotated[tuple[CapturedReading, ...], Field(min_length=1)]
    """Oldest first."""
    frames: tuple[FrameHex, ...]
    """The bytes each reading came in, in the same order."""
    bad_frames: Annotated[int, Field(ge=0)]
    """Frames that were no readings, since the last capture."""
    note: Words

    @model_validator(mode="after")
    def _holds_together(self) -> Self:
        for mistake in (*_of_readings(self), *_of_times(self), *_of_value(self), *_of_spec(self)):
            raise ValueError(mistake)
        return self


def _of_readings(capture: Capture) -> list[str]:
    count = len(capture.readings)
    mistakes = []
    if count != min(capture.span_readings, READINGS_RECORDED):
        mistakes.append(
            f"{count} readings are kept of the {capture.span_readings} in the span, where "
            f"{min(capture.span_readings, READINGS_RECORDED)} are due"
        )
    if not capture.rest_seen and capture.n != 1:
        mistakes.append(f"n is {capture.n}, but no rest was seen")
    if len(capture.frames) != count:
        mistakes.append(f"{len(capture.frames)} frames, but {count} readings")
    units = {reading.unit for reading in capture.readings}
    if units != {capture.unit_shown}:
        mistakes.append(f"unit_shown is {capture.unit_shown}, the readings are in {sorted(units)}")
    return mistakes


def _of_times(capture: Capture) -> list[str]:
    times = [reading.t_s for reading in capture.readings]
    mistakes = []
    if any(later < earlier for earlier, later in pairwise(times)):
        mistakes.append("the readings' times run backwards")
    if times[0] < capture.since_s - _CLOSE_S or times[-1] > capture.until_s + _CLOSE_S:
        mistakes.append("a reading lies outside since_s to until_s")
    if capture.since_s > capture.until_s:
        mistakes.append("since_s is later than until_s")
    if capture.until_s > capture.monotonic_s + _CLOSE_S:
        mistakes.append("the capture is earlier than the readings behind it")
    return mistakes


def _of_value(capture: Capture) -> list[str]:
    lengths = [reading.value_mm for reading in capture.readings]
    lowest, highest = min(lengths), max(lengths)
    mistakes = []
    if capture.u_mm <= 0:
        mistakes.append(f"u_mm is {capture.u_mm}; an uncertainty is above 0")
    if capture.resolution_mm <= 0:
        mistakes.append(f"resolution_mm is {capture.resolution_mm}; a resolution is above 0")
    # One display step of room: a mean may be rounded, but not to beyond the next digit. Where
    # only the newest readings are kept, the others may have lain outside them.
    elif len(lengths) == capture.span_readings and not (
        lowest - capture.resolution_mm <= capture.value_mm <= highest + capture.resolution_mm
    ):
        mistakes.append(
            f"value_mm is {capture.value_mm}, but the readings lie in {lowest} to {highest} mm"
        )
    return mistakes


def _of_spec(capture: Capture) -> list[str]:
    spec, deviation, verdict = capture.spec, capture.deviation_mm, capture.verdict
    if spec is None:
        if deviation is not None or verdict is not None:
            return ["a deviation or a verdict needs the spec it was taken against"]
        return []
    if deviation is None:
        return ["there is a spec, but no deviation from it"]
    mistakes = []
    if abs(capture.value_mm - spec.nominal_mm - deviation) > _CLOSE_MM:
        mistakes.append(
            f"deviation_mm is {deviation}, but {capture.value_mm} - {spec.nominal_mm} is not"
        )
    # Rules differ in what they do near a limit; on these every rule agrees.
    lower, upper = spec.lower_mm, spec.upper_mm
    too_low = lower is not None and deviation < lower
    too_high = upper is not None and deviation > upper
    middle = None if lower is None or upper is None else (lower + upper) / 2
    wrong = (
        verdict is not None
        and {
            "in": too_low or too_high,
            "low": lower is None or (middle is not None and deviation >= middle),
            "high": upper is None or (middle is not None and deviation <= middle),
            "too close to call": False,
        }[verdict.outcome]
    )
    if wrong and verdict is not None:
        mistakes.append(f"the verdict is {verdict.outcome!r}, but the deviation is {deviation} mm")
    return mistakes
