"""How many single faults on the line a profile cannot see, counted one by one.

A layout without a checksum reads some damaged frames as other numbers: a flipped bit can turn one
digit into another, and nothing in the frame tells. How often, is a fact about the layout that its
user should know. It is counted here over the profile's own sample frames, each fault in the middle
of good frames.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from drivers.decoder import Decoder
from drivers.profile import GaugeProfile, Sample
from drivers.reading import Reading

Fault = Literal["lost", "doubled", "flipped"]

NAMES: dict[Fault, str] = {
    "lost": "single lost bytes",
    "doubled": "single doubled bytes",
    "flipped": "single flipped bits",
}


@dataclass(frozen=True, slots=True)
class FaultCount:
    """What came of every single fault of one kind.

    ``refused`` gave no reading, ``same_value`` the right number, unit and status all the same (a
    damaged sequence number or label), ``wrong_value`` a wrong one. They add up to ``tried``.
    """

    fault: Fault
    tried: int
    refused: int
    same_value: int
    wrong_value: int

    def __str__(self) -> str:
        return f"of {self.tried} {NAMES[self.fault]} {self.wrong_value} read as another number"


def undetected_faults(profile: GaugeProfile) -> tuple[FaultCount, ...]:
    """Every single lost byte, doubled byte and flipped bit in the samples of ``profile``, tried.

    Bits that the line does not carry (the eighth of seven) are not flipped. A line that checks
    parity sees most flipped bits before they come here; this counts as if it did not.

    Returns:
        One count for each kind of fault: lost, doubled, flipped.
    """
    counts = []
    for fault in NAMES:
        found = {"refused": 0, "same": 0, "wrong": 0}
        for sample in profile.samples:
            for damaged in damaged_frames(sample.wire, fault, profile.serial.data_bits):
                found[_what_comes_of(profile, sample, damaged)] += 1
        counts.append(
            FaultCount(fault, sum(found.values()), found["refused"], found["same"], found["wrong"])
        )
    return tuple(counts)


def damaged_frames(wire: bytes, fault: Fault, data_bits: int = 8) -> Iterator[bytes]:
    """``wire`` with each single fault of one kind that it can have.

    Args:
        wire: a whole frame.
        fault: the kind.
        data_bits: bits of each byte that the line carries.
    """
    for at, byte in enumerate(wire):
        match fault:
            case "lost":
                yield wire[:at] + wire[at + 1 :]
            case "doubled":
                yield wire[: at + 1] + wire[at:]
            case "flipped":
                for bit in range(data_bits):
                    yield wire[:at] + bytes([byte ^ 1 << bit]) + wire[at + 1 :]


def _what_comes_of(profile: GaugeProfile, sample: Sample, damaged: bytes) -> str:
    """Send ``damaged`` in the middle of good frames and see what is read from it."""
    good = next(each.wire for each in profile.samples if each.number is not None)
    pause_s = 0.0 if profile.sends.when == "by itself" else 1 + profile.sends.gap_s
    decoder, t_s = Decoder(profile), pause_s
    readings: list[Reading] = []
    for place, wire in enumerate((good, good, damaged, good, good)):
        events = decoder.receive(wire, t_s)
        t_s += pause_s
        if place >= 2:
            readings += [event for event in events if isinstance(event, Reading)]
    for _ in range(2):
        if readings and readings[-1].raw == good:
            readings.pop()
    if not readings:
        return "refused"
    right = (sample.number, sample.unit, sample.status)
    same = all((each.value, each.unit, each.status) == right for each in readings)
    return "same" if same else "wrong"
