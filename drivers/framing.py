"""Where a frame begins and ends in a stream of bytes.

A framing looks at the beginning of a buffer and says what lies there, as a ``Cut``: a candidate
frame, or bytes that cannot be one. Whether the candidate really is a frame is for the checksum and
the layout to say; if it is not, the decoder looks again from a later place. So no framing ever
needs to be right at the first try, and every one finds its feet again after noise, lost bytes or a
stream joined in the middle.

Each framing also wraps a payload into a whole frame: the simulator sends what ``wrap`` makes.
"""

import re
from dataclasses import dataclass
from functools import cached_property
from typing import Annotated, ClassVar, Literal, Protocol

from pydantic import Field, model_validator

from drivers.checksum import MODBUS_CRC
from drivers.form import Form, WireBytes, printable


@dataclass(frozen=True, slots=True)
class Cut:
    """What lies at the beginning of a buffer: its first ``length`` bytes.

    ``payload`` is the part of a candidate frame between its marks; None says that these bytes
    cannot be a frame, and ``problem`` says why (empty for the rest of a frame whose beginning was
    missed). ``whole`` says that a frame's end is certain there, so that refused bytes belong
    together and the next byte begins a frame.
    """

    length: int
    payload: bytes | None
    problem: str = ""
    whole: bool = False


class Framing(Protocol):
    """What every framing can do."""

    slides: ClassVar[bool]
    """Whether a refused candidate is searched again from its second byte on.

    False where the end of a frame can be trusted more than its content (lines).
    """

    def cut(self, buffer: bytearray, in_step: bool) -> Cut | None:
        """What lies at the beginning of ``buffer``, or None if more bytes are needed.

        Args:
            buffer: what has arrived and is not used up yet.
            in_step: whether ``buffer`` is known to begin at the beginning of a frame.
        """

    def seek(self, buffer: bytearray, begin: int) -> int:
        """The first place from ``begin`` on where a frame could begin; the end if none does."""

    def wrap(self, payload: bytes) -> bytes:
        """The whole frame around ``payload``."""


class LineFraming(Form):
    """Frames that end in a terminator.

    A gauge that streams on its own is usually joined in mid-frame, and the tail of ``12.345`` is
    ``2.345``: a believable number, ten millimetres wrong. So out of step, everything up to the
    first terminator is dropped.

    The cut is made at the terminator's last byte and the bytes before it are compared afterwards:
    a frame whose carriage return was lost then costs itself and not its neighbour too.
    """

    kind: Literal["line"]
    end: Annotated[WireBytes, Field(min_length=1, max_length=4)] = b"\r\n"
    max_bytes: Annotated[int, Field(ge=4, le=4096)] = 64

    slides: ClassVar[bool] = False

    @model_validator(mode="after")
    def _one_last_byte(self) -> "LineFraming":
        if self.end.count(self.end[-1:]) > 1:
            raise ValueError(
                "end: its last byte stands in it twice; give the line end once, and take an "
                "empty line out of it"
            )
        return self

    @cached_property
    def marks(self) -> tuple[bytes, bytes]:
        """Start and end mark, as a checksum may cover them."""
        return b"", self.end

    @cached_property
    def _no_end(self) -> str:
        return f"does not end in {printable(self.end)}"

    def cut(self, buffer: bytearray, in_step: bool) -> Cut | None:
        """See ``Framing.cut``."""
        at = buffer.find(self.end[-1:], 0, self.max_bytes)
        if at < 0:
            if len(buffer) < self.max_bytes:
                return None
            return Cut(self.max_bytes, None, f"no end of line within {self.max_bytes} bytes")
        length = at + 1
        if not in_step:
            return Cut(length, None, whole=True)
        payload = bytes(buffer[:length])
        if not payload.endswith(self.end):
            return Cut(length, None, self._no_end, whole=True)
        return Cut(length, payload[: -len(self.end)], whole=True)

    def seek(self, buffer: bytearray, begin: int) -> int:
        """See ``Framing.seek``: lines have no beginning of their own."""
        return min(begin, len(buffer))

    def wrap(self, payload: bytes) -> bytes:
        """See ``Framing.wrap``."""
        return payload + self.end


class MarkFraming(Form):
    """Frames between a start mark and an end mark, with ``tail_bytes`` of checksum after the end.

    Payloads vary in length; the whole frame up to the end mark has at most ``max_bytes``. The start
    mark may occur in noise: a candidate that fails is searched again from its second byte.
    """

    kind: Literal["marks"]
    start: Annotated[WireBytes, Field(min_length=1, max_length=8)]
    end: Annotated[WireBytes, Field(min_length=1, max_length=8)]
    tail_bytes: Annotated[int, Field(ge=0, le=24)] = 0
    max_bytes: Annotated[int, Field(ge=4, le=4096)] = 64

    slides: ClassVar[bool] = True

    @cached_property
    def marks(self) -> tuple[bytes, bytes]:
        """Start and end mark, as a checksum may cover them."""
        return self.start, self.end

    def cut(self, buffer: bytearray, in_step: bool) -> Cut | None:  # noqa: ARG002
        """See ``Framing.cut``."""
        if not buffer.startswith(self.start):
            may_be = len(buffer) < len(self.start) and self.start.startswith(bytes(buffer))
            return None if may_be else Cut(1, None, "no frame begins here")
        body = len(self.start)
        at = buffer.find(self.end, body, self.max_bytes)
        if at < 0:
            if len(buffer) < self.max_bytes:
                return None
            return Cut(self._hopeless(buffer), None, f"no end mark within {self.max_bytes} bytes")
        length = at + len(self.end) + self.tail_bytes
        if len(buffer) < length:
            return None
        return Cut(length, bytes(buffer[body:at] + buffer[at + len(self.end) : length]))

    def _hopeless(self, buffer: bytearray) -> int:
        """How many places from the first on have no end mark near enough, so need no look."""
        next_end = buffer.find(self.end, len(self.start))
        reach = next_end + len(self.end) if next_end >= 0 else len(buffer) + 1
        return max(1, reach - self.max_bytes)

    def seek(self, buffer: bytearray, begin: int) -> int:
        """See ``Framing.seek``."""
        at = buffer.find(self.start, begin)
        if at >= 0:
            return at
        # The buffer may end inside a start mark.
        return max(begin, len(buffer) - len(self.start) + 1)

    def wrap(self, payload: bytes) -> bytes:
        """See ``Framing.wrap``."""
        split = len(payload) - self.tail_bytes
        return self.start + payload[:split] + self.end + payload[split:]


class FixedFraming(Form):
    """Frames of one length with no marks of their own; the layout's constants tell them apart."""

    kind: Literal["fixed"]
    length: Annotated[int, Field(ge=2, le=256)]

    slides: ClassVar[bool] = True

    @property
    def marks(self) -> tuple[bytes, bytes]:
        """None."""
        return b"", b""

    def cut(self, buffer: bytearray, in_step: bool) -> Cut | None:  # noqa: ARG002
        """See ``Framing.cut``."""
        if len(buffer) < self.length:
            return None
        return Cut(self.length, bytes(buffer[: self.length]))

    def seek(self, buffer: bytearray, begin: int) -> int:
        """See ``Framing.seek``: any byte can be the first; the profile knows more."""
        return min(begin, len(buffer))

    def wrap(self, payload: bytes) -> bytes:
        """See ``Framing.wrap``."""
        return payload


READ_HOLDING_REGISTERS = 0x03
EXCEPTION = bytes([READ_HOLDING_REGISTERS | 0x80])
EXCEPTIONS = {
    1: "illegal function",
    2: "illegal data address",
    3: "illegal data value",
    4: "server device failure",
    6: "server device busy",
}
"""Source: Modbus Application Protocol V1.1b3, 7 (from memory)."""


class ModbusFraming(Form):
    """Modbus RTU: a request to read holding registers, and its response.

    The payload is the registers' bytes alone; address, function, byte count and CRC are checked
    here, because they are the protocol's and not the gauge's. An exception response is five bytes
    long and is refused with its meaning.

    Source: Modbus Application Protocol V1.1b3, 6.3; Modbus over Serial Line V1.02, 2.5.1.
    """

    kind: Literal["modbus"]
    address: Annotated[int, Field(ge=1, le=247)]
    first_register: Annotated[int, Field(ge=0, le=0xFFFF)]
    registers: Annotated[int, Field(ge=1, le=125)]

    slides: ClassVar[bool] = True

    @property
    def marks(self) -> tuple[bytes, bytes]:
        """None."""
        return b"", b""

    @property
    def request(self) -> bytes:
        """The frame that asks for the registers."""
        body = bytes([self.address, READ_HOLDING_REGISTERS])
        body += self.first_register.to_bytes(2, "big") + self.registers.to_bytes(2, "big")
        return body + MODBUS_CRC(body).to_bytes(2, "little")

    @cached_property
    def _due(self) -> bytes:
        """How a good response begins."""
        return bytes([self.address, READ_HOLDING_REGISTERS, 2 * self.registers])

    @cached_property
    def _beginning(self) -> re.Pattern[bytes]:
        """How a response begins, cut off by the buffer's end or not."""
        address, function, count = (re.escape(self._due[at : at + 1]) for at in range(3))
        answer = rb"%b(?:%b|\Z)" % (function, count)
        return re.compile(rb"%b(?:%b|%b|\Z)" % (address, answer, re.escape(EXCEPTION)), re.DOTALL)

    def cut(self, buffer: bytearray, in_step: bool) -> Cut | None:  # noqa: ARG002
        """See ``Framing.cut``."""
        if not buffer:
            return None
        if buffer[0] != self.address:
            return Cut(1, None, f"not from address {self.address}")
        failed = buffer[1:2] == EXCEPTION
        if not failed and not self._due.startswith(buffer[:3]):
            return Cut(1, None, f"not the answer to a read of {self.registers} registers")
        length = 5 if failed else 5 + 2 * self.registers
        if len(buffer) < length:
            return None
        body = bytes(buffer[: length - 2])
        if MODBUS_CRC(body).to_bytes(2, "little") != buffer[length - 2 : length]:
            return Cut(1, None, "the CRC does not fit the bytes")
        if failed:
            meaning = EXCEPTIONS.get(body[2], "unknown")
            problem = f"the gauge answers exception {body[2]}: {meaning}"
            return Cut(length, None, problem, whole=True)
        return Cut(length, body[3:])

    def seek(self, buffer: bytearray, begin: int) -> int:
        """See ``Framing.seek``."""
        found = self._beginning.search(buffer, begin)
        return found.start() if found else max(begin, len(buffer))

    def wrap(self, payload: bytes) -> bytes:
        """See ``Framing.wrap``."""
        body = bytes([self.address, READ_HOLDING_REGISTERS, len(payload)]) + payload
        return body + MODBUS_CRC(body).to_bytes(2, "little")


AnyFraming = Annotated[
    LineFraming | MarkFraming | FixedFraming | ModbusFraming, Field(discriminator="kind")
]
