"""How to listen to a port, and what was heard: bytes with their times, at one setting of it."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from drivers.profile import GaugeProfile, SerialSettings

USUAL_BAUDS = (9600, 4800, 19200, 38400, 57600, 115200, 2400, 1200)
"""Speeds that gauges with a serial output are set to; common practice."""

Line = tuple[int, int, str, int]
"""Speed, data bits, parity, stop bits."""


@dataclass(frozen=True, slots=True)
class Heard:
    """What came at one setting: pieces of bytes as they were read, each with its time in seconds.

    ``lasted_s`` is how long it was listened.
    """

    settings: SerialSettings
    pieces: tuple[tuple[float, bytes], ...]
    lasted_s: float

    @property
    def data(self) -> bytes:
        """All bytes in one."""
        return b"".join(data for _, data in self.pieces)


def line_of(settings: SerialSettings) -> Line:
    """What of the settings decides whether bytes are read right."""
    return settings.baud, settings.data_bits, settings.parity, settings.stop_bits


def settings_to_try(profiles: Iterable[GaugeProfile]) -> tuple[SerialSettings, ...]:
    """The settings of the profiles, those of most first, then the usual speeds; each once."""
    counts: dict[Line, int] = {}
    first: dict[Line, SerialSettings] = {}
    for profile in profiles:
        line = line_of(profile.serial)
        counts[line] = counts.get(line, 0) + 1
        first.setdefault(line, profile.serial)
    known = sorted(first, key=lambda line: -counts[line])
    usual = [SerialSettings(baud=baud) for baud in USUAL_BAUDS]
    return (
        *(first[line] for line in known),
        *(each for each in usual if line_of(each) not in first),
    )


def dump_lines(heard: Heard, width: int = 16) -> Iterator[str]:
    """The bytes as hex and as text, with the time of each piece; for people to read."""
    for t_s, data in heard.pieces:
        for place in range(0, len(data), width):
            part = data[place : place + width]
            time = f"{t_s:9.3f} s" if place == 0 else " " * 11
            text = "".join(chr(byte) if 32 <= byte < 127 else "·" for byte in part)
            yield f"{time}  {part.hex(' '):<{3 * width - 1}}  {text}"
