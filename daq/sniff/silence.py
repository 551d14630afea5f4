"""Three silences, each with what to do: no bytes, bytes but no frame, frames but no number."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from daq.sniff.hearing import Heard
from daq.sniff.scoring import Score

TEXT_SHARE = 0.9
"""Of bytes that are text and line ends, where a gauge sends text and the speed is right."""


NO_BYTES = (
    "is the gauge on, and its data output switched on in its menu?",
    "does it send by itself? Press its data key while this listens; one that answers only when "
    "asked is tried with: restpoint read PROFILE@PORT",
    "is it the right port, and the cable one for data? restpoint find, restpoint doctor",
    "on plain serial cables: are transmit and receive crossed as the gauge's manual has it?",
)
"""What to look at when nothing comes."""


@dataclass(frozen=True, slots=True)
class Silence:
    """Why there is no number, and what to do."""

    kind: Literal["no bytes", "no frame", "no number"]
    says: str
    steps: tuple[str, ...]


def silence_of(heards: Sequence[Heard], scores: Sequence[Score]) -> Silence | None:
    """Which silence it is; None if a profile fits and gives numbers.

    Args:
        heards: what was heard at each setting.
        scores: as `ranked` gives them.
    """
    best = next((each for each in scores if each.fits), None)
    if best is not None and best.readings:
        return None
    if best is not None:
        return Silence(
            "no number",
            f"frames of {best.profile.name} come, and none of them has a number",
            (
                "look at the gauge's display: an error, a message, or nothing?",
                "free the plunger, press the gauge's clear or wake key, change its battery",
            ),
        )
    if not any(each.data for each in heards):
        return Silence("no bytes", "not one byte came at any speed", NO_BYTES)
    return Silence("no frame", _no_frame_words(heards), _no_frame(heards))


def text_share(data: bytes) -> float:
    """The part of the bytes that are ASCII text, line ends and marks of a text frame."""
    if not data:
        return 0.0
    return sum(32 <= byte < 127 or byte in b"\r\n\t\x02\x03" for byte in data) / len(data)


def best_heard(heards: Sequence[Heard]) -> Heard | None:
    """What is most likely to have been heard at the right speed; None if nothing came.

    At a wrong speed text turns into bytes that are none.
    """
    there = [each for each in heards if each.data]
    return max(there, key=lambda each: (text_share(each.data), len(each.data)), default=None)


def _no_frame_words(heards: Sequence[Heard]) -> str:
    best = best_heard(heards)
    assert best is not None
    came = f"{len(best.data)} bytes in {best.lasted_s:.0f} s at {best.settings.baud} baud"
    return f"bytes come ({came}), and no known profile makes a frame of them"


def _no_frame(heards: Sequence[Heard]) -> tuple[str, ...]:
    best = best_heard(heards)
    assert best is not None
    if text_share(best.data) >= TEXT_SHARE:
        return (
            f"at {best.settings.baud} baud it is text: begin a profile of it with --draft FILE",
            "compare its numbers with the display, both signs, both units",
        )
    return (
        "look up the speed, the data bits and the parity in the gauge's manual, and listen with "
        "them: --baud, --bits, --parity",
        "if they are right, the gauge sends no text: see docs/adding-a-gauge.md for what it may be",
    )
