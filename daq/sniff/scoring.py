"""Holds what was heard against a profile: how much of it are good frames, and what they say."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from daq.sniff.hearing import Heard, line_of
from drivers.decoder import Decoder
from drivers.profile import GaugeProfile
from drivers.reading import BadFrame, Reading

LEAST_FRAMES = 3
"""Fewer may be chance."""

GOOD_SHARE = 0.8


@dataclass(frozen=True, slots=True)
class Score:
    """How a profile fits what was heard at its settings.

    ``share`` is the part of the bytes that are in good frames; of a stream that was joined in the
    middle, the first bytes are in none. Frames without a number (an error
    display) are good ones.
    """

    profile: GaugeProfile
    heard: Heard
    readings: int
    without_number: int
    bad: int
    share: float
    last: Reading | None

    @property
    def fits(self) -> bool:
        """Whether this is the gauge's layout, as far as listening can tell."""
        return self.readings + self.without_number >= LEAST_FRAMES and self.share >= GOOD_SHARE


def score(profile: GaugeProfile, heard: Heard) -> Score:
    """Decode what was heard as this profile would have it."""
    decoder = Decoder(profile)
    readings = without = bad = good_bytes = 0
    last: Reading | None = None
    for t_s, data in (*heard.pieces, (heard.lasted_s, b"")):
        for event in decoder.receive(data, t_s):
            if isinstance(event, BadFrame):
                bad += 1
                continue
            good_bytes += len(event.raw)
            if isinstance(event, Reading):
                readings, last = readings + 1, event
            else:
                without += 1
    whole = len(heard.data) - decoder.waiting  # a frame that goes on after the listening
    return Score(profile, heard, readings, without, bad, good_bytes / whole if whole else 0.0, last)


def ranked(heards: Iterable[Heard], profiles: Sequence[GaugeProfile]) -> list[Score]:
    """The scores of all profiles that made a frame of anything, the best first.

    Of equals, one with a checksum comes first: its frames are the hardest to make by chance.
    """
    scores = [
        score(profile, heard)
        for heard in heards
        for profile in profiles
        if line_of(profile.serial) == line_of(heard.settings)
    ]
    found = [each for each in scores if each.readings or each.without_number]
    return sorted(
        found,
        key=lambda each: (-round(each.share, 2), each.profile.check is None, -each.readings),
    )
