"""A gauge as data: everything that is known about one way of sending readings.

A profile is a TOML file. It says how frames are cut from the stream, what a frame says, how the
port is set, when the gauge sends, how fine its display is, where all this was read, and it holds
sample frames that are its own test. ``encode`` and ``decode`` come from the one description.
"""

import re
from decimal import Decimal
from functools import cached_property
from typing import Annotated, Literal, Self

from pydantic import AfterValidator, Field, model_validator

from drivers.check import Check
from drivers.errors import FrameError
from drivers.form import Exact, Form, Step, WireBytes
from drivers.framing import AnyFraming, FixedFraming, ModbusFraming
from drivers.layouts import AnyLayout, BcdLayout, CountsLayout
from drivers.profile_rules import parts_that_disagree, samples_that_disagree
from drivers.reading import Shown, Status, Unit

NAME = re.compile(r"[a-z][a-z0-9]*(-[a-z0-9]+)*", re.ASCII)

SHORT_CHECK_BITS = 8
"""A checksum of so few bits fits one chance find in 256."""


class SerialSettings(Form):
    """How the port is set before it is opened.

    ``dtr`` and ``rts`` are the two control lines: some gauges are powered from them, and some
    adapters restart a gauge when they change.
    """

    baud: Annotated[int, Field(ge=50, le=12_000_000)] = 9600
    data_bits: Literal[7, 8] = 8
    parity: Literal["none", "even", "odd"] = "none"
    stop_bits: Literal[1, 2] = 1
    dtr: bool = True
    rts: bool = True


class Sending(Form):
    """When the gauge sends.

    ``rate_hz`` is how often it sends by itself, or how often it is asked. ``gap_s`` is a silence
    that no frame has inside it: what was half received before it is given up, and the next byte is
    taken for the first of a frame, unless the gauge streams. The default is well above the 16 ms by
    which USB adapters delay bytes.
    """

    when: Literal["by itself", "on its data key", "on request"]
    rate_hz: Annotated[float, Field(gt=0, le=2000)] = 10.0
    request: Annotated[WireBytes, Field(min_length=1, max_length=64)] | None = None
    reply_within_s: Annotated[float, Field(gt=0, le=10)] = 0.25
    gap_s: Annotated[float, Field(ge=0.02, le=5)] = 0.2


class Sample(Form):
    """A frame as the source prints it, whole, and what the gauge shows with it."""

    wire: Annotated[WireBytes, Field(min_length=1)]
    number: Exact | None = None
    unit: Unit = Unit.MM
    status: frozenset[Status] = frozenset()
    sequence: int | None = None
    label: str | None = None

    @property
    def shown(self) -> Shown:
        """What the gauge shows when it sends this frame."""
        return Shown(self.number, self.unit, self.status, self.sequence, self.label)


class Travel(Form):
    """The lengths that the display can show, in millimetres; anything beyond is refused."""

    least_mm: Exact
    most_mm: Exact

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        if self.least_mm >= self.most_mm:
            raise ValueError(f'least_mm: "{self.least_mm}" must be below most_mm "{self.most_mm}"')
        return self


def _plain_name(name: str) -> str:
    if NAME.fullmatch(name) is None or len(name) > 40:
        raise ValueError(
            f'"{name}" is not made of small letters, digits and single hyphens, at most 40, '
            'such as "my-gauge"'
        )
    return name


class GaugeProfile(Form):
    """One kind of gauge.

    ``name`` is its stable id, in small letters and hyphens: it is written into logbooks, so it is
    never given to another layout. ``source`` says where the layout was read: document, revision,
    section. ``resolution`` is the display step in each unit that the gauge has.
    """

    name: Annotated[str, AfterValidator(_plain_name)]
    title: Annotated[str, Field(min_length=1)]
    kind: Literal["indicator", "depth gauge", "probe"]
    source: Annotated[str, Field(min_length=1)]
    resolution: Annotated[dict[Unit, Step], Field(min_length=1)]
    travel: Travel | None = None
    serial: SerialSettings = SerialSettings()
    sends: Sending
    frame: AnyFraming
    check: Check | None = None
    layout: AnyLayout
    samples: Annotated[tuple[Sample, ...], Field(min_length=1)]

    @model_validator(mode="after")
    def _agrees_with_itself(self) -> Self:
        # Samples are looked at last: a mistake elsewhere would only show up as a refused sample.
        problems = parts_that_disagree(self) or samples_that_disagree(self)
        if problems:
            raise ValueError("\n".join(problems))
        return self

    @cached_property
    def request(self) -> bytes | None:
        """The bytes that ask the gauge for one reading; None if it cannot be asked."""
        return self.frame.request if isinstance(self.frame, ModbusFraming) else self.sends.request

    @cached_property
    def needs_a_second_frame(self) -> bool:
        """Whether, out of step, one frame alone could be a chance find among other bytes.

        So it is with frames of fixed length that have no marks, and no checksum or a short one:
        there a frame is believed when another one follows it directly.
        """
        if not isinstance(self.frame, FixedFraming):
            return False
        return self.check is None or self.check.bits <= SHORT_CHECK_BITS

    @cached_property
    def doubtful_last_byte(self) -> int | None:
        """A frame's last byte that may be the next frame's first; None where that does no harm.

        A stream's frame of fixed length that lost a byte is filled up by the next one's first byte,
        and a checksum of eight bits fits that once in 256.
        """
        if self.sends.when != "by itself" or not self.needs_a_second_frame:
            return None
        return self.layout.first_byte if isinstance(self.layout, BcdLayout | CountsLayout) else None

    def ends_like_a_beginning(self, payload: bytes) -> bool:
        """Whether ``payload`` ends in the ``doubtful_last_byte``."""
        return payload[-1] == self.doubtful_last_byte

    @cached_property
    def _fixed_pattern(self) -> re.Pattern[bytes] | None:
        """What every frame of fixed length looks like, as far as constants and codes tell."""
        if not isinstance(self.layout, BcdLayout | CountsLayout):
            return None
        tail = self.check.size if self.check else 0
        return re.compile(self.layout.pattern + rb"[\x00-\xff]{%d}" % tail)

    def seek(self, buffer: bytearray, begin: int) -> int:
        """The first place from ``begin`` on where a frame could begin; the end if none does.

        Places that it passes over would be refused by ``decode``; passing over them is quicker.
        """
        if not isinstance(self.frame, FixedFraming) or self._fixed_pattern is None:
            return self.frame.seek(buffer, begin)
        if found := self._fixed_pattern.search(buffer, begin):
            return found.start()
        return max(begin, len(buffer) - self.frame.length + 1)

    def decode(self, payload: bytes) -> Shown:
        """What a frame says, from the payload that the framing cut out.

        Raises:
            FrameError: checksum, layout, display step or travel does not fit.
        """
        body = self.check.strip(payload, *self.frame.marks) if self.check else payload
        shown = self.layout.decode(body)
        if shown.value is not None:
            self._plausible(shown.value, shown.unit)
        return shown

    def _plausible(self, value: Decimal, unit: Unit) -> None:
        step = self.resolution.get(unit)
        if step is None:
            raise FrameError(f"unit: this gauge has no {unit.value} display")
        if value.as_tuple().exponent != step.as_tuple().exponent or value % step:
            raise FrameError(
                f"number: {value} {unit.value} is not on the display's steps of {step}"
            )
        if self.travel and not self.travel.least_mm <= value * unit.in_mm <= self.travel.most_mm:
            raise FrameError(f"number: {value} {unit.value} is beyond the gauge's travel")

    def decode_wire(self, wire: bytes) -> Shown:
        """What one whole frame says.

        Raises:
            FrameError: the bytes are not exactly one frame.
        """
        cut = self.frame.cut(bytearray(wire), in_step=True)
        if cut is not None and cut.problem:
            raise FrameError(cut.problem)
        if cut is None:
            raise FrameError("the end of the frame is missing")
        if cut.payload is None or cut.length != len(wire):
            raise FrameError(f"{len(wire) - cut.length} bytes too many behind the frame")
        return self.decode(cut.payload)

    def encode(self, shown: Shown) -> bytes:
        """The whole frame, marks and checksum with it, of a gauge that shows ``shown``.

        Raises:
            FrameError: the gauge cannot show it: no such unit or status, too many digits, between
                two display steps, beyond its travel.
        """
        body = self.layout.encode(shown)
        if shown.value is not None:
            self._plausible(shown.value, shown.unit)
        return self.frame.wrap(self.check.append(body, *self.frame.marks) if self.check else body)
