"""The checksum part of a profile: how it is made, what it covers, how it is written."""

from collections.abc import Callable
from functools import cached_property
from typing import Annotated, Literal

from pydantic import Field, model_validator

from drivers.checksum import SIMPLE, Crc
from drivers.errors import FrameError
from drivers.form import Form, WireBytes


class CrcParameters(Form):
    """A CRC by its six catalogue parameters."""

    width: Annotated[int, Field(ge=8, le=64)]
    poly: Annotated[int, Field(ge=1)]
    init: Annotated[int, Field(ge=0)]
    refin: bool
    refout: bool
    xorout: Annotated[int, Field(ge=0)]

    @model_validator(mode="after")
    def _fits_width(self) -> "CrcParameters":
        for name in ("poly", "init", "xorout"):
            if getattr(self, name) >> self.width:
                raise ValueError(
                    f"{name}: 0x{getattr(self, name):X} has more than {self.width} bits, the "
                    "CRC's width; leave the polynomial's highest power out"
                )
        return self


class Check(Form):
    """A checksum at the end of a frame's payload.

    ``covers`` names what it is made over, in order; the marks are the framing's. ``skip`` leaves
    out that many bytes at the payload's beginning. ``lead`` is what stands before the checksum.
    """

    kind: Literal["xor", "sum", "lrc", "crc"]
    crc: CrcParameters | None = None
    written: Literal["hex", "small hex", "high byte first", "low byte first"] = "hex"
    covers: Annotated[tuple[Literal["start", "payload", "end"], ...], Field(min_length=1)] = (
        "payload",
    )
    skip: Annotated[int, Field(ge=0, le=16)] = 0
    lead: WireBytes = b""

    @model_validator(mode="after")
    def _crc_has_parameters(self) -> "Check":
        if self.kind == "crc" and self.crc is None:
            raise ValueError(
                "crc: is missing; add crc = { width = 16, poly = 0x1021, init = 0xFFFF, "
                "refin = false, refout = false, xorout = 0 } with the gauge's own values"
            )
        if self.kind != "crc" and self.crc is not None:
            raise ValueError(f'crc: goes with kind = "crc", not with "{self.kind}"; take one out')
        if "payload" not in self.covers:
            raise ValueError('covers: must name "payload", or the number is not protected')
        return self

    @cached_property
    def _make(self) -> Callable[[bytes], int]:
        return SIMPLE[self.kind] if self.crc is None else Crc(**dict(self.crc))

    @property
    def is_text(self) -> bool:
        """Whether the checksum is written in hex digits, not as bytes of any value."""
        return self.written in ("hex", "small hex")

    @property
    def bits(self) -> int:
        """Bits in the checksum."""
        return 8 if self.crc is None else self.crc.width

    @cached_property
    def size(self) -> int:
        """Bytes that the checksum takes at the end of the payload, its lead included."""
        return len(self.lead) + (self.bits + 7) // 8 * (2 if self.is_text else 1)

    def append(self, body: bytes, start: bytes, end: bytes) -> bytes:
        """``body`` with its checksum behind it.

        Args:
            body: the payload without the checksum.
            start: the framing's start mark, empty if it has none.
            end: the framing's end mark, empty if it has none.
        """
        parts = {"start": start, "payload": body[self.skip :], "end": end}
        number = self._make(b"".join([parts[name] for name in self.covers]))
        octets = (self.bits + 7) // 8
        match self.written:
            case "hex":
                return body + self.lead + b"%0*X" % (2 * octets, number)
            case "small hex":
                return body + self.lead + b"%0*x" % (2 * octets, number)
            case "high byte first":
                return body + self.lead + number.to_bytes(octets, "big")
            case "low byte first":
                return body + self.lead + number.to_bytes(octets, "little")

    def strip(self, payload: bytes, start: bytes, end: bytes) -> bytes:
        """The payload without its checksum.

        Raises:
            FrameError: the checksum is not the one that the bytes should have.
        """
        body = payload[: -self.size]
        if not body or self.append(body, start, end) != payload:
            raise FrameError(f"the checksum ({self.kind}) does not fit the bytes")
        return body
